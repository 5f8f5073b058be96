"""Problems made anew: visits favoured, visits that stand, and a plan to begin with."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.assignment import Assignment, NightLimit, Problem, assign, breaches_of
from scheduler.assignment.bound import targets_gain
from scheduler.assignment.chain import best_chain, linked
from scheduler.assignment.intervals import windows_of
from scheduler.assignment.neighbourhood import Programme
from scheduler.assignment.start import begun
from scheduler.errors import InvalidValue

from .small import best_of, problem_of, small_problems, walkable


@st.composite
def favoured(draw: st.DrawFn) -> Problem:
    """Return a small problem in which some targets' nights are favoured."""
    problem = draw(small_problems())
    o = problem.opportunities
    pairs = o.night * o.targets + o.target
    chosen = draw(st.sets(st.sampled_from(sorted(set(pairs.tolist())))))
    part = draw(st.sampled_from([1e-5, 0.05, 1.0]))
    return replace(problem, favour=np.where(np.isin(pairs, list(chosen)), part, 0.0))


@given(favoured())
@settings(max_examples=60)
def test_what_is_favoured_moves_the_choice_but_not_what_it_is_worth(problem: Problem) -> None:
    found = assign(problem, seconds=1.0)
    assert breaches_of(problem, found) == ()
    assert found.objective == pytest.approx(problem.worth_of(found.rows))
    plain, wished = best_of(problem), best_of(problem.favoured)
    assert found.bound >= plain - 1e-6
    assert found.objective <= plain + 1e-9
    if len(found.rows):
        assert problem.favoured.worth_of(found.rows) == pytest.approx(wished, rel=2e-4, abs=1e-3)


def test_a_night_out_that_only_favour_makes_worth_its_cost_is_spent_at_home() -> None:
    problem = problem_of([(0, 0, 0, 30, 0.75)], minutes=[20])
    problem = replace(problem, outing_cost=np.array([1.0]), favour=np.array([1.0]))
    found = assign(problem, seconds=0.5)
    assert (len(found.rows), found.objective) == (0, 0.0)
    assert found.bound == pytest.approx(0.0)
    dear = assign(replace(problem, outing_cost=np.array([0.5])), seconds=0.5)
    assert dear.objective == pytest.approx(0.25)


def test_favour_is_one_for_all_rows_of_a_target_on_a_night() -> None:
    problem = problem_of([(0, 0, 0, 30, 1.0), (0, 0, 5, 60, 0.8)], minutes=[20])
    with pytest.raises(InvalidValue, match="one number for all rows of a target on a night"):
        replace(problem, favour=np.array([0.1, 0.0]))


@st.composite
def with_held(draw: st.DrawFn) -> Problem:
    """Return one target's series with a visit before the season, or on some day in it, that stands."""
    nights = draw(st.integers(1, 6))
    days = np.cumsum([draw(st.integers(1, 5)) for _ in range(nights)]).tolist()
    spacing = draw(st.integers(1, 4))
    rows = [(0, night, 0, 60, draw(st.integers(1, 8)) / 4) for night in range(nights)]
    problem = problem_of(rows, minutes=[20], visits=[draw(st.integers(1, 3))], spacing=[spacing],
                         longest=[spacing + draw(st.integers(0, 6))], days=days)  # fmt: skip
    held = draw(st.sampled_from([(0,), (-3,), (0, days[-1] + 4), (days[0],)]))
    apart = [min(abs(day - one) for one in held) for day in days]
    value = np.where(np.array(apart) >= spacing, problem.value, 0.0)
    return replace(problem, value=value, held_days={0: held})


def best_with_held(problem: Problem) -> float:
    """Return what the best assignment of one target is worth, by trying every set of nights."""
    held, longest, best = set(problem.held_days[0]), int(problem.longest_spacing_days[0]), 0.0
    usable = [row for row in range(len(problem.value)) if problem.value[row] > 0]
    for size in range(1, int(problem.visits[0]) + 1):
        for rows in combinations(usable, size):
            days = [int(problem.night_day[row]) for row in rows]
            whole = sorted({*days, *held})
            gaps = [(a, b) for a, b in pairwise(whole) if b - a > longest]
            apart = np.diff(days)
            if (apart >= problem.spacing_days[0]).all() and all(a in held and b in held for a, b in gaps):
                best = max(best, float(problem.value[list(rows)].sum()))
    return best


@given(with_held())
@settings(max_examples=100)
def test_a_series_goes_on_from_the_visits_that_stand(problem: Problem) -> None:
    found = assign(problem, seconds=1.0)
    best = best_with_held(problem)
    assert breaches_of(problem, found) == ()
    assert found.objective == pytest.approx(best, rel=1e-3, abs=1e-6)
    assert found.bound >= best - 1e-6
    windows = windows_of(problem)
    assert targets_gain(problem, windows, windows.value) >= best - 1e-9
    every = Programme(np.arange(len(windows.rows)), windows.start)
    kept = linked(replace(problem, visits=np.array([9])), windows, every)
    made = Assignment(
        windows.rows[kept.columns], kept.start_min, problem.worth_of(windows.rows[kept.columns]), 99.0
    )
    assert not any("too late" in breach for breach in breaches_of(problem, made))


def test_a_first_visit_too_late_after_the_last_is_told() -> None:
    problem = problem_of([(0, 0, 0, 60, 1.0)], minutes=[20], longest=[5], days=[10])
    late = replace(problem, held_days={0: (4,)})
    made = Assignment(np.array([0]), np.array([0]), 1.0, 1.0)
    assert breaches_of(problem, made) == ()
    assert breaches_of(late, made) == ("target 0 is visited again too late",)
    assert assign(late).objective == 0.0
    assert best_chain(late, 0, np.array([1.0])).nights == ()
    assert best_chain(replace(problem, held_days={0: (5,)}), 0, np.array([1.0])).nights == (0,)


@given(small_problems(), st.data())
@settings(max_examples=60)
def test_of_a_plan_to_begin_with_only_what_keeps_the_rules_is_taken(
    problem: Problem, data: st.DataObject
) -> None:
    o = problem.opportunities
    rows = np.array(data.draw(st.lists(st.integers(0, len(o) - 1), max_size=9)), np.int64)
    shift = np.array([data.draw(st.integers(-5, 20)) for _ in rows], np.int64)
    windows = windows_of(problem)
    first = begun(problem, windows, rows, o.start_min[rows] + shift)
    taken = windows.rows[first.columns]
    made = Assignment(taken, first.start_min, problem.worth_of(taken), 99.0)
    assert not [breach for breach in breaches_of(problem, made) if "too late" not in breach]
    found = assign(problem, seconds=1.0, begin=(rows, o.start_min[rows] + shift))
    assert breaches_of(problem, found) == ()
    assert found.objective == pytest.approx(best_of(problem), rel=2e-4, abs=1e-3)


def test_a_plan_to_begin_with_is_kept_where_it_is_best() -> None:
    problem = problem_of([(0, 0, 0, 60, 1.0), (1, 0, 0, 60, 1.0)], minutes=[20, 20])
    found = assign(problem, seconds=0.0, begin=(np.array([0, 1]), np.array([3, 30])))
    assert found.start_min.tolist() == [3, 30]
    limited = replace(problem, limits=(NightLimit((0,), 0),))
    assert assign(limited, begin=(np.array([0, 1]), np.array([3, 30]))).objective == 0.0
    assert walkable(problem, found.rows)
