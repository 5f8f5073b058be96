"""A night's practicalities: what to take, what to do when, what to beware of.

All of it is common practice, no source: how long eyes and mirrors take, when dew comes, what a guest needs.
The plan knows neither humidity nor temperature, so about dew and cold it can only say what long nights
usually bring. Local law and licensed practice go first, always.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from .cautions import cautions_of, dew_words
from .domain import (
    PACKING_MIN,
    Extended,
    FreeNight,
    Kind,
    Pair,
    Plan,
    Span,
    Standby,
    Target,
    Telescope,
    Visit,
)
from .errors import InvalidValue
from .kit_list import LONG_MIN, kit_list_of
from .road import caution_of, drives_of, on_the_road

TIGHT_ARCSEC = 3.0
"""A double star closer than this shows only in a cool, collimated telescope. [arcsec]"""
COOL_MM_PER_MIN = 5.0
"""How fast a mirror loses the warmth of the house, in aperture a minute; a lens cools alike. [mm/min]"""
COOL_MIN = (15.0, 90.0)
COLLIMATION_MIN = 10.0
DAZZLED_MIN = {Kind.MOON_FEATURE: 15.0, Kind.ECLIPSE: 15.0, Kind.PLANET: 5.0}
"""How long eyes need after the Moon or a planet before faint targets show again. [min]"""
DEW_EVERY_MIN = 60.0
PAUSE_MIN = 60.0
"""With nothing to look at for so long one goes in and covers the optics. [min]"""
LAMPS_OFF = "White lamps and screens off; from here on a dim red lamp only."
FAINT_MAG = 6.0
"""What is fainter no eye sees without help, and eyes adapted to the dark gain most on it. [mag]"""
SPREAD_MAG = 13.0
"""A nebula or galaxy fainter than this in the mean is lost on eyes that are dazzled. [mag/arcmin2]"""


STEADY = (Kind.PLANET, Kind.MOON_FEATURE)
"""Kinds whose detail asks for a telescope at the temperature of the air."""


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
    reminders = [
        *_setting_up(plan, free, visits, standbys, outing), *_eyes(plan, visits, outing),
        *_staying_out(plan, visits, outing), *_with_guests(plan, free, visits, outing), *_leaving(outing),
        *(Reminder(at, words) for at, words in (on_the_road(free.trip, outing) if free.trip else ())),
    ]  # fmt: skip
    each = tuple((v.target, v.time.minutes / free.guests) for v in visits) if free.guests else ()
    return Briefing(
        evening, outing, tuple(kit_list_of(plan, free, [*visits, *standbys], outing)),
        tuple(sorted(reminders, key=lambda reminder: reminder.at)), dew_words(plan, free, outing), each,
        tuple(cautions_of(free, [*visits, *standbys], caution_of(free.trip, outing, plan.site))),
        plan.site_of(evening).name, drives_of(free.trip, outing) if free.trip else (),
    )  # fmt: skip


def _outing(plan: Plan, free: FreeNight, visits: Sequence[Visit], standbys: Sequence[Standby]) -> Span:
    """Return from arrival to the last thing packed; without visits, as long as any standby shows.

    One arrives so early that eyes adapt and telescopes cool in time, as far as the evening is free.
    """
    times = [visit.time for visit in visits] or [standby.window for standby in standbys]
    latest = min(time.start for time in times) - timedelta(minutes=plan.routine.setup_min)
    targets = _wanted(plan, visits)
    in_time = [cool_from for _, cool_from in _exacting(plan, visits).values()]
    in_time += [
        visit.time.start - timedelta(minutes=plan.routine.dark_adaptation_min)
        for visit in visits
        if targets[visit.target].kind.faint
    ]
    return Span(
        max(min(free.free.start, latest), min([latest, *in_time])),
        max(time.end for time in times) + timedelta(minutes=PACKING_MIN),
    )


def _exacting(plan: Plan, visits: Sequence[Visit]) -> dict[str, tuple[Visit, datetime]]:
    """Return each telescope's first visit that asks for a cool one, and from when on it is to cool."""
    telescopes, targets = {one.name: one for one in plan.kit.telescopes}, _wanted(plan, visits)
    found: dict[str, tuple[Visit, datetime]] = {}
    for visit in visits:
        name = visit.view.instrument
        if name in telescopes and name not in found and is_tight(targets[visit.target]):
            cooling = timedelta(minutes=cooling_min(telescopes[name]))
            found[name] = visit, visit.time.start - cooling
    return found


def _pauses(visits: Sequence[Visit]) -> list[Span]:
    """Return when there is nothing to look at for long between two visits."""
    gaps = [(one.time.end, two.time.start) for one, two in pairwise(visits)]
    return [Span(*gap) for gap in gaps if gap[1] - gap[0] >= timedelta(minutes=PAUSE_MIN)]


