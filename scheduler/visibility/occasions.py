"""Targets with moments of their own: minima and maxima, eclipses, showers, events."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

import numpy as np

from ..domain import JUPITER, Kind, LightCurve, Occasion, Shower, Target
from ..domain.opportunity import Floats, Ints
from ..sky import SeasonSky
from ..sky.eclipses import LunarEclipse, eclipse_phases_of
from ..sky.ephemeris import FIRST_DATE, LAST_DATE
from ..sky.galilean import shadow_transits_of
from ..sky.showers import solar_longitude_deg, when_solar_longitude
from ..sky.variables import moments_of

PENUMBRAL_S = 40.0 * 60.0
"""A penumbral eclipse is looked at this long before and after its greatest (our judgement). [s]"""

LEAST_PENUMBRA = 0.6
"""Penumbral magnitude from which a shading can be seen at all (common practice, no source)."""

LEAST_OF_PEAK = 0.25
"""A shower is watched while it has this share of its peak's rate (our judgement)."""

YEAR_S = 365.25636 * 86400.0
"""From one solar longitude to the same again. [s]"""


@dataclass(frozen=True, eq=False)
class Occasions:
    """When what has moments of its own is to be seen.

    Attributes
    ----------
    targets : Positions of the targets that have. int, (timed,)
    slot : Each target's place among them, -1 for those that may be seen at any time. int, (targets,)
    span_unix_s : From when to when on each night, NaN for nights without. (timed, nights, 2) [s]
    peak_unix_s : The moment itself: minimum, greatest eclipse, a shower's peak, middle of an event; NaN on
        nights without. (timed, nights) [s]
    strength : How much there is to see: 0..1 of an eclipse, else 1. (timed, nights)
    """

    targets: Ints
    slot: Ints
    span_unix_s: Floats
    peak_unix_s: Floats
    strength: Floats

    @staticmethod
    def none(targets: int, nights: int) -> Occasions:
        """Return the occasions of targets that have none."""
        nothing = np.zeros(0, dtype=np.int64)
        slot = np.full(targets, -1, dtype=np.int64)
        return Occasions(
            nothing, slot, np.zeros((0, nights, 2)), np.zeros((0, nights)), np.zeros((0, nights))
        )


def occasions_of(sky: SeasonSky, targets: Sequence[Target]) -> Occasions:
    """Return the moments of those targets that have any, night by night."""
    timed = [row for row, target in enumerate(targets) if _finder(target) is not None]
    if not timed:
        return Occasions.none(len(targets), len(sky))
    finds = [_finder(targets[row]) for row in timed]
    columns = [find(sky, targets[row]) for row, find in zip(timed, finds, strict=True) if find is not None]
    span, peak, strength = (np.stack(column) for column in zip(*columns, strict=True))
    slot = np.full(len(targets), -1, dtype=np.int64)
    slot[timed] = np.arange(len(timed))
    return Occasions(np.array(timed, dtype=np.int64), slot, span, peak, strength)


_Columns = tuple[Floats, Floats, Floats]


def _finder(target: Target) -> Callable[[SeasonSky, Target], _Columns] | None:
    keeps_time = isinstance(target.nature, LightCurve) and target.nature.period_d is not None
    if target.kind is Kind.VARIABLE_STAR and not keeps_time:
        return None
    return _FINDERS.get(target.kind)


def _of_light_curve(sky: SeasonSky, target: Target) -> _Columns:
    """Return the minimum or maximum nearest to each midnight; of a slow one, the stretch it is watched in."""
    curve = target.nature
    assert isinstance(curve, LightCurve)
    half_s = 1800.0 * curve.wide_h
    found = moments_of(curve, target.ra_deg or 0.0, target.dec_deg or 0.0, *_season_and(sky, half_s))
    if not len(found):
        return _nothing(sky)
    after = np.clip(np.searchsorted(found, sky.midnight_unix_s), 1, max(1, len(found) - 1))
    before = np.minimum(after - 1, len(found) - 1)
    after = np.minimum(after, len(found) - 1)
    nearer = np.abs(found[before] - sky.midnight_unix_s) <= np.abs(found[after] - sky.midnight_unix_s)
    peak = np.where(nearer, found[before], found[after])
    return _around(sky, peak, peak - half_s, peak + half_s, np.ones(len(sky)))


def _of_eclipse(sky: SeasonSky, target: Target) -> _Columns:
    if target.body == JUPITER:
        return _of_shadow_transit(sky)
    columns = _nothing(sky)
    first, last = min(sky.evenings), max(sky.evenings) + timedelta(days=1)
    for eclipse in eclipse_phases_of(first, last):
        start_s, end_s, share = seen_of(eclipse)
        greatest_s = eclipse.greatest.timestamp()
        on = (sky.noon_unix_s <= greatest_s) & (greatest_s < sky.next_noon_unix_s) & (share > 0.0)
        columns[0][on] = start_s, end_s
        columns[1][on], columns[2][on] = greatest_s, share
    return columns


