"""The assignment's optimum and bound against another solver and another model.

Source: HiGHS 1.x, Q. Huangfu & J. A. J. Hall, "Parallelizing the dual revised simplex method", Mathematical
Programming Computation 10 (2018) 119, doi:10.1007/s12532-017-0130-5. The model is time-indexed (a variable
for each row and start), written from the rules' wording and sharing no code with the package: all times lie
on a grid of five minutes, on which some best plan always lies, since pushing visits early keeps them on it.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Any

import highspy
import numpy as np
import pytest

from scheduler.assignment import NightLimit, Problem, assign, bound_of, breaches_of
from scheduler.assignment.bound import relax
from scheduler.assignment.crew import Crew
from scheduler.assignment.sharpen import sharpen
from scheduler.domain import never_cancelled
from tests.benchmarks.instances import make

GRID = 5


def _silent() -> Any:
    """HiGHS as an untyped object, saying nothing."""
    made: Any = highspy
    model = made.Highs()
    model.silent()
    return model


def season(seed: int, *, limited: bool, costly: bool = False) -> Problem:
    made = make(26, 5, seed=seed, hours=1.6)
    problem = replace(made, visits=np.where(np.arange(26) % 5 == 0, 2, 1)).problem()
    limits = (NightLimit((0, 1, 2), 1), NightLimit((2, 3, 4), 2)) if limited else ()
    cost = np.array([4.0, 9.0, 6.0, 2.0, 12.0]) if costly else np.zeros(5)
    return replace(problem, move_min=5, limits=limits, outing_cost=cost)


class TimeIndexed:
    """The season with a variable for each row and start."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.model = problem, _silent()
        self.model.setOptionValue("threads", 1)
        self.model.setOptionValue("mip_rel_gap", 0.0)
        self.out = [self._choice(-float(cost)) for cost in problem.outing_cost]
        self.busy: dict[tuple[int, int], list[Any]] = {}
        self.pairs: dict[tuple[int, int], list[Any]] = {}
        for row in range(len(problem.opportunities)):
            self._add_starts(row)

    def _choice(self, worth: float) -> Any:
        return self.model.addVariable(0, 1, worth, type=highspy.HighsVarType.kInteger)

    def _add_starts(self, row: int) -> None:
        o, problem = self.problem.opportunities, self.problem
        target, night = int(o.target[row]), int(o.night[row])
        minutes = int(problem.minutes[target])
        for start in range(int(o.start_min[row]), int(o.end_min[row]) - minutes + 1, GRID):
            x = self._choice(float(problem.value[row]))
            self.pairs.setdefault((target, night), []).append(x)
            for minute in range(start, start + minutes + problem.move_min, GRID):
                self.busy.setdefault((night, minute), []).append(x)

    def add_rules(self) -> None:
        for some in self.busy.values():
            self.model.addConstr(sum(some) <= 1)
        for (_, night), some in self.pairs.items():
            self.model.addConstr(sum(some) <= self.out[night])
        for limit in self.problem.limits:
            self.model.addConstr(sum(self.out[night] for night in limit.nights) <= limit.most)
        for target in range(self.problem.opportunities.targets):
            self._add_wishes(target)

    def _add_wishes(self, target: int) -> None:
        day, spacing = self.problem.night_day, self.problem.spacing_days[target]
        nights = sorted(night for t, night in self.pairs if t == target)
        if nights:
            made = sum(x for night in nights for x in self.pairs[target, night])
            self.model.addConstr(made <= int(self.problem.visits[target]))
        for a, b in combinations(nights, 2):
            if day[b] - day[a] > self.problem.longest_spacing_days[target]:
                soon = [n for n in nights if 0 < day[n] - day[a] <= self.problem.longest_spacing_days[target]]
                between = [x for night in soon for x in self.pairs[target, night]]
                both = self.pairs[target, a] + self.pairs[target, b]
                self.model.addConstr(sum(both) - sum(between) <= 1)
            if day[b] - day[a] < spacing:
                self.model.addConstr(sum(self.pairs[target, a] + self.pairs[target, b]) <= 1)


def optimum_by_highs(problem: Problem) -> float:
    season = TimeIndexed(problem)
    season.add_rules()
    return solved(season.model)


def solved(model: Any) -> float:
    model.setMaximize()
    model.run()
    assert model.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return float(model.getInfo().objective_function_value)


