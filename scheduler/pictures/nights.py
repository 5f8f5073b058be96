"""What a picture tells of a night: its dark hours, its programme, how it went."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from ..domain import Darkness, FreeNight, Outcome, Plan, Span, Visit
from ..figures import hours, percent

NAMED = 3
"""How many targets of a programme a summary names."""


@dataclass(frozen=True, slots=True)
class Evening:
    """A night of the season that is free, or that the log tells of.

    Attributes
    ----------
    evening : Names the night.
    night : As the plan has it, or had it while it was to come; None where it is not free.
    past : Whether the log goes beyond it.
    visits : Its programme, in order.
    announced : Whether the programme was told to others.
    outcome : How it went, where that is known.
    """

    evening: date
    night: FreeNight | None
    past: bool
    visits: tuple[Visit, ...]
    announced: bool
    outcome: Outcome | None

    @property
    def dark(self) -> Span | None:
        """The dark window met with the free time."""
        return self.night.dark if self.night else None

    @property
    def dark_min(self) -> float:
        """Usable dark minutes. [min]"""
        return self.dark.minutes if self.dark else 0.0

    @property
    def moonless_min(self) -> float:
        """Usable dark minutes with the Moon down. [min]"""
        return self.night.moonless_min if self.night else 0.0

    @property
    def planned_min(self) -> float:
        """Minutes of the programme's visits. [min]"""
        return sum(visit.time.minutes for visit in self.visits)

    @property
    def twilit(self) -> bool:
        """Whether twilight lasts all night."""
        return self.night is not None and self.night.night.darkness is not Darkness.NIGHT


def evenings_of(plan: Plan) -> tuple[Evening, ...]:
    """Return the season's nights that are free, were free, or are in the log, by date."""
    outcomes = {outcome.evening: outcome for outcome in plan.log}
    visits: dict[date, list[Visit]] = defaultdict(list)
    for visit in sorted(plan.visits, key=lambda visit: visit.order):
        visits[visit.evening].append(visit)
    last = max(outcomes, default=date.min)
    told = {day: one for day, one in outcomes.items() if one.told}
    nights = {night.evening: night for night in (*_gone(plan, last), *plan.nights)}
    season = {*plan.season.evenings}
    return tuple(
        Evening(
            day, nights.get(day), day <= last, tuple(visits.get(day, ())), day in plan.announced,
            told.get(day),
        )
        for day in sorted({*nights, *(day for day in outcomes if day in season)})
    )  # fmt: skip


def _gone(plan: Plan, last: date) -> Iterator[FreeNight]:
    """Yield the nights up to the log's last that were free at home: a plan made anew keeps them no more.

    The hour that comes twice or never where clocks are changed is not looked for.
    """
    for night in plan.diary:
        rule, twilit = plan.availability.rule_of(night.evening), night.twilit
        if night.evening > last or rule is None or twilit is None:
            continue
        start = twilit.start - timedelta(minutes=plan.routine.setup_min)
        start = _moment(plan, night.evening, rule.start) if rule.start else start
        end = _moment(plan, night.evening, rule.finish) if rule.finish else twilit.end
        if start < end:
            yield FreeNight(night, Span(start, end), 0.0, club=night.evening in plan.club.evenings)


def _moment(plan: Plan, evening: date, clock: time) -> datetime:
    """Return when the clock shows a time between the evening's noon and the next."""
    day = evening + timedelta(days=clock < time(12))
    return datetime.combine(day, clock, tzinfo=plan.site.local).astimezone(UTC)


def summaries_of(plan: Plan) -> dict[date, str]:
    """Return each night of the season that is or was free, or is in the log, in one line, by its evening.

    >>> from tests.small_plan import SECOND, plan
    >>> summaries_of(plan())[SECOND]
    'Friday 15 January 2027, Larkmoor. 6 h dark, moonless. 1 visit, 20 min: M 1. Clear odds 40 %.'
    """
    return {one.evening: told_of(plan, one) for one in evenings_of(plan)}


def told_of(plan: Plan, evening: Evening) -> str:
    """Return a night in one line: date, site, hours dark and moonless, programme, odds or how it went."""
    day, night, outcome = evening.evening, evening.night, evening.outcome
    site = night.trip.site.name if night and night.trip else plan.site.name
    parts = [f"{day:%A} {day.day} {day:%B} {day.year}, {site}"]
    if night:
        parts.append(_dark(evening))
    if evening.visits:
        many = len(evening.visits)
        names = _names([visit.target for visit in evening.visits])
        parts.append(f"{many} visit{'s' * (many > 1)}, {hours(evening.planned_min)}: {names}")
    if night and night.club:
        parts.append("Club night")
    if evening.announced:
        parts.append("Announced")
    if outcome:
        parts.append(_went(outcome))
    elif evening.past:
        parts.append("Past")
    elif night:
        parts.append(f"Clear odds {percent(night.clear_odds)}")
    return ". ".join(parts) + "."


def _dark(evening: Evening) -> str:
    """Return how long it is dark, and what of it the Moon leaves."""
    dark, moonless = round(evening.dark_min), round(evening.moonless_min)
    if not dark:
        return "Not dark while free"
    told = f"{hours(dark)} {'of twilight at its darkest' if evening.twilit else 'dark'}"
    if moonless in (0, dark):
        return f"{told}, {'moonless' if moonless else 'in moonlight'}"
    return f"{told}, {hours(moonless)} moonless"


def _went(outcome: Outcome) -> str:
    """Return how a night went, and what was seen."""
    told = outcome.went.value.capitalize()
    if outcome.usable_min:
        told += f" for {hours(outcome.usable_min)}"
    return f"{told}; seen: {_names(outcome.seen)}" if outcome.seen else told


def _names(names: Sequence[str]) -> str:
    """Return the first names, and how many more there are."""
    told, more = ", ".join(names[:NAMED]), len(names) - NAMED
    return f"{told} and {more} more" if more > 0 else told