def _of_shadow_transit(sky: SeasonSky) -> _Columns:
    """Return the crossing of each night that lies longest between dusk and dawn."""
    columns, longest_s = _nothing(sky), np.zeros(len(sky))
    for crossing in shadow_transits_of(min(sky.evenings), max(sky.evenings) + timedelta(days=1)):
        start_s, end_s = crossing.span.start.timestamp(), crossing.span.end.timestamp()
        shared_s = np.minimum(end_s, sky.twilit_end_unix_s) - np.maximum(start_s, sky.twilit_start_unix_s)
        on = np.nan_to_num(shared_s, nan=0.0) > longest_s
        columns[0][on], columns[1][on], columns[2][on] = (start_s, end_s), 0.5 * (start_s + end_s), 1.0
        longest_s[on] = shared_s[on]
    return columns


def seen_of(eclipse: LunarEclipse) -> tuple[float, float, float]:
    """Return from when to when an eclipse shows, and how much of it: 1 for a total one. [s, s, 0..1]"""
    greatest_s = eclipse.greatest.timestamp()
    if eclipse.partial is not None:
        share = float(np.clip(0.5 + 0.5 * eclipse.umbral_magnitude, 0.0, 1.0))
        return eclipse.partial.start.timestamp(), eclipse.partial.end.timestamp(), share
    share = 0.25 if eclipse.penumbral_magnitude >= LEAST_PENUMBRA else 0.0
    return greatest_s - PENUMBRAL_S, greatest_s + PENUMBRAL_S, share


def _of_shower(sky: SeasonSky, target: Target) -> _Columns:
    """Return the nights into which a shower's active stretch reaches, round the peak nearest to each.

    All showers ask about the same half year on either side, so that the Sun is followed once.
    """
    shower = target.nature
    assert isinstance(shower, Shower)
    s_per_decade = YEAR_S / 360.0 * -np.log10(LEAST_OF_PEAK)
    rise_s, fall_s = s_per_decade / shower.rise_per_deg, s_per_decade / shower.fall_per_deg
    peaks = when_solar_longitude(shower.peak_longitude_deg, *_season_and(sky, 0.5 * YEAR_S))
    if not len(peaks):
        return _nothing(sky)
    peak = peaks[np.abs(sky.midnight_unix_s[:, None] - peaks).argmin(axis=1)]
    return _around(sky, peak, peak - rise_s, peak + fall_s, np.ones(len(sky)))


def zenithal_rate(shower: Shower, unix_s: Floats) -> Floats:
    """Return a shower's zenithal hourly rate at moments of any shape: by decades up to its peak and down.

    References
    ----------
    P. Jenniskens, Meteor stream activity I, Astronomy and Astrophysics 287 (1994) 990: the rate falls by a
    power of ten in so many degrees of solar longitude on either side of its peak.
    """
    past_deg = (solar_longitude_deg(unix_s) - shower.peak_longitude_deg + 180.0) % 360.0 - 180.0
    decades = np.where(past_deg < 0.0, shower.rise_per_deg * past_deg, -shower.fall_per_deg * past_deg)
    return np.asarray(shower.zenithal_rate * 10.0**decades)


def _of_event(sky: SeasonSky, target: Target) -> _Columns:
    """Return the nights an event reaches into: two where it goes on past noon."""
    occasion = target.nature
    assert isinstance(occasion, Occasion)
    start = np.full(len(sky), occasion.start.timestamp())
    end = np.full(len(sky), occasion.end.timestamp())
    return _around(sky, 0.5 * (start + end), start, end, np.ones(len(sky)))


def _season_and(sky: SeasonSky, more_s: float) -> tuple[float, float]:
    """Return the season's first and last moment with more on either side, as far as the sky is known. [s]"""
    first_s, last_s = (
        datetime.combine(day, time(12), tzinfo=UTC).timestamp() for day in (FIRST_DATE, LAST_DATE)
    )
    return (
        max(float(sky.noon_unix_s.min()) - more_s, first_s),
        min(float(sky.next_noon_unix_s.max()) + more_s, last_s),
    )


def _nothing(sky: SeasonSky) -> _Columns:
    return np.full((len(sky), 2), np.nan), np.full(len(sky), np.nan), np.zeros(len(sky))


def _around(sky: SeasonSky, peak: Floats, start: Floats, end: Floats, strength: Floats) -> _Columns:
    """Return the columns of moments with a stretch around each, on nights the stretch reaches into."""
    reaches = (start < sky.next_noon_unix_s) & (end > sky.noon_unix_s)
    span = np.where(reaches[:, None], np.stack([start, end], axis=-1), np.nan)
    return span, np.where(reaches, peak, np.nan), strength


_FINDERS: dict[Kind, Callable[[SeasonSky, Target], _Columns]] = {
    Kind.VARIABLE_STAR: _of_light_curve, Kind.ECLIPSE: _of_eclipse, Kind.METEOR_SHOWER: _of_shower,
    Kind.EVENT: _of_event,
}  # fmt: skip
