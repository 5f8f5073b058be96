"""The parts of the search: two neighbourhoods at once, programme cuts, stopping."""

from __future__ import annotations

import threading
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from scheduler.assignment import Assignment, NightLimit, Problem, breaches_of
from scheduler.assignment.bound import bound_at, relax
from scheduler.assignment.crew import Crew
from scheduler.assignment.improve import Improver
from scheduler.assignment.neighbourhood import Found, Neighbourhood, Search, nothing
from scheduler.assignment.sharpen import sharpen
from scheduler.domain import never_cancelled
from scheduler.errors import Cancelled
from tests.benchmarks.instances import make

from .small import best_of, small_problems


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
def test_two_groups_freed_at_once_hold_together(visits: int, limits: tuple[NightLimit, ...]) -> None:
    problem, random = crowded(visits, limits), np.random.default_rng(1)
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
@settings(max_examples=150, deadline=None)
def test_no_programme_cut_takes_the_best_assignment_away(problem: Problem) -> None:
    if not len(problem.usable):
        return
    relaxation, value = relax(problem, np.ones(len(problem.night_day)), never_cancelled)
    with Crew(relaxation.windows, np.random.default_rng(0), never_cancelled) as crew:
        sharp = sharpen(problem, relaxation, value, crew, 1.0)
    assert best_of(problem) - 1e-9 <= sharp.value <= value


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
