"""Why a visit is on its night: what the plan would lose with it on another."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from ..assignment.reopen import Asked, Place, Reopened, Settled
from ..domain import (
    Alternative,
    Cancel,
    Plan,
    Progress,
    Report,
    Scenario,
    Sight,
    Span,
    Visit,
    WhyThen,
    ignore_progress,
    never_cancelled,
)
from ..domain.opportunity import Ints
from ..errors import InvalidValue
from ..placed import announced_in, night_of, of_scenario, rows_of
from ..programme import Writer
from ..ready import Ready
from ..visibility.sights import sights_of
from .made import season_ready, target_of
from .touched import changes, nights_touched

TRIED = 6
"""Nights that are settled anew: those that look best by the prices."""
TOLD = 3


def why_then(
    plan: Plan, scenario: Scenario, target: str, evening: date | None = None, *,
    report: Report = ignore_progress, cancel: Cancel = never_cancelled,
) -> WhyThen:  # fmt: skip
    """Return why a visit of a target is on its night, and what its best other nights would cost.

    Parameters
    ----------
    plan, scenario : A plan, and the scenario it was made of.
    target : Its name.
    evening : Of the visit asked about; None means its first.

    Notes
    -----
    For a cost, the visit is barred from its night and demanded on the other one; both nights, those on which
    what it displaces could go, and where a limit on nights out binds the poorest night of its group are set
    free and settled anew exactly, the others held. The cost is what the plan is then worth less than as it
    stands, and what moves is told from where it stands; the cost is nothing where settling anew betters a
    plan that could be bettered anyway. Which nights are tried is decided by the prices of the nights' time.

    Raises
    ------
    InvalidValue
        The plan is not of this scenario, or it has no such visit.
    UnknownName
        The wish-list has no such target.
    Cancelled
        `cancel` was set.
    """
    place = target_of(plan, target)
    name = plan.targets[place].name
    own = [visit for visit in plan.visits if visit.target == name]
    evenings = ", ".join(str(visit.evening) for visit in own) or "none"
    visit = next((one for one in own if evening in (None, one.evening)), None)
    if visit is None:
        raise InvalidValue("evening", str(evening), f"an evening on which {name} is visited: {evenings}")
    if visit.evening in plan.announced:
        raise InvalidValue(
            "evening", str(visit.evening), "an evening not announced: what was announced stands"
        )
    report(Progress("following the sky through the season", 0.0))
    made = season_ready(scenario)
    of_scenario(plan, made)
    problem = made.priced(cancel, announced_in(plan, made)).problem
    report(Progress("pricing the nights", 0.4))
    rows, starts = rows_of(plan, made, problem)
    with Reopened(problem, rows, starts, plan.seed, cancel, announced_in(plan, made)) as reopened:
        return _answer(reopened, made, plan, visit, place, report)


def _answer(plan: Reopened, made: Ready, of: Plan, visit: Visit, target: int, report: Report) -> WhyThen:
    night = night_of(of, made, visit.evening)
    w = plan.windows
    own = plan.made.columns[(w.target[plan.made.columns] == target) & (w.night[plan.made.columns] == night)]
    best = _best_of_nights(plan, target)
    others = _others(plan, target, night, best)
    found = []
    for turn, other in enumerate(others[:TRIED]):
        report(Progress(f"trying {made.free[other].evening}", 0.5 + 0.5 * turn / TRIED))
        by_prices = float(plan.gain[own].sum()) - float(best[other])
        found.append(_alternative(plan, made, Place(target, night), other, by_prices))
    kept = sorted((one for one in found if one), key=lambda one: (one.cost, one.evening))[:TOLD]
    return WhyThen(
        visit.target, visit.evening, visit.time, visit.sight, made.free[night].clear_odds, visit.why,
        float(w.value[own].sum()), tuple(kept), len(others) - len(kept),
    )  # fmt: skip


def _best_of_nights(plan: Reopened, target: int) -> list[float]:
    """Return what the target brings on each night at the prices, minus infinity where it does not show."""
    best = np.full(len(plan.problem.night_day), -np.inf)
    mine = plan.windows.target == target
    np.maximum.at(best, plan.windows.night[mine], plan.gain[mine])
    return [float(gain) for gain in best]


def _others(plan: Reopened, target: int, night: int, best: Sequence[float]) -> list[int]:
    """Return the other nights on which the visit could be, as far from its fellows as asked, best first."""
    w, day = plan.windows, plan.problem.night_day
    fellows = w.night[plan.made.columns[w.target[plan.made.columns] == target]]
    fellows = fellows[fellows != night]
    spacing = max(1, int(plan.problem.spacing_days[target]))
    near = (np.abs(day[:, None] - day[fellows]) < spacing).any(axis=1)
    nights = [
        n
        for n, gain in enumerate(best)
        if np.isfinite(gain) and n != night and not near[n] and plan.may_change(n)
    ]
    return sorted(nights, key=lambda n: (-best[n], n))


def _alternative(plan: Reopened, made: Ready, own: Place, night: int, by_prices: float) -> Alternative | None:
    there = Place(own.target, night)
    nights = nights_touched(plan, there, own.night)
    (after,) = plan.settle([Asked(nights, must=there, barred=own)])
    if after is None:
        return None
    time, sight = seen(made, plan, after, there)
    way = changes(plan, after, own.target, made.scenario.targets, made.free)
    cost = max(0.0, plan.problem.worth_of(plan.rows) - after.worth)
    free = made.free[night]
    return Alternative(
        free.evening, time, sight, free.clear_odds, cost, after.proven, by_prices, way
    )  # fmt: skip


def seen(made: Ready, plan: Reopened, settled: Settled, place: Place) -> tuple[Span, Sight]:
    """Return when a settled plan visits a target on a night, and how it stands half-way through."""
    o = made.opportunities
    here = o.night[settled.rows] == place.night
    rows: Ints = settled.rows[here]
    writer = Writer(made.choices.home, made.free, o, made.choices.prospects)
    starts = writer.settled(rows, settled.start_min[here], plan.problem.move_min)
    start = int(starts[o.target[rows] == place.target][0])
    end = start + int(plan.problem.minutes[place.target])
    prospect = made.choices.prospects[place.night]
    on = prospect.sky.evenings.index(made.free[place.night].evening)
    middle_s = o.epoch.timestamp() + 30.0 * (start + end)
    sight = sights_of(prospect, np.array([place.target]), np.array([on]), np.array([middle_s]))[0]
    return Span(o.moment(start), o.moment(end)), sight