def _wanted(plan: Plan, visits: Sequence[Visit | Standby]) -> dict[str, Target]:
    wanted = {visit.target for visit in visits}
    return {target.name: target for target in plan.targets if target.name in wanted}


def is_tight(target: Target) -> bool:
    """Tell whether a target asks for a cool, collimated telescope: planets, the Moon, close double stars."""
    close = isinstance(target.nature, Pair) and target.nature.separation_arcsec < TIGHT_ARCSEC
    return close or target.kind in STEADY


def cooling_min(telescope: Telescope) -> float:
    """Return how long a telescope should stand outside before it is pushed. [min]

    >>> cooling_min(Telescope("200 mm f/6", 200.0, 1200.0, 50.0))
    40.0
    """
    shortest, longest = COOL_MIN
    return min(max(telescope.aperture_mm / COOL_MM_PER_MIN, shortest), longest)


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


def _setting_up(
    plan: Plan, free: FreeNight, visits: Sequence[Visit], standbys: Sequence[Standby], outing: Span
) -> Iterator[Reminder]:
    telescopes = {one.name: one for one in plan.kit.telescopes}
    exacting = _exacting(plan, visits)
    yield Reminder(outing.start, "Arrive and set up: level ground, tripod firm, finder on the main view.")
    taken = dict.fromkeys(one.view.instrument for one in visits or standbys)
    for name in (one for one in taken if one in telescopes):
        cooling = f"caps off; it needs about {cooling_min(telescopes[name]):.0f} min to cool"
        first, cool_from = exacting.get(name, (None, outing.start))
        if first is None or cool_from >= outing.start:
            yield Reminder(outing.start, f"{name}: out first, {cooling}.")
        elif free.trip:
            yield Reminder(outing.start, f"{name}: out first, {cooling}, and {first.target} comes sooner.")
        else:
            yield Reminder(cool_from, f"{name}: outside by now if you can, {cooling} before {first.target}.")
        if first and telescopes[name].obstruction_mm > 0.0:
            at = max(outing.start, first.time.start - timedelta(minutes=COLLIMATION_MIN))
            yield Reminder(at, f"{name}: check the collimation on a star, before {first.target}.")


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
        dazzled_min = DAZZLED_MIN.get(targets[before.target].kind, 0.0) if before and adapted else 0.0
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


def _staying_out(plan: Plan, visits: Sequence[Visit], outing: Span) -> Iterator[Reminder]:
    pauses = _pauses(visits)
    for pause in pauses:
        until = f"{pause.end.astimezone(plan.site.local):%H:%M}"
        yield Reminder(
            pause.start,
            f"Nothing is planned until {until}: cover the optics and get warm, indoors if you can. "
            f"{_after(pause, visits)}",
        )
    checks = int((outing.minutes - PACKING_MIN - 1.0) // DEW_EVERY_MIN)
    for check in range(1, checks + 1):
        due = outing.start + timedelta(minutes=check * DEW_EVERY_MIN)
        at = next((v.time.end for v in visits if v.time.start <= due < v.time.end), due)
        if not any(pause.start <= at < pause.end for pause in pauses):
            yield Reminder(at, "Dew: look at eyepiece, finder and front lens or small mirror; warm gently.")
    if outing.minutes > LONG_MIN and len(visits) > 1 and not pauses:
        half_way = min(visits[:-1], key=lambda visit: abs(visit.time.end - outing.middle))
        yield Reminder(half_way.time.end, "Break: something warm to drink, a few steps; lamps stay red.")


def _after(pause: Span, visits: Sequence[Visit]) -> str:
    """Say what a pause is waited for, so that everybody can see whether it is worth the wait."""
    first, *others = [visit.target for visit in visits if visit.time.start >= pause.end]
    if not others:
        return f"After it comes {first}, and nothing else."
    return f"After it come {first} and {others[0] if len(others) == 1 else f'{len(others)} more'}."


def _with_guests(plan: Plan, free: FreeNight, visits: Sequence[Visit], outing: Span) -> Iterator[Reminder]:
    if not free.guests:
        return
    ready = outing.start + timedelta(minutes=plan.routine.setup_min)
    yield Reminder(
        visits[0].time.start if visits else ready,
        f"{_people(free.guests)}: say how to look and focus, and that nobody touches the tube. Start with "
        "the brightest; keep a queue, and talk while it moves.",
    )
    finish = plan.guests.finish
    until = f"{finish:%H:%M}" if finish else "the last target"
    yield Reminder(
        _last_look(outing), f"Guests go home: their evening ends by {until}. Count heads and lamps."
    )


def _last_look(outing: Span) -> datetime:
    return outing.end - timedelta(minutes=PACKING_MIN)


def _leaving(outing: Span) -> Iterator[Reminder]:
    yield Reminder(
        _last_look(outing),
        "Pack up: count eyepieces and caps, note what you saw. Let wet optics dry open indoors, never wiped.",
    )


def _people(guests: int) -> str:
    return "One guest" if guests == 1 else f"{guests} guests"
