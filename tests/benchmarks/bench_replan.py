"""How steady re-plans are and what that costs: run with ``python -m tests.benchmarks.bench_replan``.

A season is planned, its nights are lived through as planned up to one that is clouded out, and what is left
is planned anew: once free of the plan before, and with several degrees of steadiness. Told are the part of
the *other* published visits (those of later nights) that changed, the worth lost against the best plan found
for what is left, the proven gap, and the CPU time of pricing and planning anew, both hands together.
Instances may be named, as in ``... bench_replan c400``; a number is the effort of a re-plan. [s of work]
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, replace

import numpy as np

from scheduler.assignment import Assignment, Problem, assign, breaches_of, expected_capacity_of
from scheduler.domain.opportunity import Floats, Ints
from scheduler.prices import NowOrLater
from scheduler.weather.ahead import lead_odds

from . import instances
from .instances import Instance

LOST_NIGHTS = 6
EFFORT = {"r110w": 1.0, "c400": 3.0}
STEADINESS = (1e-5, 0.02, 0.05, 0.1)
SPARE = 10.0
"""Effort of the first plan and of the free re-plan it is held against. [s]"""


@dataclass(frozen=True, eq=False)
class Left:
    """What is left of a season after a night: visits wanted, and the first day of each target."""

    visits: Ints
    first_day: Ints
    after: int


def priced(season: Instance, left: Left) -> Problem:
    """Return the problem of what is left; the night lost pulls the odds of those after it."""
    o, day = season.opportunities, season.night_day
    odds = season.odds.copy()
    ahead = np.arange(len(day)) > left.after
    if left.after >= 0:
        lead = day[ahead] - day[left.after]
        odds[ahead] = lead_odds(odds[ahead], season.persistence, lead, 0.0, float(odds[left.after]))
    possible = ahead[o.night] & (day[o.night] >= left.first_day[o.target]) & (left.visits[o.target] > 0)
    merit = np.where(possible, o.merit, 0.0)
    rows = replace(o, merit=merit)
    clear = Problem(rows, season.weights[o.target] * merit, season.minutes, left.visits, season.spacing_days,
                    day, move_min=4)  # fmt: skip
    mu: Floats = expected_capacity_of(clear, np.where(ahead, odds, 0.0)).night_price
    worths = NowOrLater(rows, season.weights, season.minutes + 4, odds, season.persistence, mu, left.visits,
                        season.spacing_days, day).worths  # fmt: skip
    return replace(clear, value=np.where(possible, worths, 0.0))


def left_after(season: Instance, plan: Assignment, night: int) -> Left:
    """Return what is left when all visits before a night were made and that night was lost."""
    o = season.opportunities
    made = plan.rows[o.night[plan.rows] < night]
    visits = season.visits - np.bincount(o.target[made], minlength=o.targets)
    first_day = np.zeros(o.targets, np.int64)
    np.maximum.at(
        first_day, o.target[made], season.night_day[o.night[made]] + season.spacing_days[o.target[made]]
    )
    return Left(visits, first_day, night)


def pairs_of(season: Instance, plan: Assignment) -> set[tuple[int, int]]:
    o = season.opportunities
    return set(zip(o.target[plan.rows].tolist(), o.night[plan.rows].tolist(), strict=True))


def run(name: str, effort: float) -> None:
    """Lose some planned nights of a season, each from the same first plan, and print what came of it."""
    season: Instance = getattr(instances, name)()
    o = season.opportunities
    start = priced(season, Left(season.visits, np.zeros(o.targets, np.int64), -1))
    plan = assign(start, seconds=SPARE)
    planned = np.unique(o.night[plan.rows])
    lost = planned[np.linspace(0, 0.7 * len(planned), LOST_NIGHTS).astype(np.int64)]
    print(
        f"{name}: {len(plan.rows)} visits on {len(planned)} nights, gap {plan.gap:.3%}, effort {effort:g} s"
    )
    told: dict[str, list[tuple[float, ...]]] = {}
    for night in lost.tolist():
        left = left_after(season, plan, night)
        later = {pair for pair in pairs_of(season, plan) if pair[1] > night}
        stay = np.isin(o.night * o.targets + o.target, [n * o.targets + t for t, n in later])
        keep = o.night[plan.rows] > night
        problem = priced(season, left)
        free = assign(problem, seconds=SPARE)
        found = {"free": (free, np.nan)}
        for part in STEADINESS:
            begun = time.process_time()
            asked = replace(priced(season, left), favour=np.where(stay, part, 0.0))
            anew = assign(asked, seconds=effort, begin=(plan.rows[keep], plan.start_min[keep]))
            found[f"steadiness {part:g}"] = anew, time.process_time() - begun
            assert breaches_of(asked, anew) == ()
        best = max(each.objective for each, _ in found.values())
        for kind, (each, cpu_s) in found.items():
            moved = len(later - pairs_of(season, each)) / len(later)
            told.setdefault(kind, []).append((moved, 1 - each.objective / best, each.gap, cpu_s))
    for kind, figures in told.items():
        moved, cost, gap, cpu_s = np.mean(figures, axis=0)
        print(f"  {kind:18s} moved {moved:6.1%}, worth lost {cost:6.2%}, gap {gap:6.2%}, CPU {cpu_s:5.2f} s "
              f"(most moved {max(f[0] for f in figures):.1%}, lost {max(f[1] for f in figures):.2%}, "
              f"CPU {max(f[3] for f in figures):.2f} s)", flush=True)  # fmt: skip


def main() -> None:
    """Run the instances named, or all."""
    words = sys.argv[1:]
    efforts = [float(word) for word in words if word.replace(".", "").isdigit()]
    for name in [word for word in words if word in EFFORT] or list(EFFORT):
        run(name, efforts[0] if efforts else EFFORT[name])


if __name__ == "__main__":
    main()
