"""What members are told of the nights out: a notice a night, as a calendar shows it.

A notice says what a night is and holds nothing that changes while the night stays the same: no count of
nights still to come, no worth. So after a re-plan only the notices of nights that really changed differ.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from .diary import moon_on, moon_words
from .differences import differences_of
from .domain import NAKED_EYE, Difference, FreeNight, Plan, Span, Standby, Target, Visit
from .evening_words import (
    USEFUL_FIRST,
    changed_clock_words,
    clock,
    dark_words,
    occasion_words,
    sort_of,
    what_of,
)
from .kit_list import ALWAYS
from .practice import Briefing, briefing_of

IN_TITLE = 3
"""How many targets a title names."""
MOST_LINES = 24
"""How many targets a programme names; a night holds seldom more."""
EVERY_NIGHT = f"Every night needs: {'; '.join(ALWAYS)}."
TAKE_CARE = (
    "Take care: never aim near the Sun, no laser near aircraft, mind the ground, rest before you drive; "
    "local law goes first."
)


@dataclass(frozen=True, slots=True)
class Notice:
    """A night out as those who come along are told of it.

    Attributes
    ----------
    evening : The night's name.
    start, end : From meeting at the site to the last thing packed, aware UTC.
    title : What it is, with the targets that count most.
    place : The site's name; its coordinates may be somebody's home, and are not told.
    observers : Who comes along.
    categories : Sorts of night, as calendars group them.
    lines : Everything else, a paragraph a line, times by the site's clock.
    care : What every night needs and what to beware of, for whoever opens the night's page: an event says it
        in short, so that calendars stay small.
    clear_odds : Probability that it is clear. [0..1]
    """

    evening: date
    start: datetime
    end: datetime
    title: str
    place: str
    observers: tuple[str, ...]
    categories: tuple[str, ...]
    lines: tuple[str, ...]
    care: tuple[str, ...]
    clear_odds: float


@dataclass(frozen=True, slots=True)
class Notices:
    """A plan as members are told of it.

    Attributes
    ----------
    nights : By evening.
    open_from : The first evening the plan is about: earlier ones are past, and stay as they were told.
    amends : What became of an earlier plan's evenings, with reasons: lines by evening.
    """

    nights: tuple[Notice, ...]
    open_from: date
    amends: Mapping[str, tuple[str, ...]]


def notices_of(plan: Plan, earlier: Plan | None = None) -> Notices:
    """Return what members are told of a plan's nights, and of what changed since an earlier version of it.

    A night is told of when it has a visit, guests, or the whole club.
    """
    planned = {visit.evening for visit in plan.visits}
    nights = [free for free in plan.nights if free.evening in planned or free.guests or free.club]
    past = max((outcome.evening for outcome in plan.log), default=None)
    open_from = plan.season.start if past is None else past + timedelta(days=1)
    told = tuple(_notice(plan, free) for free in nights if free.evening >= open_from)
    return Notices(told, open_from, _amends(earlier, plan))


def _notice(plan: Plan, free: FreeNight) -> Notice:
    evening = free.evening
    looks: Sequence[Visit | Standby] = [v for v in plan.visits if v.evening == evening]
    looks = sorted(looks or [s for s in plan.standbys if s.evening == evening], key=lambda one: one.order)
    briefing = briefing_of(plan, evening) if looks else None
    outing = briefing.outing if briefing else free.free
    return Notice(
        evening, outing.start, outing.end, _title(plan, free, looks), plan.site_of(evening).name,
        plan.coming_on(free), _categories(free), tuple(_lines(plan, free, looks, outing, briefing)),
        (EVERY_NIGHT, *briefing.cautions) if briefing else (), free.clear_odds,
    )  # fmt: skip


def _title(plan: Plan, free: FreeNight, looks: Sequence[Visit | Standby]) -> str:
    what = sort_of(free)
    targets = {target.name: target for target in plan.targets}
    names = sorted(dict.fromkeys(look.target for look in looks), key=lambda name: -targets[name].priority)
    shown = ", ".join(names[:IN_TITLE])
    more = f" and {len(names) - IN_TITLE} more" if len(names) > IN_TITLE else ""
    return f"{what}: {shown}{more}" if shown else what


def _categories(free: FreeNight) -> tuple[str, ...]:
    found = ["Observing"]
    found += ["Club night"] if free.club else []
    found += ["Guests"] if free.guests else []
    found += ["Trip"] if free.trip else []
    return tuple(found)


def _lines(
    plan: Plan, free: FreeNight, looks: Sequence[Visit | Standby], outing: Span, briefing: Briefing | None
) -> Iterator[str]:
    site = plan.site_of(free.evening)
    moon = moon_on(free.night, plan.diary, site)
    yield (f"Meet at {clock(plan, outing.start)} at {site.name}, packed by {clock(plan, outing.end)} "
           f"({plan.site.zone}).")  # fmt: skip
    if briefing and briefing.drives:
        there, home = briefing.drives
        yield (f"Leave home at {clock(plan, there.start)}, back about {clock(plan, home.end)}: "
               f"{there.minutes:.0f} min by road each way.")  # fmt: skip
    if free.observers or free.club:
        yield f"With {' and '.join(plan.coming_on(free))}."
    if change := changed_clock_words(plan, free):
        yield change
    yield f"{moon_words(moon, free.night.twilit, plan.site)}."
    yield f"{dark_words(free, plan.site)}."
    if looks:
        yield ""
        yield from _programme(plan, looks)
    if briefing:
        yield ""
        kit = [one for one in briefing.kit if one not in ALWAYS]
        yield f"Bring: {'; '.join(kit)}; and what every night needs."
        yield TAKE_CARE


def _programme(plan: Plan, looks: Sequence[Visit | Standby]) -> Iterator[str]:
    targets = {target.name: target for target in plan.targets}
    if isinstance(looks[0], Standby):
        yield f"Nothing is fixed. {USEFUL_FIRST}:"
    for look in looks[:MOST_LINES]:
        yield f"{clock(plan, _when(look))} {_look(look, targets[look.target])}"
    if len(looks) > MOST_LINES:
        yield f"and {len(looks) - MOST_LINES} more"


def _when(look: Visit | Standby) -> datetime:
    return look.time.start if isinstance(look, Visit) else look.best


def _look(look: Visit | Standby, target: Target) -> str:
    """Return a target with where it stands, the power and its own moment, short enough for a telephone."""
    sight, view = look.sight, look.view
    power = "naked eye" if view.instrument == NAKED_EYE else f"{view.magnification:.0f}x"
    where = f"{target.name} ({what_of(target)}): {sight.direction}, {sight.altitude_deg:.0f}° up"
    return "; ".join(filter(None, (where, power, occasion_words(target, look.why))))


def _amends(earlier: Plan | None, later: Plan) -> dict[str, tuple[str, ...]]:
    """Return what became of an earlier version's evenings, in lines, the evenings as in 2027-01-13."""
    if earlier is None or later.version <= earlier.version:
        return {}
    lines: dict[str, list[str]] = defaultdict(list)
    for one in differences_of(earlier, later).visits:
        for evening in dict.fromkeys(day for day in (one.before, one.after) if day):
            lines[evening.isoformat()].append(_amend(one, evening))
    return {evening: tuple(words) for evening, words in sorted(lines.items())}


def _amend(one: Difference, evening: date) -> str:
    if one.sort == "shifted":
        what = f"{one.target} at another time"
    elif one.before == evening:
        what = f"{one.target} moved to {one.after:%d %b}" if one.after else f"{one.target} taken off"
    else:
        what = f"{one.target} moved here from {one.before:%d %b}" if one.before else f"{one.target} added"
    return f"{what}: {one.words}" if one.words else what