@pytest.mark.parametrize("costly", [False, True])
@pytest.mark.parametrize("limited", [False, True])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_optimum_is_that_of_highs(seed: int, limited: bool, costly: bool) -> None:
    problem = season(seed, limited=limited, costly=costly)
    theirs, ours = optimum_by_highs(problem), assign(problem, seconds=20.0)
    assert breaches_of(problem, ours) == ()
    assert len(ours.rows) < int(problem.visits.sum())  # time is short, or the comparison would say little
    assert ours.objective == pytest.approx(theirs, rel=2e-4)
    assert ours.bound >= theirs * (1 - 1e-9)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_optimum_is_that_of_highs_where_visits_must_follow_soon(seed: int) -> None:
    made = season(seed, limited=False)
    pale = np.array([1.0, 0.5, 0.2, 0.5, 1.0])[made.opportunities.night]  # the best nights lie far apart
    often = replace(made, value=made.value * pale, night_day=np.arange(5) * 5, visits=np.full(26, 2),
                    spacing_days=np.full(26, 4))  # fmt: skip
    problem = replace(often, longest_spacing_days=np.where(np.arange(26) % 2, 9, 14))
    theirs, ours = optimum_by_highs(problem), assign(problem, seconds=20.0)
    assert breaches_of(problem, ours) == ()
    assert ours.objective == pytest.approx(theirs, rel=2e-4)
    assert ours.bound >= theirs * (1 - 1e-9)
    assert theirs < optimum_by_highs(often) * (1 - 1e-3)  # the rule binds, or the comparison would say little


def static_relaxation(problem: Problem) -> float:
    """The linear programme with every interval cut of every night written down at once, by HiGHS."""
    o, model = problem.opportunities, _silent()
    x = [model.addVariable(0, 1, float(value)) for value in problem.value]
    length = problem.minutes[o.target] + problem.move_min
    end = o.end_min + problem.move_min
    for night in range(o.nights):
        mine = np.flatnonzero(o.night == night)
        for a in np.unique(o.start_min[mine]):
            for b in np.unique(end[mine]):
                if b <= a:
                    continue
                pushed = [
                    min(o.start_min[r] + length[r] - a, b - end[r] + length[r], length[r], b - a)
                    for r in mine
                ]
                model.addConstr(
                    sum(max(0, int(w)) * x[r] for w, r in zip(pushed, mine, strict=True)) <= int(b - a)
                )
                inside = [r for r in mine if o.start_min[r] >= a and end[r] <= b]
                sums = {0}
                for r in inside:
                    sums |= {s + int(length[r]) for s in sums if s + length[r] <= b - a}
                if inside:
                    model.addConstr(sum(int(length[r]) * x[r] for r in inside) <= max(sums))
    for target in range(o.targets):
        mine = np.flatnonzero(o.target == target)
        if len(mine):
            model.addConstr(sum(x[r] for r in mine) <= int(problem.visits[target]))
        days = np.unique(problem.night_day[o.night[mine]])
        for first in days:
            near = [
                r for r in mine if 0 <= problem.night_day[o.night[r]] - first < problem.spacing_days[target]
            ]
            model.addConstr(sum(x[r] for r in near) <= 1)
    return solved(model)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_bound_is_the_linear_optimum_with_every_cut_written_down(seed: int) -> None:
    problem = season(seed, limited=False)
    theirs, ours = static_relaxation(problem), bound_of(problem).value
    # cuts broken by less than half a per cent are let be; rounding may use each length more than once
    assert theirs * (1 - 1e-6) <= ours <= theirs * 1.005
    assert optimum_by_highs(problem) <= ours * (1 + 1e-9)


def test_the_grid_loses_nothing() -> None:
    problem = season(1, limited=False)
    o = problem.opportunities
    for column in (o.start_min, o.end_min, problem.minutes):
        assert (column % GRID == 0).all()


@pytest.mark.parametrize("costly", [False, True])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_cut_by_whole_programmes_says_what_the_best_programme_of_its_night_counts(
    seed: int, costly: bool
) -> None:
    problem = season(seed, limited=False, costly=costly)
    relaxation, value = relax(problem, np.ones(5), never_cancelled)
    with Crew(relaxation.windows, np.random.default_rng(0), never_cancelled) as crew:
        sharp = sharpen(problem, relaxation, value, crew, 20.0).value
    assert optimum_by_highs(problem) * (1 - 1e-9) <= sharp < value
    windows = relaxation.windows
    cuts = [cut for cut in relaxation.model.cuts if (cut.coefficient % 1).any()]
    assert cuts
    for cut in cuts:
        counts = np.zeros(len(problem.value))
        counts[windows.rows[windows.of_night(cut.night)]] = cut.coefficient
        alone = optimum_by_highs(replace(problem, value=counts, outing_cost=np.zeros(5)))
        assert alone * (1 - 1e-9) <= cut.room <= alone * (1 + 1e-3)
