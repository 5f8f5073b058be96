"""The solar longitude, by which meteor showers keep their dates."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from .ephemeris import DAY_S, SPEED_OF_LIGHT_KM_S, Floats, ephemeris, times_of
from .heavens import aberrated
from .track import Track

_STEP_S = 21600.0
_OBLIQUITY_DEG = 84381.448 / 3600.0
"""Of the ecliptic of J2000 (IAU 1976)."""
_DEG_PER_S = 360.0 / (365.25636 * DAY_S)


def solar_longitude_deg(unix_s: ArrayLike) -> Floats:
    """Return the Sun's ecliptic longitude, equinox J2000, as lists of meteor showers count it, 0..360. [deg]

    Parameters
    ----------
    unix_s : float or array, any shape
        When; NaN gives NaN. [s]

    Notes
    -----
    Apparent: aberration is included (20.5", 8 minutes), nutation is not. So the International Meteor
    Organization counts: the four times its calendar of 2013 gives for the Perseids are met within a minute,
    and would be missed by eight without aberration. Read from a table of six-hour steps, good to 0.01".

    Examples
    --------
    The Perseids' peak of 2013 by the International Meteor Organization: 140.0 on August 12, 18h15m UT.

    >>> round(float(solar_longitude_deg(1376331300.0)), 2)
    140.0
    """
    moments = np.asarray(unix_s, np.float64)
    known = moments[np.isfinite(moments)]
    if not known.size:
        return np.full(moments.shape, np.nan)
    return np.asarray(_longitude(float(known.min()), float(known.max())).at(moments)[0] % 360.0)


def when_solar_longitude(longitude_deg: float, first_unix_s: float, last_unix_s: float) -> Floats:
    """Return every moment in a span at which the Sun has a longitude (J2000, apparent), in order. [s]

    Examples
    --------
    >>> from scheduler.sky.ephemeris import moment_of
    >>> moments = when_solar_longitude(262.2, 1767225600.0, 1798761600.0)  # Geminids, 2026
    >>> [f"{moment_of(s):%Y-%m-%d %Hh%Mm}" for s in moments]
    ['2026-12-14 13h49m']
    """
    track = _longitude(first_unix_s, last_unix_s)
    at_first, at_last = track.at(np.array([first_unix_s, last_unix_s]))[0]
    turns = np.arange(
        np.ceil((at_first - longitude_deg) / 360.0), np.floor((at_last - longitude_deg) / 360.0) + 1
    )
    wanted = longitude_deg + 360.0 * turns
    moments = first_unix_s + (wanted - at_first) / _DEG_PER_S
    for _ in range(8):
        inside = np.clip(moments, first_unix_s, last_unix_s)
        moments = inside + (wanted - track.at(inside)[0]) / _DEG_PER_S
    return np.asarray(moments)


@lru_cache(maxsize=4)
def _longitude(first_unix_s: float, last_unix_s: float) -> Track:
    """Return the longitude over a span, counted on without a break. [deg]"""
    start = first_unix_s - 2.0 * _STEP_S
    moments = start + _STEP_S * np.arange(int((last_unix_s - start) / _STEP_S) + 4)
    times = times_of(moments)
    kernel = ephemeris()
    earth = kernel["earth"].at(times)
    velocity_c = np.asarray(earth.velocity.km_per_s) / SPEED_OF_LIGHT_KM_S
    x, y, z = aberrated(np.asarray(earth.observe(kernel["sun"]).xyz.km), velocity_c)
    tilt = np.radians(_OBLIQUITY_DEG)
    longitude_deg = np.degrees(np.arctan2(y * np.cos(tilt) + z * np.sin(tilt), x))
    return Track(start, _STEP_S, np.unwrap(longitude_deg, period=360.0)[None])
