"""From a wish-list to a year of nights: START READING HERE."""

from __future__ import annotations

from dataclasses import replace

from .ahead import Ahead
from .assignment.solve import assign
from .check import judge
from .domain import Cancel, Plan, Progress, Report, Scenario, ignore_progress, never_cancelled
from .domain.checks import whole, within
from .domain.progress import part_of
from .errors import Cancelled
from .ready import made_ready
from .sky import sky_of
from .standing import standing_of
from .writing import with_changes, written


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

    _go_on(cancel, report, Progress("finding when each target shows", 0.03))
    ready = made_ready(scenario, sky)
    standing = standing_of(previous, ready.scenario, ready.free, ready.opportunities)

    _go_on(cancel, report, Progress("pricing the weather", 0.06))
    season = ready.priced(cancel, standing.nights)
    problem = standing.asked(season.problem, scenario.routine.steadiness)
    search = part_of(report, 0.08, 0.6 if years else 0.97)
    found = assign(problem, seed=seed, seconds=seconds, begin=standing.begin, report=search, cancel=cancel)
    found = standing.completed(found, season.problem)

    report(Progress("writing the nights", 0.61 if years else 0.98, found.objective, found.bound))
    plan = written(ready, standing, found, season.advantage, version=version, seed=seed)
    plan = with_changes(plan, previous, ready)
    if years:
        ahead = Ahead(plan, ready)
        told = part_of(report, 0.62, 0.99)
        lived = ahead.lived(years=years, seed=seed, workers=workers, report=told, cancel=cancel)
        plan = replace(plan, odds=ahead.odds([lived], seed=seed))

    judge(plan, ready.shown_in(plan), previous, ready.every_in(plan))
    report(Progress("done", 1.0, plan.objective, plan.bound))
    return plan


def _go_on(cancel: Cancel, report: Report, progress: Progress) -> None:
    """Report `progress`, or raise `Cancelled` where asked to stop."""
    if cancel.is_set():
        raise Cancelled(f"stopped before {progress.stage}")
    report(progress)
