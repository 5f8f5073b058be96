"""Directions in the sky: altitude and azimuth, separation."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..domain import Site
from .ephemeris import Floats


def altitude_azimuth(
    site: Site, ra_of_date_deg: ArrayLike, dec_of_date_deg: ArrayLike, sidereal_deg: ArrayLike
) -> tuple[Floats, Floats]:
    """Return altitude (-90..90) and azimuth (0..360, north through east), as without an atmosphere. [deg]

    Parameters
    ----------
    ra_of_date_deg, dec_of_date_deg, sidereal_deg : float or array, shapes that broadcast
        Apparent place of date, and local apparent sidereal time. [deg]

    Examples
    --------
    >>> from scheduler.domain import Site
    >>> site = Site("Pole", 90.0, 0.0, 0.0, "UTC", 21.5, 0.2)
    >>> altitude_deg, _ = altitude_azimuth(site, 40.0, 23.5, 100.0)
    >>> round(float(altitude_deg), 6)
    23.5
    """
    hour_angle = np.radians(np.asarray(sidereal_deg, np.float64) - np.asarray(ra_of_date_deg, np.float64))
    dec = np.radians(np.asarray(dec_of_date_deg, np.float64))
    cos_dec = np.cos(dec)
    return horizontal_deg(site, cos_dec * np.cos(hour_angle), cos_dec * np.sin(hour_angle), np.sin(dec))


def horizontal_deg(site: Site, x: Floats, y: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Return altitude and azimuth of a unit vector: x to the meridian, y to the west, z to the pole. [deg]"""
    latitude = np.radians(site.latitude_deg)
    up = np.sin(latitude) * z + np.cos(latitude) * x
    north = np.cos(latitude) * z - np.sin(latitude) * x
    altitude = np.degrees(np.arctan2(up, np.hypot(north, y)))
    return np.asarray(altitude), np.asarray(np.degrees(np.arctan2(-y, north)) % 360.0)


def separation_deg(
    ra_deg: ArrayLike, dec_deg: ArrayLike, other_ra_deg: ArrayLike, other_dec_deg: ArrayLike
) -> Floats:
    """Return the angle between two places, 0..180, good at every distance. [deg]

    References
    ----------
    Vincenty's form for the sphere; T. Vincenty, Survey Review 23 (1975) 88.

    Examples
    --------
    >>> round(float(separation_deg(0.0, 89.0, 180.0, 89.0)), 9)
    2.0
    """
    dec, other = np.radians(np.asarray(dec_deg)), np.radians(np.asarray(other_dec_deg))
    turn = np.radians(np.asarray(other_ra_deg) - np.asarray(ra_deg))
    along = np.cos(other) * np.sin(turn)
    across = np.cos(dec) * np.sin(other) - np.sin(dec) * np.cos(other) * np.cos(turn)
    towards = np.sin(dec) * np.sin(other) + np.cos(dec) * np.cos(other) * np.cos(turn)
    return np.asarray(np.degrees(np.arctan2(np.hypot(along, across), towards)))
