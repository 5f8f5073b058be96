"""A plan looked at again in its season: whether it is of it, and in which rows and nights its visits lie."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import numpy as np

from .assignment.problem import Problem
from .domain import Opportunities, Plan
from .domain.checks import holds
from .domain.opportunity import Ints
from .ready import Ready


def rows_of(plan: Plan, made: Ready, problem: Problem) -> tuple[Ints, Ints]:
    """Return the dearest usable row each visit of a plan lies in, and the visits' starts, both (visits,).

    A visit that lies in none, for the season is another than its own, is left out.
    """
    o, usable = problem.opportunities, problem.usable
    position = {target.name: place for place, target in enumerate(made.scenario.targets)}
    rows, starts = [], []
    for visit in plan.visits:
        target = position[visit.target]
        start, end = (minute_of(o, moment) for moment in (visit.time.start, visit.time.end))
        holds_it = (o.target[usable] == target) & (o.start_min[usable] <= start) & (o.end_min[usable] >= end)
        fits = usable[holds_it & (o.night[usable] == night_of(plan, made, visit.evening))]
        if len(fits):
            rows.append(int(fits[problem.value[fits].argmax()]))
            starts.append(start)
    return np.array(rows, np.int64), np.array(starts, np.int64)


def minute_of(opportunities: Opportunities, moment: datetime) -> int:
    """Return the whole minutes from the season's epoch to a moment. [min]"""
    return round((moment - opportunities.epoch) / timedelta(minutes=1))


def of_scenario(plan: Plan, made: Ready) -> None:
    """Raise `InvalidValue` where a plan is not one of this season as it stands."""
    asked, of = made.scenario, (plan.site, plan.season, plan.availability, plan.routine, plan.targets)
    same = of == (asked.site, asked.season, asked.availability, asked.routine, asked.targets)
    same = same and (plan.kit, plan.observers, plan.guests) == (asked.kit, asked.observers, asked.guests)
    same = (
        same and (plan.trips, plan.club) == (asked.trips, asked.club) and set(plan.nights) <= set(made.free)
    )
    same = same and {night.evening for night in plan.nights} == {night.evening for night in made.free}
    same = same and plan.log == asked.outcomes.of_plan(asked.season.start)
    expected = "a plan of this scenario as it stands now; plan it again, or name its own scenario"
    holds("plan", plan.scenario, same, expected)


def night_of(plan: Plan, made: Ready, evening: date) -> int:
    """Return the place of the night that a plan spends an evening on, wherever that is; -1 if not free."""
    night = next(one for one in plan.nights if one.evening == evening)
    return made.position.get((evening, night.away), -1)


def announced_in(plan: Plan, made: Ready) -> frozenset[int]:
    """Return the nights, by position, whose programme was announced."""
    return frozenset(night_of(plan, made, evening) for evening in plan.announced)
