"""The parts of the search: two neighbourhoods at once, programme cuts, stopping."""

from __future__ import annotations

import threading
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from scheduler.assignment import Assignment, NightLimit, Problem, breaches_of
from scheduler.assignment.bound import bound_at, bound_of, relax, value_at_prices
from scheduler.assignment.crew import Crew
from scheduler.assignment.improve import Improver
from scheduler.assignment.intervals import whole_night_cut
from scheduler.assignment.linear import LinearModel
from scheduler.assignment.neighbourhood import Found, Neighbourhood, Programme, Search, nothing
from scheduler.assignment.sharpen import sharpen
from scheduler.domain import never_cancelled
from scheduler.errors import Cancelled
from tests.benchmarks.instances import make

from .small import best_of, problem_of, small_problems


def crowded(visits: int, limits: tuple[NightLimit, ...] = ()) -> Problem:
    """Far more wishes than time: groups of nights quarrel over every target."""
    made = make(90, 14, seed=9, hours=1.2)
    wanted = np.full(90, visits)
    return replace(replace(made, visits=wanted, spacing_days=np.full(90, 40)).problem(), limits=limits)


@pytest.mark.parametrize(
    ("visits", "limits"),
    [(1, ()), (2, ()), (1, tuple(NightLimit((n, 13 - n), 1) for n in range(7)))],
    ids=["once", "twice", "limited"],
)
@pytest.mark.parametrize("cost", [0.0, 1.5])
def test_two_groups_freed_at_once_hold_together(
    visits: int, limits: tuple[NightLimit, ...], cost: float
) -> None:
    problem, random = (
        replace(crowded(visits, limits), outing_cost=np.full(14, cost)),
        np.random.default_rng(1),
    )
    relaxation, value = relax(problem, np.ones(14), never_cancelled)
    bound = bound_at(relaxation, value)
    with Crew(bound.windows, random, never_cancelled) as crew:
        improver = Improver(problem, bound, nothing, crew, random)
        for _ in range(12):
            improver.turn()
            best = improver.best
            rows = bound.windows.rows[best.columns]
            found = Assignment(rows, best.start_min, improver.objective, value)
            assert breaches_of(problem, found) == ()
    assert improver.objective > 0.8 * value * (0.8 if limits else 1.0)


@given(small_problems())
@settings(max_examples=150)
def test_no_programme_cut_takes_the_best_assignment_away(problem: Problem) -> None:
    if not len(problem.usable):
        return
    relaxation, value = relax(problem, np.ones(len(problem.night_day)), never_cancelled)
    with Crew(relaxation.windows, np.random.default_rng(0), never_cancelled) as crew:
        sharp = sharpen(problem, relaxation, value, crew, 1.0)
    assert best_of(problem) - 1e-9 <= sharp.value <= value


def test_the_last_prices_prove_a_bound_when_the_linear_solver_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = replace(crowded(1), outing_cost=np.full(14, 2.0))
    relaxation, value = relax(problem, np.ones(14), never_cancelled)
    monkeypatch.setattr(LinearModel, "_solved", lambda *_: False)
    relaxation.model.add_cuts([whole_night_cut(relaxation.windows, night) for night in range(14)])
    relaxation.solve()
    assert len(relaxation.best.cut_price) == len(relaxation.model.cuts)
    assert value_at_prices(relaxation) == pytest.approx(value)


def test_without_any_prices_the_bound_is_that_of_endless_time(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = crowded(1)
    monkeypatch.setattr(LinearModel, "_solved", lambda *_: False)
    best = np.zeros(90)
    np.maximum.at(best, problem.opportunities.target[problem.usable], problem.value[problem.usable])
    assert bound_of(problem).value == pytest.approx(best.sum())


def test_a_night_that_does_not_bring_its_cost_is_given_up_at_once() -> None:
    problem = problem_of([(0, 0, 0, 60, 1.0), (1, 1, 0, 60, 2.0)], minutes=[20, 20], cost=[1.5, 1.5])
    relaxation, value = relax(problem, np.ones(2), never_cancelled)
    with Crew(relaxation.windows, np.random.default_rng(0), never_cancelled) as crew:
        first = Programme(np.array([0, 1]), np.array([0, 1440]))
        improver = Improver(problem, bound_at(relaxation, value), first, crew, np.random.default_rng(0))
    assert improver.best.columns.tolist() == [1]
    assert improver.objective == pytest.approx(0.5)


def test_a_long_search_stops_when_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = make(300, 8, seed=3, hours=4.0).problem()
    relaxation, value = relax(problem, np.ones(8), never_cancelled)
    bound = bound_at(relaxation, value)
    flag, ended, run = threading.Event(), list[Found](), Search.run
    job = Neighbourhood(problem, np.arange(len(bound.windows.rows)), problem.value, nothing, (), 8.0)

    def recorded(search: Search) -> Found:
        threading.Timer(0.5, flag.set).start()
        ended.append(run(search))
        return ended[-1]

    monkeypatch.setattr(Search, "run", recorded)
    with Crew(bound.windows, np.random.default_rng(0), flag) as crew, pytest.raises(Cancelled):
        crew.settle([job])
    assert not ended[0].proven
    assert ended[0].work < 4.0  # half of what it was allowed
