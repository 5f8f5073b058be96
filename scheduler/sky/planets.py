"""How planets look: disc, brightness, distance from the Sun, Saturn's rings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .ephemeris import Floats, ephemeris, planet, times_of
from .lights import lit_fraction_of
from .season import SeasonSky

EQUATORIAL_RADIUS_KM = {
    "mercury": 2440.53, "venus": 6051.8, "mars": 3396.19, "jupiter": 71492.0, "saturn": 60268.0,
    "uranus": 25559.0, "neptune": 24764.0,
}  # fmt: skip
"""B. A. Archinal et al., Celestial Mechanics and Dynamical Astronomy 130 (2018) 22."""


@dataclass(frozen=True, eq=False)
class PlanetLooks:
    """How planets look at each night's midnight, seen from the Earth's centre; arrays (planets, nights).

    Attributes
    ----------
    bodies : Which planets, in order.
    disc_arcsec : Apparent equatorial diameter. [arcsec]
    magnitude : Visual magnitude; NaN beyond the phase angles it is known for. [mag]
    elongation_deg : Angle from the Sun, positive in the evening sky (east). [deg, -180..180]
    phase_angle_deg : Angle Sun-planet-Earth. [deg]
    lit_fraction : Lit part of the disc. [0..1]
    ring_tilt_deg : Saturn's rings, positive with their north face in view; NaN for the others. [deg]
    """

    bodies: tuple[str, ...]
    disc_arcsec: Floats
    magnitude: Floats
    elongation_deg: Floats
    phase_angle_deg: Floats
    lit_fraction: Floats
    ring_tilt_deg: Floats


def looks_of(sky: SeasonSky, bodies: Sequence[str]) -> PlanetLooks:
    """Return how planets look on every night of a season.

    Raises
    ------
    UnknownName
        One of `bodies` is no planet.
    """
    looks = [looks_at(body, sky.midnight_unix_s) for body in bodies]
    stacked = np.array(looks, np.float64).reshape(len(looks), 6, len(sky))
    return PlanetLooks(tuple(bodies), *stacked.swapaxes(0, 1))


def looks_at(body: str, unix_s: Floats) -> Floats:
    """Return disc [arcsec], magnitude, signed elongation, phase angle, lit fraction and ring tilt [deg].

    Notes
    -----
    Magnitudes leave out which face Mars shows (0.06 mag either way).

    References
    ----------
    A. Mallama, J. L. Hilton, Astronomy and Computing 25 (2018) 10, as carried by skyfield.

    Examples
    --------
    >>> round(float(looks_at("jupiter", np.array([1596153600.0]))[1, 0]), 1)
    -2.7
    """
    from skyfield.magnitudelib import planetary_magnitude

    earth = ephemeris()["earth"].at(times_of(unix_s))
    seen = earth.observe(planet(body))
    vector_km, sun_km = (np.asarray(p.xyz.km) for p in (seen, earth.observe(ephemeris()["sun"])))
    distance_km = np.sqrt((vector_km**2).sum(axis=0))
    disc_arcsec = 2.0 * np.degrees(np.arcsin(EQUATORIAL_RADIUS_KM[body] / distance_km)) * 3600.0
    phase_angle_deg = angle_deg(sun_km - vector_km, -vector_km)
    elongation_deg = angle_deg(vector_km, sun_km) * np.sign(east_of(vector_km, sun_km))
    tilt_deg = ring_tilt_of(vector_km, unix_s) if body == "saturn" else np.full(len(unix_s), np.nan)
    return np.stack([
        disc_arcsec, planetary_magnitude(seen), elongation_deg, phase_angle_deg,
        lit_fraction_of(phase_angle_deg), tilt_deg,
    ])  # fmt: skip


def ring_tilt_of(saturn_km: Floats, unix_s: Floats) -> Floats:
    """Return how far Saturn's rings open towards the Earth, -28..28, positive for their north face. [deg]

    Parameters
    ----------
    saturn_km : array (3, times)
        From the Earth to Saturn, ICRS. [km]
    unix_s : array (times,)
        When; the pole moves by 0.04 degrees in a century.

    References
    ----------
    B. A. Archinal et al., Celestial Mechanics and Dynamical Astronomy 130 (2018) 22: Saturn's pole.
    """
    centuries = (np.asarray(unix_s) - 946728000.0) / (36525.0 * 86400.0)
    ra, dec = np.radians(40.589 - 0.036 * centuries), np.radians(83.537 - 0.004 * centuries)
    pole = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    along = (pole * saturn_km).sum(axis=0) / np.sqrt((saturn_km**2).sum(axis=0))
    return np.asarray(-np.degrees(np.arcsin(along)))


def angle_deg(one: Floats, other: Floats) -> Floats:
    """Return the angle between vectors (3, ...), good at every size, 0..180. [deg]"""
    cross = np.cross(one, other, axis=0)
    return np.asarray(np.degrees(np.arctan2(np.sqrt((cross**2).sum(axis=0)), (one * other).sum(axis=0))))


def east_of(vector_km: Floats, sun_km: Floats) -> Floats:
    """Return a number that is positive where the body stands east of the Sun along the ecliptic."""
    obliquity = np.radians(23.4393)
    pole = np.array([0.0, -np.sin(obliquity), np.cos(obliquity)])
    return np.tensordot(pole, np.cross(sun_km, vector_km, axis=0), axes=1)
