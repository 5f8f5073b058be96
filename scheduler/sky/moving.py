"""Tracks of what moves among the stars: planets, the Moon, minor bodies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..domain import MOON, Orbit, Target
from .ephemeris import SPEED_OF_LIGHT_KM_S, Floats, ephemeris, planet, times_of
from .heavens import aberrated
from .orbits import AU_KM, orbits_seen_au
from .season import SeasonSky

_HALF_DAY_H = 12.0
_SOLAR_PARALLAX_DEG = 8.794143 / 3600.0


def tracks_of(sky: SeasonSky, targets: Sequence[Target]) -> Floats:
    """Return how moving targets go through every night, (7, targets, nights).

    Right ascension and declination of date at midnight [deg], their rates [deg/h], half their accelerations
    [deg/h^2], and the horizontal parallax [deg]; what several targets share is computed once.

    Raises
    ------
    UnknownName
        A target's `body` is neither a planet nor the Moon.
    """
    movers = {_mover(target): None for target in targets}
    names = [mover for mover in movers if isinstance(mover, str)]
    orbits = [mover for mover in movers if isinstance(mover, Orbit)]
    moments = sky.midnight_unix_s[:, None] + 3600.0 * np.array([-_HALF_DAY_H, 0.0, _HALF_DAY_H])
    seen_km = np.empty((3, len(movers), *moments.shape))
    for row, name in enumerate(names):
        seen_km[:, row] = sky.heavens.moon_km(moments) if name == MOON else _planet_km(sky, name, moments)
    if orbits:
        vectors_km = orbits_seen_au(orbits, moments.ravel())[:, :, 0] * AU_KM
        seen_km[:, len(names) :] = _of_date(sky, vectors_km, moments)
    row_of = {mover: row for row, mover in enumerate([*names, *orbits])}
    return _parabolas(seen_km)[:, [row_of[_mover(target)] for target in targets]]


def _mover(target: Target) -> str | Orbit:
    return target.nature if isinstance(target.nature, Orbit) else str(target.body)


def _planet_km(sky: SeasonSky, body: str, moments: Floats) -> Floats:
    """Return a planet's apparent place of date, (3, nights, moments). [km]"""
    earth = ephemeris()["earth"].at(times_of(moments.ravel()))
    return _of_date(sky, np.asarray(earth.observe(planet(body)).xyz.km)[:, None], moments)[:, 0]


def _of_date(sky: SeasonSky, vectors_km: Floats, moments: Floats) -> Floats:
    """Turn astrometric vectors (3, bodies, all moments) to apparent ones, (3, bodies, nights, moments)."""
    earth = ephemeris()["earth"].at(times_of(moments.ravel()))
    velocity_c = np.asarray(earth.velocity.km_per_s) / SPEED_OF_LIGHT_KM_S
    apparent_km = aberrated(vectors_km, velocity_c[:, None]).reshape(3, -1, *moments.shape)
    return np.asarray(np.einsum("ijn,jbnk->ibnk", sky.rotation, apparent_km))


def _parabolas(seen_km: Floats) -> Floats:
    """Lay a parabola through three moments a night, (7, bodies, nights)."""
    x, y, z = seen_km
    distance_km = np.sqrt(x * x + y * y + z * z)
    ra_deg = np.unwrap(np.degrees(np.arctan2(y, x)) % 360.0, period=360.0, axis=-1)
    dec_deg = np.degrees(np.arcsin(z / distance_km))
    ra_deg -= 360.0 * np.floor(ra_deg[..., 1:2] / 360.0)
    rates = [(p[..., 2] - p[..., 0]) / (2.0 * _HALF_DAY_H) for p in (ra_deg, dec_deg)]
    bends = [(p[..., 2] - 2.0 * p[..., 1] + p[..., 0]) / (2.0 * _HALF_DAY_H**2) for p in (ra_deg, dec_deg)]
    parallax_deg = np.degrees(
        np.arcsin(np.sin(np.radians(_SOLAR_PARALLAX_DEG)) * AU_KM / distance_km[..., 1])
    )
    return np.stack([ra_deg[..., 1], dec_deg[..., 1], *rates, *bends, parallax_deg])
