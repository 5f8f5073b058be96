"""Assignments against trying everything, and the promises of `assign`."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.assignment import Assignment, NightLimit, Problem, assign, bound_of, breaches_of
from scheduler.assignment.solve import IMPROVE
from scheduler.domain import Progress
from scheduler.errors import Cancelled, InvalidValue
from tests.benchmarks.instances import make

from .small import best_of, problem_of, small_problems


@given(small_problems())
@settings(max_examples=60)
def test_small_problems_are_solved_to_the_optimum_found_by_trying_everything(problem: Problem) -> None:
    found, best = assign(problem, seconds=1.0), best_of(problem)
    assert breaches_of(problem, found) == ()
    assert found.objective == pytest.approx(best)
    assert found.bound >= best - 1e-9


@given(small_problems())
@settings(max_examples=60)
def test_the_bound_is_never_below_the_optimum(problem: Problem) -> None:
    assert bound_of(problem).value >= best_of(problem) - 1e-9


def test_nothing_to_choose_from_is_an_empty_assignment() -> None:
    for problem in (
        problem_of([(0, 0, 0, 10, 1.0)], minutes=[20]),
        problem_of([(0, 0, 0, 30, 0.0)], minutes=[20]),
    ):
        found = assign(problem)
        assert (len(found.rows), found.objective, found.bound, found.gap) == (0, 0.0, 0.0, 0.0)
        assert bound_of(problem).value == 0.0


@pytest.fixture(scope="module")
def season() -> Problem:
    return make(40, 16, seed=5, hours=2.0).problem()


@pytest.fixture(scope="module")
def solved(season: Problem) -> Assignment:
    return assign(season, seconds=1.0)


def test_a_season_is_within_every_rule_and_near_its_bound(season: Problem, solved: Assignment) -> None:
    assert breaches_of(season, solved) == ()
    assert solved.gap < 0.01
    assert len(solved.rows) > 30


def test_the_same_seed_gives_the_same_bytes(season: Problem, solved: Assignment) -> None:
    again = assign(season, seconds=1.0)
    assert again.rows.tobytes() == solved.rows.tobytes()
    assert again.start_min.tobytes() == solved.start_min.tobytes()
    assert (again.objective, again.bound, again.stages) == (solved.objective, solved.bound, solved.stages)


def test_the_outcome_does_not_depend_on_how_fast_the_machine_is(
    season: Problem, solved: Assignment, monkeypatch: pytest.MonkeyPatch
) -> None:
    from scheduler.assignment.neighbourhood import Search

    run, turn = Search.run, iter(range(10**9))

    def slower(search: Search) -> object:
        time.sleep(0.02 * (next(turn) % 3))
        return run(search)

    monkeypatch.setattr(Search, "run", slower)
    again = assign(season, seconds=1.0)
    assert again.rows.tobytes() == solved.rows.tobytes()
    assert again.start_min.tobytes() == solved.start_min.tobytes()


def test_limits_on_nights_out_hold_in_a_season(season: Problem, solved: Assignment) -> None:
    limits = tuple(NightLimit(tuple(range(n, n + 4)), 2) for n in range(0, 16, 4))
    limited = replace(season, limits=limits)
    found = assign(limited, seconds=1.0)
    assert breaches_of(limited, found) == ()
    assert len(np.unique(season.opportunities.night[found.rows])) <= 8
    assert solved.bound >= found.bound >= found.objective
    assert found.gap < 0.05


@given(small_problems(), st.integers(1, 12))
@settings(max_examples=40)
def test_dearer_nights_are_never_more(problem: Problem, quarters: int) -> None:
    cheap, dear = (
        assign(replace(problem, outing_cost=np.full(len(problem.night_day), cost / 4)), seconds=1.0)
        for cost in (quarters, quarters + 1)
    )
    out = [len(np.unique(problem.opportunities.night[found.rows])) for found in (cheap, dear)]
    assert max(cheap.gap, dear.gap) <= 1e-4  # finer than the quarters everything is worth
    assert out[0] >= out[1]


@pytest.mark.parametrize(("cost", "nights"), [(0.0, {0, 1}), (0.4, {0, 1}), (0.6, {1})])
def test_a_lone_visit_moves_to_a_fuller_night_when_it_loses_less_than_going_out_costs(
    cost: float, nights: set[int]
) -> None:
    rows = [(0, 0, 0, 90, 2.0), (0, 1, 0, 90, 1.5), (1, 1, 0, 90, 2.0), (2, 1, 0, 90, 2.0)]
    found = assign(problem := problem_of(rows, minutes=[20] * 3, cost=[cost, cost]))
    assert len(found.rows) == 3
    assert set(problem.opportunities.night[found.rows].tolist()) == nights


def test_where_no_night_brings_what_it_costs_nobody_goes_out() -> None:
    found = assign(problem_of([(0, 0, 0, 90, 1.0), (1, 0, 0, 30, 0.9)], minutes=[20, 20], cost=[2.0]))
    assert (len(found.rows), found.objective, found.bound, found.gap) == (0, 0.0, 0.0, 0.0)


def test_costs_gather_a_season_on_fewer_nights(season: Problem, solved: Assignment) -> None:
    costly = replace(season, outing_cost=np.full(16, 1.0))
    found = assign(costly, seconds=2.0)
    assert breaches_of(costly, found) == ()
    before, after = (np.unique(season.opportunities.night[rows]) for rows in (solved.rows, found.rows))
    assert len(after) < len(before)
    # it beats the plan made without a thought for costs, and does not pass that plan's bound
    assert costly.worth_of(solved.rows) < found.objective <= found.bound <= solved.bound
    assert found.gap < 0.01


def test_progress_runs_forward_through_the_stages(season: Problem) -> None:
    heard: list[Progress] = []
    assign(season, seconds=0.5, report=heard.append)
    assert list(dict.fromkeys(each.stage for each in heard)) == [
        "proving how good the year can be", "a first plan, night by night", "improving the plan",
        "sharpening the proof",
    ]  # fmt: skip
    fractions = [each.fraction for each in heard]
    assert fractions == sorted(fractions)
    assert 0 < fractions[-1] <= 1
    for each in heard[1:]:
        assert each.objective is not None
        assert each.bound is not None
        assert each.objective <= each.bound * (1 + 1e-9)


def test_a_set_flag_stops_the_work_at_once(season: Problem) -> None:
    flag = threading.Event()
    flag.set()
    with pytest.raises(Cancelled):
        assign(season, cancel=flag)


def test_a_flag_set_in_a_search_stops_it() -> None:
    flag = threading.Event()

    def stop(progress: Progress) -> None:
        if progress.stage == IMPROVE:
            flag.set()

    with pytest.raises(Cancelled):
        assign(make(60, 12, seed=7, hours=3.0).problem(), seconds=60.0, report=stop, cancel=flag)


def test_every_stage_ends_no_worse_than_it_began(solved: Assignment) -> None:
    assert [stage.name for stage in solved.stages] == ["bound", "dive", "sharpen", "improve"]
    for before, after in pairwise(solved.stages):
        assert before.objective <= after.objective
        assert before.bound >= after.bound
        assert before.work <= after.work
    assert (solved.stages[-1].objective, solved.stages[-1].bound) == pytest.approx(
        (solved.objective, solved.bound)
    )


def test_whole_programmes_sharpen_the_bound(season: Problem, solved: Assignment) -> None:
    assert solved.objective <= solved.bound < bound_of(season).value


@pytest.mark.parametrize("seconds", [-1.0, float("nan"), float("inf")])
def test_seconds_must_be_a_number_of_them(season: Problem, seconds: float) -> None:
    with pytest.raises(InvalidValue):
        assign(season, seconds=seconds)
