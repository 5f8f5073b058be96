"""The embedded ephemeris and time scale, wholly offline.

skyfield is imported inside the functions: the door of the library must open without it.
"""

from __future__ import annotations

import atexit
import importlib.util
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import OutsideEphemeris, UnknownName

Floats = NDArray[np.float64]

FIRST_DATE = date(1900, 1, 1)
LAST_DATE = date(2053, 10, 1)
"""DE421 as packed runs from 1899-07-29 to 2053-10-09; a season needs a few days on either side."""

DAY_S = 86400.0
SPEED_OF_LIGHT_KM_S = 299792.458
_JD_OF_1970 = 2440587.5
_TT_MINUS_TAI_S = 32.184

_SEGMENTS = {
    "mercury": "mercury", "venus": "venus", "mars": "mars", "jupiter": "jupiter barycenter",
    "saturn": "saturn barycenter", "uranus": "uranus barycenter", "neptune": "neptune barycenter",
}  # fmt: skip
PLANETS = tuple(_SEGMENTS)
"""The planets that have a place, by the name a target's `body` gives."""


@cache
def ephemeris() -> Any:
    """Return the embedded DE421, opened once and closed when the process ends.

    The folder is found without importing `skyfield_data`: its own path function warns that the polar-motion
    table beside the ephemeris has expired. That table is not used here, so the warning says nothing about
    these results, and this is the one place that keeps it quiet.
    """
    from skyfield.api import load_file

    found = importlib.util.find_spec("skyfield_data")
    if found is None or not found.submodule_search_locations:
        raise ModuleNotFoundError("skyfield-data, which carries the ephemeris, is not installed")
    kernel = load_file(str(Path(next(iter(found.submodule_search_locations))) / "data" / "de421.bsp"))
    atexit.register(kernel.close)
    return kernel


@cache
def timescale() -> Any:
    """Return the time scale built into skyfield: leap seconds and delta-T, no download, no expiry."""
    from skyfield.api import load

    return load.timescale(builtin=True)


def planet(body: str) -> Any:
    """Return the ephemeris entry of a planet, or raise `UnknownName` naming the planets there are."""
    if body not in _SEGMENTS:
        raise UnknownName(body, PLANETS)
    return ephemeris()[_SEGMENTS[body]]


def check_covered(first: date, last: date) -> None:
    """Raise `OutsideEphemeris` unless both dates are covered."""
    for asked in (first, last):
        if not FIRST_DATE <= asked <= LAST_DATE:
            raise OutsideEphemeris(asked, FIRST_DATE, LAST_DATE)


def times_of(unix_s: ArrayLike) -> Any:
    """Return skyfield times for Unix seconds UTC, any one-dimensional array."""
    scale = timescale()
    days, second = np.divmod(np.asarray(unix_s, np.float64), DAY_S)
    whole = days + _JD_OF_1970
    leap = np.searchsorted(scale.leap_dates, whole, side="right") - 1
    tai_minus_utc_s = np.where(leap >= 0, scale.leap_offsets[np.maximum(leap, 0)], 10.0)
    return scale.tt_jd(whole, (second + tai_minus_utc_s + _TT_MINUS_TAI_S) / DAY_S)


def moment_of(unix_s: float) -> datetime:
    """Return the aware UTC time of Unix seconds.

    >>> moment_of(86400.0).isoformat()
    '1970-01-02T00:00:00+00:00'
    """
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=float(unix_s))
