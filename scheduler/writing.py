"""From what the solver found to a plan for whoever looks up: nights, visits, standbys, what is left out."""

from __future__ import annotations

from dataclasses import replace

from .assignment.problem import Assignment
from .changes import changes_of
from .domain import Plan
from .domain.opportunity import Floats
from .moves import sites_changed
from .programme import Writer
from .ready import Ready
from .showing import showing_of
from .standing import Standing, limits_given_way, told_in_vain
from .wanted import begun_anew, never_logged


def written(
    ready: Ready, standing: Standing, found: Assignment, advantage: Floats, *, version: int, seed: int
) -> Plan:
    """Return the plan of a season, its odds still to be told.

    Parameters
    ----------
    found : All visits, in the rows of `standing`.
    advantage : How much better each row of the season is taken than left. (rows,)
    """
    scenario, free, home = ready.scenario, ready.free, ready.choices.home
    rows = standing.parent[found.rows]
    writer = Writer(home, free, ready.opportunities, ready.choices.prospects)
    nights = tuple(free[night] for night in writer.kept(rows).tolist())
    seated = Writer(home, free, standing.opportunities)
    start_min = seated.settled(found.rows, found.start_min, scenario.routine.move_min)
    visits, log = writer.visits(rows, start_min), scenario.outcomes.of_plan(scenario.season.start)
    announced = tuple(free[night].evening for night in sorted(standing.nights))
    away = frozenset(night.evening for night in nights if night.trip)
    unplaced = Writer(home, free, ready.every).unplaced(
        scenario.routine, scenario.availability, visits, log, away
    )
    notes = (
        *begun_anew(scenario, free, ready.opportunities), *limits_given_way(scenario, visits, announced),
        *told_in_vain(scenario, free), *never_logged(scenario),
    )  # fmt: skip
    plan = Plan(
        scenario=scenario.name, version=version, seed=seed, site=scenario.site, season=scenario.season,
        availability=scenario.availability, routine=scenario.routine, targets=scenario.targets, nights=nights,
        visits=visits, standbys=writer.standbys(advantage, rows, start_min), unplaced=unplaced,
        objective=found.objective, bound=found.bound, kit=scenario.kit, observers=scenario.observers,
        guests=scenario.guests, diary=home.sky.nights, trips=scenario.trips, club=scenario.club,
        log=log, announced=announced, notes=notes,
    )  # fmt: skip
    return replace(plan, showing=showing_of(plan.season, plan.targets, nights, ready.every_in(plan)))


def with_changes(plan: Plan, previous: Plan | None, ready: Ready) -> Plan:
    """Return the plan with every change from the one before, if there was one, and its reason."""
    if previous is None:
        return plan
    changes = changes_of(previous, plan, ready.shown_in(plan))
    return replace(plan, changes=changes, notes=(*plan.notes, *sites_changed(previous, plan)))
