"""Peaks of meteor showers, each on the night on which most meteors are to be expected from the site."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..catalogue.curated import showers
from ..domain import Kind, Shower, Span, Target
from ..pointing import where_in_words
from ..scenario.columns import lowest_deg_of
from ..sky import Places, places_of
from ..sky.ephemeris import moment_of
from ..sky.showers import when_solar_longitude
from ..visibility.occasions import zenithal_rate
from .above import Above, Stretch, stretch_of
from .date import SkyDate, SkySort, part_of_night

LEAST_RATE = 10.0
"""Showers of a lower zenithal hourly rate are told of only where the wish-list has them (common practice, no
source). [1/h]"""

_STEP_S = 300.0


@dataclass(frozen=True, slots=True)
class _Watch:
    """A shower on one night: when its radiant is up, and how many meteors an hour are to be expected."""

    night: int
    up: Stretch
    most_per_h: float
    meteors: float


def showers_over(here: Above, targets: Sequence[Target]) -> Iterator[SkyDate]:
    """Yield the peaks of the great showers and the wish-list's, where the radiant rises in the dark."""
    first_s, last_s = float(here.sky.noon_unix_s[0]), float(here.sky.next_noon_unix_s[-1])
    for target in _watched(targets):
        shower, places = target.nature, places_of(here.sky, [target])
        assert isinstance(shower, Shower)
        for peak_s in when_solar_longitude(shower.peak_longitude_deg, first_s, last_s).tolist():
            at = here.night_at(peak_s)
            nights = range(max(at - 1, 0), min(at + 2, len(here.sky)))
            watches = [_watch(here, target, shower, places, night) for night in nights]
            found = [one for one in watches if one is not None]
            if found:
                best = max(found, key=lambda one: one.meteors)
                yield _told(here, target, shower, peak_s, best)


def _watched(targets: Sequence[Target]) -> list[Target]:
    """Return the wish-list's showers and the great ones it has not."""
    wished = [target for target in targets if target.kind is Kind.METEOR_SHOWER]
    entries = [piece.entry for piece in showers()]
    known = {target.name for target in wished} | {target.also_known_as for target in wished}
    more = [
        Target(
            entry.name, Kind.METEOR_SHOWER, entry.ra_deg, entry.dec_deg, constellation=entry.constellation,
            nature=entry.nature, lowest_altitude_deg=lowest_deg_of(Kind.METEOR_SHOWER, None),
        )
        for entry in entries
        if isinstance(entry.nature, Shower) and entry.nature.zenithal_rate >= LEAST_RATE
        and entry.name not in known
    ]  # fmt: skip
    return [*wished, *more]


def _watch(here: Above, target: Target, shower: Shower, places: Places, night: int) -> _Watch | None:
    """Return a shower on one night, None where its radiant stays low while it is dark.

    Notes
    -----
    Of the zenithal hourly rate one sees the sine of the radiant's height under a sky with stars down to 6.5
    mag: so the International Meteor Organization defines it (from memory).
    """
    dark = float(here.sky.dark_start_unix_s[night]), float(here.sky.dark_end_unix_s[night])
    up = stretch_of(here, places, night, dark, target.lowest_altitude_deg)
    if up is None:
        return None
    moments = np.linspace(
        up.start_unix_s, up.end_unix_s, int((up.end_unix_s - up.start_unix_s) / _STEP_S) + 2
    )
    altitude_deg, _ = here.seen_at(places, night, moments)
    seen_per_h = zenithal_rate(shower, moments) * np.sin(np.radians(np.maximum(altitude_deg, 0.0)))
    hours = (up.end_unix_s - up.start_unix_s) / 3600.0
    return _Watch(night, up, float(seen_per_h.max()), float(seen_per_h.mean()) * hours)


def _told(here: Above, target: Target, shower: Shower, peak_s: float, watch: _Watch) -> SkyDate:
    up, peak = watch.up, moment_of(peak_s)
    day = here.day_of(peak)
    lines = (
        f"Zenithal hourly rate {shower.zenithal_rate:.0f} at the peak, on {day.day} {day:%b} at"
        f" {here.clock(peak)}; here some {watch.most_per_h:.0f} an hour at best on this night, in a sky with"
        " stars down to 6.5 mag.",
        f"The radiant{f' in {target.constellation}' if target.constellation else ''} stands"
        f" {target.lowest_altitude_deg:.0f}° high or higher in the dark from {here.clock(up.start_unix_s)} to"
        f" {here.clock(up.end_unix_s)}, highest at {here.clock(up.top_unix_s)}:"
        f" {_lower(where_in_words(up.top_deg, up.azimuth_deg))}.",
        here.moon_words(watch.night),
    )  # fmt: skip
    span = Span(moment_of(up.start_unix_s), moment_of(up.end_unix_s))
    title = f"Peak of the {target.name}"
    return part_of_night(SkySort.SHOWER, here.sky.evenings[watch.night], span, title, lines)


def _lower(words: str) -> str:
    return f"{words[:1].lower()}{words[1:]}"
