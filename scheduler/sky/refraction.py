"""How much the air lifts what is seen.

An apparent altitude is what an observer sees; a true altitude is that of a place without an atmosphere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..domain import Site
from .ephemeris import Floats


def refraction_bennett_deg(apparent_altitude_deg: ArrayLike) -> Floats:
    """Return the refraction at an apparent altitude, for 1010 hPa and 10 C, 0..0.6. [deg]

    Notes
    -----
    Good to 0.015' from the horizon to the zenith, with the correction Bennett gives to his own formula.

    References
    ----------
    G. G. Bennett, Journal of Navigation 35 (1982) 255; Meeus, Astronomical Algorithms, 2nd ed., ch. 16.

    Examples
    --------
    >>> round(float(refraction_bennett_deg(10.0)) * 60, 2)
    5.33
    """
    plain_arcmin = bennett_arcmin(apparent_altitude_deg)
    return np.asarray((plain_arcmin - 0.06 * np.sin(np.radians(14.7 * plain_arcmin + 13.0))) / 60.0)


def bennett_arcmin(apparent_altitude_deg: ArrayLike) -> Floats:
    """Return Bennett's first formula for the refraction at an apparent altitude, good to 0.07'. [arcmin]

    >>> round(float(bennett_arcmin(0.5)), 3)
    28.754
    """
    altitude_deg = np.asarray(apparent_altitude_deg, np.float64)
    return np.asarray(1.0 / np.tan(np.radians(altitude_deg + 7.31 / (altitude_deg + 4.4))))


def saemundsson_arcmin(true_altitude_deg: ArrayLike) -> Floats:
    """Return the refraction at a true altitude, for 1010 hPa and 10 C; agrees with Bennett to 0.1'. [arcmin]

    References
    ----------
    Th. Saemundsson, Sky & Telescope 72 (1986) 70; Meeus, Astronomical Algorithms, 2nd ed., ch. 16.

    Examples
    --------
    >>> round(float(saemundsson_arcmin(33.246 / 60)), 2)
    24.62
    """
    altitude_deg = np.asarray(true_altitude_deg, np.float64)
    return np.asarray(1.02 / np.tan(np.radians(altitude_deg + 10.3 / (altitude_deg + 5.11))))


def standard_pressure_hpa(elevation_m: float) -> float:
    """Return the air pressure of the standard atmosphere at a height, at most about 1065. [hPa]

    References
    ----------
    U.S. Standard Atmosphere (1976), the layer up to 11 km.

    Examples
    --------
    >>> round(standard_pressure_hpa(2000.0))
    795
    """
    return float(1013.25 * (1.0 - 2.25577e-5 * elevation_m) ** 5.25588)


def true_altitude_deg(
    site: Site, apparent_altitude_deg: ArrayLike, pressure_hpa: float | None = None
) -> Floats:
    """Return the altitude without an atmosphere of what is seen at an altitude of 0 or more. [deg]

    `pressure_hpa` None takes the standard atmosphere at the site's elevation; 0 is no atmosphere. The
    temperature is taken as 10 C: 20 degrees more or less change the refraction by 7 percent.
    """
    apparent = np.asarray(apparent_altitude_deg, np.float64)
    return np.asarray(apparent - _air(site, pressure_hpa) * refraction_bennett_deg(apparent))


def apparent_altitude_deg(site: Site, altitude_deg: ArrayLike, pressure_hpa: float | None = None) -> Floats:
    """Return the altitude at which something is seen through the air: undoes `true_altitude_deg`. [deg]

    Below the visible horizon nothing is seen; there the lift fades to none at -5 degrees, so that the
    result still rises with the altitude.

    Examples
    --------
    >>> from scheduler.domain import Site
    >>> site = Site("Shore", 50.0, 0.0, 0.0, "UTC", 21.5, 0.2)
    >>> round(float(apparent_altitude_deg(site, true_altitude_deg(site, 12.0))), 6)
    12.0
    """
    altitude = np.asarray(altitude_deg, np.float64)
    air = _air(site, pressure_hpa)
    seen = np.maximum(altitude, -0.6 * air)
    lift = air * saemundsson_arcmin(seen) / 60.0
    for _ in range(4):
        lift = air * refraction_bennett_deg(np.maximum(seen + lift, -0.1))
    return np.asarray(altitude + lift * np.clip((altitude + 5.0) / (5.0 - 0.6 * air), 0.0, 1.0))


def _air(site: Site, pressure_hpa: float | None) -> float:
    return (standard_pressure_hpa(site.elevation_m) if pressure_hpa is None else pressure_hpa) / 1010.0
