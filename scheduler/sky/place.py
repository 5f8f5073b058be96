"""Apparent places of targets, night by night."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..domain import Site, Target
from .constellation import constellation_of
from .ephemeris import SPEED_OF_LIGHT_KM_S, Floats, ephemeris, planet, times_of
from .heavens import aberrated
from .horizontal import altitude_azimuth, separation_deg
from .refraction import apparent_altitude_deg, refraction_bennett_deg, true_altitude_deg
from .season import SeasonSky
from .stretches import Ints

__all__ = [
    "Places", "altitude_azimuth", "apparent_altitude_deg", "constellation_of", "places_of",
    "refraction_bennett_deg", "separation_deg", "true_altitude_deg",
]  # fmt: skip

_HALF_DAY_H = 12.0
_SOLAR_PARALLAX_DEG = 8.794143 / 3600.0
_AU_KM = 149597870.7


@dataclass(frozen=True, eq=False)
class Places:
    """Apparent places of targets at each night's midnight, and how those that move go on.

    Attributes
    ----------
    site : Where they are seen from.
    midnight_unix_s : Middle of each night. (nights,) [s]
    ra_of_date_deg, dec_of_date_deg : At midnight, seen from the Earth's centre, true equator and equinox of
        date, aberration included. (targets, nights) [deg, 0..360 and -90..90]
    moving : Positions of the targets that move among the stars. int (moving,)
    ra_rate_deg_h, dec_rate_deg_h : Their motion at midnight. (moving, nights) [deg/h]
    ra_bend_deg_h2, dec_bend_deg_h2 : Half their acceleration. (moving, nights) [deg/h^2]
    parallax_deg : Their horizontal parallax. (moving, nights) [deg]
    """

    site: Site
    midnight_unix_s: Floats
    ra_of_date_deg: Floats
    dec_of_date_deg: Floats
    moving: Ints
    ra_rate_deg_h: Floats
    dec_rate_deg_h: Floats
    ra_bend_deg_h2: Floats
    dec_bend_deg_h2: Floats
    parallax_deg: Floats

    def __len__(self) -> int:
        return len(self.ra_of_date_deg)

    def at(self, target: ArrayLike, night: ArrayLike, unix_s: ArrayLike) -> tuple[Floats, Floats]:
        """Return right ascension (0..360) and declination of date at moments of the nights. [deg]

        Parameters
        ----------
        target, night : int or int arrays
            Positions in the wish-list and the season; shapes that broadcast with the times.
        unix_s : float or array
            Moments of those nights. [s]

        Notes
        -----
        For a planet a parabola through midnight and twelve hours before and after; Mercury, the worst, keeps
        within 1.5" of it. A fixed target stays where it is at midnight.
        """
        rows, columns, moments = np.broadcast_arrays(
            np.asarray(target), np.asarray(night), np.asarray(unix_s, np.float64)
        )
        ra_deg = np.asarray(self.ra_of_date_deg[rows, columns])
        dec_deg = np.asarray(self.dec_of_date_deg[rows, columns])
        if not len(self.moving):
            return ra_deg, dec_deg
        slot_of = np.full(len(self), -1)
        slot_of[self.moving] = np.arange(len(self.moving))
        slot = np.asarray(slot_of[rows])
        moves = slot >= 0
        if moves.any():
            where = slot[moves], columns[moves]
            hours = (moments[moves] - self.midnight_unix_s[columns[moves]]) / 3600.0
            ra_deg[moves] += hours * (self.ra_rate_deg_h[where] + hours * self.ra_bend_deg_h2[where])
            dec_deg[moves] += hours * (self.dec_rate_deg_h[where] + hours * self.dec_bend_deg_h2[where])
        return np.asarray(ra_deg % 360.0), np.asarray(dec_deg)


def places_of(sky: SeasonSky, targets: Sequence[Target]) -> Places:
    """Return the apparent places of targets on every night of the season.

    Parameters
    ----------
    sky : SeasonSky
        The season.
    targets : sequence of Target
        Fixed ones by their ICRS place, planets by name.

    Raises
    ------
    UnknownName
        A target's `body` is no planet.

    Notes
    -----
    Included: precession, nutation, aberration; for planets light-time. Left out: proper motion (no target
    carries one), annual parallax, and light deflection (0.01" beyond 45 degrees from the Sun).
    """
    moving = [row for row, target in enumerate(targets) if target.body is not None]
    fixed = [row for row, target in enumerate(targets) if target.body is None]
    nights = len(sky)
    ra_deg = np.empty((len(targets), nights))
    dec_deg = np.empty((len(targets), nights))
    icrs_deg = np.array([[targets[row].ra_deg, targets[row].dec_deg] for row in fixed], np.float64)
    ra_deg[fixed], dec_deg[fixed] = fixed_places_deg(sky, *icrs_deg.reshape(-1, 2).T)
    tracks = [_planet_track(sky, str(targets[row].body)) for row in moving]
    stacked = np.array(tracks, np.float64).reshape(len(moving), 7, nights)
    ra_deg[moving], dec_deg[moving] = stacked[:, 0], stacked[:, 1]
    return Places(
        sky.site,
        sky.midnight_unix_s,
        ra_deg,
        dec_deg,
        np.array(moving, np.int64),
        *stacked[:, 2:].swapaxes(0, 1),
    )


def fixed_places_deg(sky: SeasonSky, ra_deg: ArrayLike, dec_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Return right ascension (0..360) and declination of date of ICRS places, (places, nights) each. [deg]

    Aberration in closed form: to the place's direction add the Earth's velocity in units of light's, then
    turn into the frame of date; both are one matrix product for the whole season.
    """
    ra, dec = np.radians(np.asarray(ra_deg, np.float64)), np.radians(np.asarray(dec_deg, np.float64))
    direction = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)], axis=-1)
    turned = np.einsum("ijn,jn->in", sky.rotation, sky.earth_velocity_c)
    nights = sky.rotation.shape[2]
    x, y, z = (direction @ sky.rotation[axis] + turned[axis] for axis in range(3))
    length = np.sqrt(x * x + y * y + z * z)
    east_deg = np.degrees(np.arctan2(y, x))
    east_deg += np.where(east_deg < 0.0, 360.0, 0.0)
    dec_of_date_deg = np.degrees(np.arcsin(np.divide(z, length, out=length)))
    return east_deg.reshape(-1, nights), dec_of_date_deg.reshape(-1, nights)


