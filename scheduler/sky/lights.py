"""Sun and Moon as the observer sees them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..domain import Site
from .ephemeris import Floats
from .heavens import Heavens
from .horizontal import horizontal_deg

_EARTH_RADIUS_KM = 6378.137
_EARTH_FLATTENING = 1.0 / 298.257223563
"""WGS 84."""
MOON_RADIUS_KM = 1737.4
"""IAU Working Group on Cartographic Coordinates (2015)."""


@dataclass(frozen=True, eq=False)
class SunSight:
    """Where the Sun stands, seen from the site; one entry per time.

    Attributes
    ----------
    altitude_deg, azimuth_deg : Of the centre, as without an atmosphere. [deg]
    ra_of_date_deg, dec_of_date_deg : Apparent topocentric place. [deg]
    """

    altitude_deg: Floats
    azimuth_deg: Floats
    ra_of_date_deg: Floats
    dec_of_date_deg: Floats


@dataclass(frozen=True, eq=False)
class MoonSight:
    """Where the Moon stands, seen from the site, and how much of it is lit; one entry per time.

    Attributes
    ----------
    altitude_deg, azimuth_deg : Of the centre, as without an atmosphere. [deg]
    ra_of_date_deg, dec_of_date_deg : Apparent topocentric place. [deg]
    phase_angle_deg : Sun-Moon-Earth; 0 at full Moon. [deg]
    lit_fraction : Lit part of the disc. [0..1]
    semidiameter_deg : Half the apparent diameter. [deg]
    """

    altitude_deg: Floats
    azimuth_deg: Floats
    ra_of_date_deg: Floats
    dec_of_date_deg: Floats
    phase_angle_deg: Floats
    lit_fraction: Floats
    semidiameter_deg: Floats


def sun_seen(site: Site, heavens: Heavens, unix_s: Floats) -> SunSight:
    """Return the Sun at times of any shape."""
    altitude_deg, azimuth_deg, ra_deg, dec_deg, _ = _seen(site, heavens, heavens.sun_km(unix_s), unix_s)
    return SunSight(altitude_deg, azimuth_deg, ra_deg, dec_deg)


def moon_seen(site: Site, heavens: Heavens, unix_s: Floats) -> MoonSight:
    """Return the Moon at times of any shape."""
    moon_km = heavens.moon_km(unix_s)
    altitude_deg, azimuth_deg, ra_deg, dec_deg, distance_km = _seen(site, heavens, moon_km, unix_s)
    phase_angle_deg = phase_angle_of(heavens.sun_km(unix_s), moon_km)
    return MoonSight(
        altitude_deg, azimuth_deg, ra_deg, dec_deg, phase_angle_deg, lit_fraction_of(phase_angle_deg),
        np.asarray(np.degrees(np.arcsin(MOON_RADIUS_KM / distance_km))),
    )  # fmt: skip


def sun_altitude_deg(site: Site, heavens: Heavens, unix_s: Floats) -> Floats:
    """Return the altitude of the Sun's centre, as without an atmosphere. [deg]"""
    return _altitude_and_distance(site, heavens, heavens.sun_km(unix_s), unix_s)[0]


def moon_limb_deg(site: Site, heavens: Heavens, unix_s: Floats) -> Floats:
    """Return how far the Moon's upper limb stands above the ideal horizon, refraction 34' included. [deg]"""
    altitude_deg, distance_km = _altitude_and_distance(site, heavens, heavens.moon_km(unix_s), unix_s)
    return np.asarray(altitude_deg + np.degrees(np.arcsin(MOON_RADIUS_KM / distance_km)) + 34.0 / 60.0)


def phase_angle_of(sun_km: Floats, body_km: Floats) -> Floats:
    """Return the angle Sun-body-Earth from geocentric vectors (3, ...), 0..180. [deg]"""
    to_sun, to_earth = sun_km - body_km, -body_km
    along = (to_sun * to_earth).sum(axis=0)
    lengths = np.sqrt((to_sun**2).sum(axis=0) * (to_earth**2).sum(axis=0))
    return np.asarray(np.degrees(np.arccos(np.clip(along / lengths, -1.0, 1.0))))


def lit_fraction_of(phase_angle_deg: Floats) -> Floats:
    """Return the lit part of a sphere's disc, 0..1.

    References
    ----------
    Meeus, Astronomical Algorithms, 2nd ed., eq. 41.1.
    """
    return np.asarray(0.5 * (1.0 + np.cos(np.radians(phase_angle_deg))))


def _seen(
    site: Site, heavens: Heavens, vector_km: Floats, unix_s: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return altitude, azimuth, ra, dec [deg] and distance [km] from the site."""
    sidereal_deg = heavens.greenwich_sidereal_deg(unix_s) + site.longitude_deg
    x, y, z = _from_site_km(site, vector_km, sidereal_deg)
    distance_km = np.sqrt(x * x + y * y + z * z)
    altitude_deg, azimuth_deg = horizontal_deg(site, x, y, z)
    ra_deg = (sidereal_deg - np.degrees(np.arctan2(y, x))) % 360.0
    dec_deg = np.degrees(np.arctan2(z, np.hypot(x, y)))
    return altitude_deg, azimuth_deg, np.asarray(ra_deg), np.asarray(dec_deg), np.asarray(distance_km)


def _altitude_and_distance(
    site: Site, heavens: Heavens, vector_km: Floats, unix_s: Floats
) -> tuple[Floats, Floats]:
    sidereal_deg = heavens.greenwich_sidereal_deg(unix_s) + site.longitude_deg
    x, y, z = _from_site_km(site, vector_km, sidereal_deg)
    distance_km = np.sqrt(x * x + y * y + z * z)
    latitude = np.radians(site.latitude_deg)
    sine = (np.sin(latitude) * z + np.cos(latitude) * x) / distance_km
    return np.asarray(np.degrees(np.arcsin(sine))), np.asarray(distance_km)


def _from_site_km(site: Site, vector_km: Floats, sidereal_deg: Floats) -> tuple[Floats, Floats, Floats]:
    """Turn a geocentric vector of date to meridian, west and pole, and shift it to the site. [km]"""
    turn = np.radians(sidereal_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    x, y, z = vector_km
    outward_km, polar_km = site_from_centre_km(site)
    return x * cos + y * sin - outward_km, x * sin - y * cos, z - polar_km


def site_from_centre_km(site: Site) -> tuple[float, float]:
    """Return how far the site is from the Earth's axis, and from the plane of the equator. [km]

    References
    ----------
    Meeus, Astronomical Algorithms, 2nd ed., ch. 11, with the figure of WGS 84.
    """
    latitude = np.radians(site.latitude_deg)
    shrink = (1.0 - _EARTH_FLATTENING) ** 2
    normal_km = _EARTH_RADIUS_KM / np.sqrt(np.cos(latitude) ** 2 + shrink * np.sin(latitude) ** 2)
    height_km = site.elevation_m / 1000.0
    return (
        float((normal_km + height_km) * np.cos(latitude)),
        float((normal_km * shrink + height_km) * np.sin(latitude)),
    )
