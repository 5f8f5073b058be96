"""Where the Moon stands during a programme, found from how far she is from its targets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import acos, asin, atan2, cos, degrees, radians, sin
from typing import TypeAlias

from ..domain import Visit

TURN_DEG_PER_S = 360.0 * 1.00273781191135 / 86400.0
"""How fast sidereal time runs (IERS Conventions 2010, eq. 5.15). [deg/s]"""

DRIFT_DEG_PER_S = 360.0 / (27.32166 * 86400.0)
"""How fast the Moon goes eastwards among the stars, on average: once round in a sidereal month. [deg/s]"""

ALIKE_DEG = 2.5
"""Places found from two visits are the same within this: parallax, her uneven way (our judgement). [deg]"""

_LEAST_ALTITUDE_DEG = 0.5


@dataclass(frozen=True, slots=True)
class _Place:
    """A place she may be in at a moment, and among the stars as they stood at the first moment. [deg]"""

    moment: datetime
    altitude_deg: float
    azimuth_deg: float
    dec_deg: float
    ra_deg: float


MoonSpot: TypeAlias = tuple[float, float, Visit]
"""Altitude and azimuth, and the visit half-way through which she stands there. [deg]"""


def moon_spot(visits: Sequence[Visit], latitude_deg: float) -> MoonSpot | None:
    """Return the Moon's altitude and azimuth and the visit during which she stands there, the most central.

    Parameters
    ----------
    visits : With her altitude and her distance from the target, half-way through each.
    latitude_deg : Of the site.

    Returns
    -------
    None where she is down, or where her place cannot be told from so few visits.

    Notes
    -----
    Her altitude and her distance from a target leave two azimuths, one on each side of it. Among the stars
    she hardly moves in an evening, so the sides are told by which places of several visits are the same.
    """
    up = [visit for visit in visits if visit.sight.moon_altitude_deg > _LEAST_ALTITUDE_DEG]
    if not up:
        return None
    start = up[0].time.middle
    pairs = [_places(visit, latitude_deg, start) for visit in up]
    central = min(range(len(up)), key=lambda place: abs(2 * place - len(up) + 1))
    ranked = sorted(pairs[central], key=lambda place: _misfit(place, pairs))
    best, other = ranked[0], ranked[-1]
    if _misfit(best, pairs) > ALIKE_DEG or (
        _apart_deg(best, other) > 2 * ALIKE_DEG and _misfit(other, pairs) < 2 * ALIKE_DEG
    ):
        return None
    return best.altitude_deg, best.azimuth_deg, up[central]


def _places(visit: Visit, latitude_deg: float, start: datetime) -> tuple[_Place, _Place]:
    """Return the two places that fit one visit: left and right of its target."""
    sight, moment = visit.sight, visit.time.middle
    high, moon_high = radians(sight.altitude_deg), radians(sight.moon_altitude_deg)
    slant = cos(radians(sight.moon_separation_deg)) - sin(high) * sin(moon_high)
    aside_deg = degrees(acos(max(-1.0, min(1.0, slant / max(1e-9, cos(high) * cos(moon_high))))))
    elapsed_s = (moment - start).total_seconds()
    left, right = (
        _place(moment, sight.moon_altitude_deg, (sight.azimuth_deg + turn) % 360, latitude_deg, elapsed_s)
        for turn in (-aside_deg, aside_deg)
    )
    return left, right


def _place(
    moment: datetime, altitude_deg: float, azimuth_deg: float, latitude_deg: float, elapsed_s: float
) -> _Place:
    """Return a place in the sky with its declination and its right ascension, counted from any zero."""
    high, turn, north = radians(altitude_deg), radians(azimuth_deg), radians(latitude_deg)
    dec = asin(sin(north) * sin(high) + cos(north) * cos(high) * cos(turn))
    west, south = -cos(high) * sin(turn), sin(high) * cos(north) - cos(high) * cos(turn) * sin(north)
    ra_deg = (TURN_DEG_PER_S - DRIFT_DEG_PER_S) * elapsed_s - degrees(atan2(west, south))
    return _Place(moment, altitude_deg, azimuth_deg, degrees(dec), ra_deg)


def _misfit(place: _Place, pairs: Sequence[tuple[_Place, _Place]]) -> float:
    """Return how far a place is, at the most, from the nearer one of each visit. [deg]"""
    return max(min(_apart_deg(place, one) for one in pair) for pair in pairs)


def _apart_deg(one: _Place, other: _Place) -> float:
    """Return the distance of two places among the stars. [deg]"""
    a, b = radians(one.dec_deg), radians(other.dec_deg)
    along = sin(a) * sin(b) + cos(a) * cos(b) * cos(radians(one.ra_deg - other.ra_deg))
    return degrees(acos(max(-1.0, min(1.0, along))))
