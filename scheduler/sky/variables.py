"""When variable stars reach their minima and maxima, as clocks on the Earth show it.

Elements of variable stars count heliocentric Julian dates: when the light would pass the Sun. The Earth sees
it up to 8.3 minutes earlier or later. Two habits exist for the clock: UTC, as nearly all lists of observers
have it and as is taken here; and terrestrial time, 69 seconds ahead of UTC in the 2020s: no eye can tell.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..domain import LightCurve
from .ephemeris import DAY_S, SPEED_OF_LIGHT_KM_S, Floats, ephemeris, times_of

_JD_OF_1970 = 2440587.5


def heliocentric_s(ra_deg: float, dec_deg: float, unix_s: ArrayLike) -> Floats:
    """Return how much later light from an ICRS place passes the Sun than the Earth, -510..510. [s]

    Parameters
    ----------
    ra_deg, dec_deg : Place. [deg]
    unix_s : float or array, any shape
        When. [s]

    Notes
    -----
    The star is taken as infinitely far; the Sun is the Sun, not the centre of mass of all planets, which
    differs by up to 4 s.

    Examples
    --------
    >>> round(float(heliocentric_s(44.1396, 0.4486, 941155200.0)))  # 1999-10-29, by Starlink's SLALIB: 474.1
    474
    """
    moments = np.asarray(unix_s, np.float64)
    times = times_of(moments.ravel())
    kernel = ephemeris()
    earth_km = np.asarray((kernel["earth"].at(times) - kernel["sun"].at(times)).xyz.km)
    ra, dec = np.radians(ra_deg), np.radians(dec_deg)
    direction = np.array([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    return np.asarray(direction @ earth_km / SPEED_OF_LIGHT_KM_S).reshape(moments.shape)


def hjd_of(ra_deg: float, dec_deg: float, unix_s: ArrayLike) -> Floats:
    """Return heliocentric Julian dates (UTC) of moments at which a star is seen. [d]"""
    moments = np.asarray(unix_s, np.float64)
    return np.asarray(_JD_OF_1970 + (moments + heliocentric_s(ra_deg, dec_deg, moments)) / DAY_S)


def seen_at(ra_deg: float, dec_deg: float, hjd: ArrayLike) -> Floats:
    """Return when what has these heliocentric Julian dates (UTC) is seen from the Earth. [unix s]"""
    passes_sun = (np.asarray(hjd, np.float64) - _JD_OF_1970) * DAY_S
    moments = passes_sun
    for _ in range(3):
        moments = passes_sun - heliocentric_s(ra_deg, dec_deg, moments)
    return np.asarray(moments)


def moments_of(
    curve: LightCurve, ra_deg: float, dec_deg: float, first_unix_s: float, last_unix_s: float
) -> Floats:
    """Return when a variable star's minima (or maxima, as its elements say) are seen within a span. [unix s]

    Empty for a star that keeps no time.
    """
    if curve.epoch_hjd is None or curve.period_d is None:
        return np.empty(0)
    edges = hjd_of(ra_deg, dec_deg, np.array([first_unix_s, last_unix_s]))
    first, last = (edges - curve.epoch_hjd) / curve.period_d
    cycles = np.arange(np.ceil(first - 1e-9), np.floor(last + 1e-9) + 1.0)
    moments = seen_at(ra_deg, dec_deg, curve.epoch_hjd + cycles * curve.period_d)
    return np.asarray(moments[(moments >= first_unix_s) & (moments <= last_unix_s)])
