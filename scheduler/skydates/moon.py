"""The Moon's dates: when she is new, and when she goes through the Earth's shadow."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import numpy as np

from ..diary import Mark
from ..domain import Span
from ..figures import percent
from ..pointing import where_in_words
from ..sky import apparent_altitude_deg, moon_at
from ..sky.eclipses import LunarEclipse, eclipse_phases_of
from ..sky.ephemeris import moment_of
from ..sky.events import Event, EventKind, moon_phases_of
from ..visibility.occasions import seen_of
from .above import Above
from .date import SkyDate, SkySort, part_of_night, whole_day

LEAST_MIN = 10.0
"""An eclipse that shows for less is not told of (our judgement). [min]"""
SAFE_WORDS = "An eclipse of the Moon is safe to look at, with the naked eye and through anything."


def new_moons_over(here: Above) -> Iterator[SkyDate]:
    """Yield the days of the site's calendar on which the Moon is new, and the dark nights around them."""
    for phase in moon_phases_of(*here.days):
        if phase.kind is EventKind.NEW_MOON:
            lines = (f"New Moon at {here.clock(phase.instant)}.", _dark_nights(here, phase))
            yield whole_day(SkySort.NEW_MOON, here.day_of(phase.instant), here.site, "New Moon", lines)


def _dark_nights(here: Above, phase: Event) -> str:
    """Return on which nights in a row around it the Moon leaves the whole dark window alone."""
    night = here.night_at(phase.instant.timestamp())
    if here.diary[night].mark is Mark.NO_DARKNESS:
        return "The nights do not get dark at this time of the year."
    first = last = night
    while first > 0 and here.diary[first - 1].mark is Mark.MOONLESS:
        first -= 1
    while last < len(here.diary) - 1 and here.diary[last + 1].mark is Mark.MOONLESS:
        last += 1
    if first == last:
        return f"Moonless dark: the night of {_day(here.diary[night].evening)}."
    evenings = f"{_day(here.diary[first].evening)} to {_day(here.diary[last].evening)}"
    return f"Moonless all through the dark hours: the nights of {evenings}."


def lunar_eclipses_over(here: Above) -> Iterator[SkyDate]:
    """Yield the Moon's eclipses while they show: she is up, the Sun is down, and there is a shading to see.

    What stands in the way at the site is not asked: one can walk round it for once.
    """
    for eclipse in eclipse_phases_of(*here.days):
        start_s, end_s, share = seen_of(eclipse)
        shown = _up_within(here, start_s, end_s) if share > 0.0 else None
        if shown is not None and shown.minutes >= LEAST_MIN:
            night = here.night_at(shown.start.timestamp())
            lines = (*_phases(here, eclipse), *_here(here, eclipse, shown), SAFE_WORDS)
            title = eclipse.kind.value.capitalize()
            yield part_of_night(SkySort.LUNAR_ECLIPSE, here.sky.evenings[night], shown, title, lines)


def _up_within(here: Above, start_s: float, end_s: float) -> Span | None:
    """Return from when to when the Moon is up and the Sun is down between two moments."""
    sky = here.sky
    starts = np.maximum(np.maximum(sky.moon_up_unix_s[:, :, 0], sky.sunset_unix_s[:, None]), start_s)
    ends = np.minimum(np.minimum(sky.moon_up_unix_s[:, :, 1], sky.sunrise_unix_s[:, None]), end_s)
    shown = starts < ends  # never where there is none of them
    if not shown.any():
        return None
    return Span(moment_of(float(starts[shown].min())), moment_of(float(ends[shown].max())))


def _phases(here: Above, eclipse: LunarEclipse) -> Iterator[str]:
    greatest = here.clock(eclipse.greatest)
    if eclipse.partial is None:
        part = percent(min(eclipse.penumbral_magnitude, 1.0))
        yield f"Deepest at {greatest}, with {part} of the Moon's width in the half-shadow: a faint shading."
        return
    phases = f"Partial from {_clocks(here, eclipse.partial)}"
    if eclipse.total is not None:
        phases += f", total from {_clocks(here, eclipse.total)}"
    yield f"{phases}, greatest at {greatest} (umbral magnitude {eclipse.umbral_magnitude:.2f})."


def _here(here: Above, eclipse: LunarEclipse, shown: Span) -> Iterator[str]:
    start_s, end_s, _ = seen_of(eclipse)
    if shown.start.timestamp() > start_s + 1.0:
        yield f"Here it shows from {here.clock(shown.start)}, after moonrise and sunset, when it has begun."
    if shown.end.timestamp() < end_s - 1.0:
        yield f"Here it shows until {here.clock(shown.end)}, before moonset and sunrise, and still goes on."
    best = min(max(eclipse.greatest, shown.start), shown.end)
    moon = moon_at(here.sky, np.array([best.timestamp()]))
    altitude_deg = max(float(apparent_altitude_deg(here.site, moon.altitude_deg[0])), 0.0)
    where = where_in_words(altitude_deg, float(moon.azimuth_deg[0]))
    yield f"Best at {here.clock(best)}: {where[0].lower()}{where[1:]}."


def _clocks(here: Above, span: Span) -> str:
    return f"{here.clock(span.start)} to {here.clock(span.end)}"


def _day(day: date) -> str:
    return f"{day.day} {day:%b}"
