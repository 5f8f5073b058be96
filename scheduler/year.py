"""From a wish-list to a year of nights: START READING HERE."""

from __future__ import annotations

from dataclasses import replace

from .assignment.solve import assign
from .changes import changes_of, sites_changed
from .check import judge
from .domain import Cancel, Plan, Progress, Report, Scenario, ignore_progress, never_cancelled
from .domain.checks import whole, within
from .errors import Cancelled
from .expectation import odds_ahead
from .pricing import priced
from .programme import Writer
from .sky import sky_of
from .standing import limits_given_way, standing_of
from .visibility.choices import choices_of
from .visibility.free import free_nights_of
from .visibility.prospect import prospect_for
from .wanted import begun_anew, still_open
from .weather import evening_odds_of, learned_odds_of


def plan_year(
    scenario: Scenario,
    *,
    previous: Plan | None = None,
    version: int = 1,
    seed: int = 0,
    seconds: float = 10.0,
    years: int = 0,
    workers: int = 1,
    report: Report = ignore_progress,
    cancel: Cancel = never_cancelled,
) -> Plan:
    """Return the year's plan of a scenario, judged sound and proven near the best.

    Parameters
    ----------
    scenario : Whose wish-list, site, evenings and season; its log tells what is past and was seen.
    previous : The plan made before, if any: what of it was announced stands, the rest moves only where that
        gains something, and every change is told; see `replan`.
    version : Counts the plans of one scenario.
    seed : The same scenario, seed and effort give the same plan, byte for byte.
    seconds : Effort of the search, in units of solver work that take about a second. [s]
    years : Weather years lived through for the odds; 0 leaves the plan without odds.
    workers : Processes that share them; the odds do not depend on how many.
    report, cancel : Told how far the work is; asked whether it should stop.

    Raises
    ------
    InvalidValue
        `seed`, `seconds`, `years` or `workers` is out of range.
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    Cancelled
        `cancel` was set.
    PlanRejected
        The judge found a broken rule: a fault in this program.
    """
    whole("seed", seed, 0, 2**31 - 1)
    within("seconds", seconds, 0.0, 86400.0)
    whole("years", years, 0, 100_000)
    whole("workers", workers, 1, 1024)
    _go_on(cancel, report, Progress("following the sky through the season", 0.0))
    sky = sky_of(scenario.site, scenario.season.evenings)
    scenario = replace(scenario, clear_odds=learned_odds_of(scenario.clear_odds, scenario.outcomes))
    clear_odds = evening_odds_of(scenario.clear_odds, sky.evenings, scenario.outcomes, scenario.forecast)
    at_home = free_nights_of(scenario, sky.nights, clear_odds.tolist())

    _go_on(cancel, report, Progress("finding when each target shows", 0.03))
    prospect = prospect_for(sky, scenario)
    choices = choices_of(scenario, prospect, at_home)
    free, every = choices.nights, choices.opportunities()
    opportunities = still_open(scenario, free, every)
    standing = standing_of(previous, scenario, free, opportunities)

    _go_on(cancel, report, Progress("pricing the weather", 0.06))
    season = priced(scenario, free, opportunities, cancel, standing.nights)
    problem = standing.asked(season.problem, scenario.routine.steadiness)
    search = _part_of(report, 0.08, 0.6 if years else 0.97)
    found = assign(problem, seed=seed, seconds=seconds, begin=standing.begin, report=search, cancel=cancel)
    found = standing.completed(found, season.problem)
    rows = standing.parent[found.rows]

    odds = odds_ahead(
        season.problem, rows, scenario, free, announced=standing.nights, years=years, seed=seed,
        workers=workers, report=_part_of(report, 0.6, 0.97), cancel=cancel,
    )  # fmt: skip

    report(Progress("writing the nights", 0.98, found.objective, found.bound))
    writer = Writer(prospect, free, opportunities, choices.prospects)
    kept = writer.kept(rows)
    nights = tuple(free[night] for night in kept.tolist())
    seated = Writer(prospect, free, standing.opportunities)
    start_min = seated.settled(found.rows, found.start_min, scenario.routine.move_min)
    visits, log = writer.visits(rows, start_min), scenario.outcomes.of_plan(scenario.season.start)
    announced = tuple(free[night].evening for night in sorted(standing.nights))
    away = frozenset(night.evening for night in nights if night.trip)
    unplaced = Writer(prospect, free, every).unplaced(
        scenario.routine, scenario.availability, visits, log, away
    )
    plan = Plan(
        scenario=scenario.name, version=version, seed=seed, site=scenario.site, season=scenario.season,
        availability=scenario.availability, routine=scenario.routine, targets=scenario.targets, nights=nights,
        visits=visits,
        standbys=writer.standbys(season.advantage, rows), unplaced=unplaced,
        objective=found.objective, bound=found.bound, kit=scenario.kit,
        observers=scenario.observers, guests=scenario.guests, diary=sky.nights, odds=odds,
        trips=scenario.trips, club=scenario.club, log=log, announced=announced,
        notes=(*begun_anew(scenario, free, opportunities), *limits_given_way(scenario, visits, announced)),
    )  # fmt: skip
    if previous is not None:
        changes = changes_of(previous, plan, opportunities.on(kept))
        plan = replace(plan, changes=changes, notes=(*plan.notes, *sites_changed(previous, plan)))
    judge(plan, opportunities.on(kept), previous)
    report(Progress("done", 1.0, plan.objective, plan.bound))
    return plan


def _go_on(cancel: Cancel, report: Report, progress: Progress) -> None:
    """Report `progress`, or raise `Cancelled` where asked to stop."""
    if cancel.is_set():
        raise Cancelled(f"stopped before {progress.stage}")
    report(progress)


def _part_of(report: Report, first: float, last: float) -> Report:
    """Return a report whose progress from 0 to 1 is `report`'s from `first` to `last`."""

    def pass_on(progress: Progress, /) -> None:
        report(replace(progress, fraction=first + (last - first) * progress.fraction))

    return pass_on
