"""A night's practicalities: what to take, what to do when, what to beware of.

All of it is common practice, no source: how long eyes and mirrors take, when dew comes, what a guest needs.
The plan knows neither humidity nor temperature, so about dew and cold it can only say what long nights
usually bring. Local law and licensed practice go first, always.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from .cautions import cautions_of, dew_words
from .clock import clock_of
from .domain import (
    NAKED_EYE,
    PACKING_MIN,
    Extended,
    FreeNight,
    Kind,
    Plan,
    Span,
    Standby,
    Target,
    Visit,
)
from .errors import InvalidValue
from .hosting import with_guests
from .kit_list import LONG_MIN, kit_list_of
from .road import caution_of, drives_of, on_the_road
from .setting_up import exacting, setting_up

MOON_DAZZLES_MIN, PLANET_DAZZLES_MIN = 15.0, 5.0
"""How long eyes need after the Moon or a planet before faint targets show again. [min]"""
DEW_EVERY_MIN = 60.0
PAUSE_MIN = 60.0
"""With nothing to look at for so long one goes in and covers the optics. [min]"""
DEW_LOOK = "look at eyepiece, finder and front lens or small mirror; warm gently."
LAMPS_OFF = "White lamps and screens off; from here on a dim red lamp only."
FAINT_MAG = 6.0
"""What is fainter no eye sees without help, and eyes adapted to the dark gain most on it. [mag]"""
SPREAD_MAG = 13.0
"""A nebula or galaxy fainter than this in the mean is lost on eyes that are dazzled. [mag/arcmin2]"""


@dataclass(frozen=True, slots=True)
class Reminder:
    """Something to do at a moment of the night."""

    at: datetime
    words: str


@dataclass(frozen=True, slots=True)
class Briefing:
    """What a night out needs besides its programme.

    Attributes
    ----------
    evening : The night's name.
    outing : At the site, from arrival to the last thing packed.
    kit : What to take, most important first.
    reminders : What to do when, in order of time.
    dew : What to expect of dew and what helps.
    guest_minutes : With guests, how long each of them has at each target. (name, minutes) pairs
    cautions : What to beware of.
    site : Where.
    drives : Of a trip, the way there and the way home; none at home.
    """

    evening: date
    outing: Span
    kit: tuple[str, ...]
    reminders: tuple[Reminder, ...]
    dew: str
    guest_minutes: tuple[tuple[str, float], ...]
    cautions: tuple[str, ...]
    site: str
    drives: tuple[Span, ...]


def briefing_of(plan: Plan, evening: date) -> Briefing:
    """Return the practicalities of a planned night, or of one that has only standbys.

    Raises
    ------
    InvalidValue
        The plan has neither a visit nor a standby on that evening.
    """
    visits = sorted((v for v in plan.visits if v.evening == evening), key=lambda visit: visit.time)
    standbys = sorted((s for s in plan.standbys if s.evening == evening), key=lambda standby: standby.best)
    if not visits and not standbys:
        raise InvalidValue("evening", evening.isoformat(), "an evening with a programme or standbys")
    free = next(one for one in plan.nights if one.evening == evening)
    outing = _outing(plan, free, visits, standbys)
    eyes = list(_eyes(plan, visits, outing))
    reminders = [
        *_told(setting_up(plan, free, visits, standbys, outing)), *eyes,
        *_pausing(plan, visits, outing, eyes), *_dew_checks(visits, standbys, outing),
        *_told(with_guests(plan, free, visits, standbys, outing)), *_leaving(outing),
        *_told(on_the_road(free.trip, outing) if free.trip else ()),
    ]  # fmt: skip
    each = tuple((v.target, v.time.minutes / free.guests) for v in visits) if free.guests else ()
    return Briefing(
        evening, outing, tuple(kit_list_of(plan, free, [*visits, *standbys], outing)),
        tuple(sorted(reminders, key=lambda reminder: reminder.at)), dew_words(plan, free, outing), each,
        tuple(cautions_of(free, [*visits, *standbys], caution_of(free.trip, outing, plan.site))),
        plan.site_of(evening).name, drives_of(free.trip, outing) if free.trip else (),
    )  # fmt: skip


def _told(lines: Iterable[tuple[datetime, str]]) -> Iterator[Reminder]:
    return (Reminder(at, words) for at, words in lines)


def _outing(plan: Plan, free: FreeNight, visits: Sequence[Visit], standbys: Sequence[Standby]) -> Span:
    """Return from arrival to the last thing packed; without visits, as long as any standby shows.

    One arrives so early that eyes adapt and telescopes cool in time, as far as the evening is free.
    """
    times = [visit.time for visit in visits] or [standby.window for standby in standbys]
    latest = min(time.start for time in times) - timedelta(minutes=plan.routine.setup_min)
    targets = _wanted(plan, visits)
    in_time = [cool_from for _, cool_from in exacting(plan, visits).values()]
    in_time += [
        visit.time.start - timedelta(minutes=plan.routine.dark_adaptation_min)
        for visit in visits
        if targets[visit.target].kind.faint
    ]
    return Span(
        max(min(free.free.start, latest), min([latest, *in_time])),
        max(time.end for time in times) + timedelta(minutes=PACKING_MIN),
    )


def _pauses(visits: Sequence[Visit]) -> list[Span]:
    """Return when there is nothing to look at for long between two visits."""
    gaps = [(one.time.end, two.time.start) for one, two in pairwise(visits)]
    return [Span(*gap) for gap in gaps if gap[1] - gap[0] >= timedelta(minutes=PAUSE_MIN)]


def _wanted(plan: Plan, visits: Sequence[Visit | Standby]) -> dict[str, Target]:
    wanted = {visit.target for visit in visits}
    return {target.name: target for target in plan.targets if target.name in wanted}


def dazzled_min_of(target: Target) -> float:
    """Return how long eyes rest after a target before faint ones show again. [min]"""
    if target.on_a_planet:
        return PLANET_DAZZLES_MIN
    return MOON_DAZZLES_MIN if target.kind in (Kind.MOON_FEATURE, Kind.ECLIPSE) else 0.0


def is_faint(target: Target) -> bool:
    """Tell whether a target shows to eyes adapted to the dark alone: what is faint, or faintly spread.

    >>> is_faint(Target("Pleiades", Kind.DEEP_SKY, 56.75, 24.12, magnitude=1.2))
    False
    """
    if target.kind not in (Kind.DEEP_SKY, Kind.MINOR_BODY):
        return False
    if target.magnitude is None or target.magnitude > FAINT_MAG:
        return True
    wide, nature = target.size_arcmin, target.nature
    if not wide or not isinstance(nature, Extended) or "cluster" in nature.what:
        return False
    area = math.pi / 4.0 * wide * (nature.minor_arcmin or wide)
    return target.magnitude + 2.5 * math.log10(area) > SPREAD_MAG


def _eyes(plan: Plan, visits: Sequence[Visit], outing: Span) -> Iterator[Reminder]:
    targets, adapted = _wanted(plan, visits), False
    adapting = timedelta(minutes=plan.routine.dark_adaptation_min)
    if not visits:
        ready = outing.start + timedelta(minutes=plan.routine.setup_min)
        yield Reminder(ready, LAMPS_OFF)
    pauses = {pause.end for pause in _pauses(visits)}
    for before, visit in zip([None, *visits], visits, strict=False):
        adapted = adapted and visit.time.start not in pauses
        if not targets[visit.target].kind.faint:
            continue
        if not adapted and adapting:
            yield Reminder(max(outing.start, visit.time.start - adapting), LAMPS_OFF)
        dazzled_min = dazzled_min_of(targets[before.target]) if before and adapted else 0.0
        if before and dazzled_min:
            yield Reminder(
                before.time.end,
                f"{before.target} has dazzled you: rest the eyes some {dazzled_min:.0f} min before "
                f"{visit.target}, or use the other eye.",
            )
        adapted = True
    first = next((visit for visit in visits if is_faint(targets[visit.target])), None)
    if first and adapting:
        yield Reminder(first.time.start, f"Eyes are ready for faint targets: {first.target} is the first.")


def _pausing(
    plan: Plan, visits: Sequence[Visit], outing: Span, eyes: Sequence[Reminder]
) -> Iterator[Reminder]:
    pauses = _pauses(visits)
    for pause in pauses:
        until = clock_of(pause.end, plan.site.local)
        yield Reminder(
            pause.start,
            f"Nothing is planned until {until}: cover the optics and get warm, indoors if you can. "
            f"{_after(pause, visits)}",
        )
    if outing.minutes > LONG_MIN and len(visits) > 1 and not pauses:
        half_way = min((visit.time.end for visit in visits[:-1]), key=lambda end: abs(end - outing.middle))
        lamps_off = any(one.words == LAMPS_OFF and one.at <= half_way for one in eyes)
        lamps = "; lamps stay red" if lamps_off else ""
        yield Reminder(half_way, f"Break: something warm to drink, a few steps{lamps}.")


def _dew_checks(visits: Sequence[Visit], standbys: Sequence[Standby], outing: Span) -> Iterator[Reminder]:
    """Yield an hourly look at the optics, if there are any, as long as they stay out.

    How long one stays out on a night in hand nobody knows: there it is said once.
    """
    looks: list[Visit | Standby] = [*visits, *standbys]
    if all(look.view.instrument == NAKED_EYE for look in looks):
        return
    if not visits:
        first = outing.start + timedelta(minutes=DEW_EVERY_MIN)
        yield Reminder(first, f"Dew, every hour from now on: {DEW_LOOK}")
        return
    pauses = _pauses(visits)
    for check in range(1, int(outing.minutes // DEW_EVERY_MIN) + 1):
        due = outing.start + timedelta(minutes=check * DEW_EVERY_MIN)
        at = next((v.time.end for v in visits if v.time.start <= due < v.time.end), due)
        if at < _last_look(outing) and not any(pause.start <= at < pause.end for pause in pauses):
            yield Reminder(at, f"Dew: {DEW_LOOK}")


def _after(pause: Span, visits: Sequence[Visit]) -> str:
    """Say what a pause is waited for, so that everybody can see whether it is worth the wait."""
    first, *others = [visit.target for visit in visits if visit.time.start >= pause.end]
    if not others:
        return f"After it comes {first}, and nothing else."
    return f"After it come {first} and {others[0] if len(others) == 1 else f'{len(others)} more'}."


def _last_look(outing: Span) -> datetime:
    return outing.end - timedelta(minutes=PACKING_MIN)


def _leaving(outing: Span) -> Iterator[Reminder]:
    yield Reminder(
        _last_look(outing),
        "Pack up: count eyepieces and caps, note what you saw. Let wet optics dry open indoors, never wiped.",
    )
