"""What to tell guests, and when. All of it is common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from .clock import clock_of
from .domain import MOON, PACKING_MIN, FreeNight, Plan, Span, Standby, Visit

GREETING_MIN = 10.0
"""So long before the first look guests are told how to look. [min]"""
SHOWN_MIN = 30.0
"""Up for less while guests are there, the Moon is not promised them. [min]"""


def with_guests(
    plan: Plan, free: FreeNight, visits: Sequence[Visit], standbys: Sequence[Standby], outing: Span
) -> Iterator[tuple[datetime, str]]:
    """Yield what to tell guests when, with the words to say; nothing on a night without."""
    if not free.guests:
        return
    greeting, start = _greeting(plan, visits, outing)
    first = "Show what the programme has, in its order" if visits else "Start with the brightest"
    yield (
        greeting,
        f"{_people(free.guests)}: say how to look and focus, and that nobody touches the tube. {first}; "
        "keep a queue, and talk while it moves.",
    )
    last = outing.end - timedelta(minutes=PACKING_MIN)
    yield from _the_moon(plan, free, [*visits, *standbys], Span(start, last))
    finish = plan.guests.finish
    until = f"{finish:%H:%M}" if finish else "the last target"
    yield last, f"Guests go home: their evening ends by {until}. Count heads and lamps."


def _greeting(plan: Plan, visits: Sequence[Visit], outing: Span) -> tuple[datetime, datetime]:
    """Return when guests are told how to look, never before one is there, and when they begin to."""
    if not visits:
        ready = outing.start + timedelta(minutes=plan.routine.setup_min)
        return ready, ready
    start = visits[0].time.start
    return max(outing.start, start - timedelta(minutes=GREETING_MIN)), start


def _the_moon(
    plan: Plan, free: FreeNight, looks: Sequence[Visit | Standby], evening: Span
) -> Iterator[tuple[datetime, str]]:
    """Yield when the Moon can be shown, where nothing on her is looked at anyway."""
    on_the_moon = {target.name for target in plan.targets if target.body == MOON}
    if any(look.target in on_the_moon for look in looks):
        return
    for up in free.night.moon_up:
        shown = up.meet(evening)
        if shown and shown.minutes >= SHOWN_MIN:
            until = clock_of(shown.end, plan.site.local)
            yield (
                shown.start,
                f"The Moon is up until {until}: show her too, but not just before something faint, for she "
                "dazzles.",
            )


def _people(guests: int) -> str:
    return "One guest" if guests == 1 else f"{guests} guests"