def _planet_track(sky: SeasonSky, body: str) -> NDArray[np.float64]:
    """Return ra, dec, their rates and bends, and the parallax: (7, nights). [deg, deg/h, deg/h^2, deg]"""
    hours = np.array([-_HALF_DAY_H, 0.0, _HALF_DAY_H])
    moments = sky.midnight_unix_s[:, None] + hours * 3600.0
    earth = ephemeris()["earth"].at(times_of(moments.ravel()))
    velocity_c = np.asarray(earth.velocity.km_per_s) / SPEED_OF_LIGHT_KM_S
    vector_km = aberrated(np.asarray(earth.observe(planet(body)).xyz.km), velocity_c)
    x, y, z = np.einsum("ijn,jnk->ink", sky.rotation, vector_km.reshape(3, *moments.shape))
    distance_km = np.sqrt(x * x + y * y + z * z)
    ra_deg = np.unwrap(np.degrees(np.arctan2(y, x)) % 360.0, period=360.0, axis=1)
    dec_deg = np.degrees(np.arcsin(z / distance_km))
    ra_deg -= 360.0 * np.floor(ra_deg[:, 1:2] / 360.0)
    track = [ra_deg[:, 1], dec_deg[:, 1]]
    track += [(p[:, 2] - p[:, 0]) / (2.0 * _HALF_DAY_H) for p in (ra_deg, dec_deg)]
    track += [(p[:, 2] - 2.0 * p[:, 1] + p[:, 0]) / (2.0 * _HALF_DAY_H**2) for p in (ra_deg, dec_deg)]
    track.append(_SOLAR_PARALLAX_DEG * _AU_KM / distance_km[:, 1])
    return np.stack(track)
