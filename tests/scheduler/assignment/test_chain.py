"""Chains of visits against trying every set of nights, and whole seasons with them."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.assignment import Assignment, Problem, assign, bound_of, breaches_of
from scheduler.assignment.bound import bound_at, relax
from scheduler.assignment.chain import best_chain, linked
from scheduler.assignment.crew import Crew
from scheduler.assignment.improve import Improver
from scheduler.assignment.intervals import windows_of
from scheduler.assignment.neighbourhood import Found, Neighbourhood, Programme, Search, left_of, nothing
from scheduler.domain import never_cancelled
from tests.benchmarks.instances import make

from .small import problem_of


def one_target(days: list[int], visits: int, spacing: int, longest: int) -> Problem:
    rows = [(0, night, 0, 60, 1.0) for night in range(len(days))]
    return problem_of(rows, minutes=[20], visits=[visits], spacing=[spacing], longest=[longest], days=days)


@st.composite
def chains(draw: st.DrawFn) -> tuple[Problem, list[float]]:
    nights = draw(st.integers(1, 7))
    days = np.cumsum([draw(st.integers(1, 5)) for _ in range(nights)]).tolist()
    spacing = draw(st.integers(0, 6))
    longest = max(1, spacing) + draw(st.integers(0, 6))
    gain = [draw(st.integers(-8, 8) | st.just(-np.inf)) for _ in range(nights)]
    return one_target(days, draw(st.integers(0, 4)), spacing, longest), gain


def follow(problem: Problem, nights: tuple[int, ...]) -> bool:
    apart = np.diff(problem.night_day[list(nights)])
    least = max(1, int(problem.spacing_days[0]))
    return bool(((apart >= least) & (apart <= problem.longest_spacing_days[0])).all())


@given(chains())
def test_no_set_of_nights_gains_more_than_the_best_chain(case: tuple[Problem, list[float]]) -> None:
    problem, gain = case
    open_nights = [night for night, each in enumerate(gain) if np.isfinite(each)]
    tried = [
        sum(gain[night] for night in nights)
        for count in range(1, int(problem.visits[0]) + 1)
        for nights in combinations(open_nights, count)
        if follow(problem, nights)
    ]
    found = best_chain(problem, 0, np.array(gain, np.float64))
    assert found.gain == max(tried, default=0.0)
    assert bool(found.nights) == bool(tried)
    assert follow(problem, found.nights)
    assert len(found.nights) <= problem.visits[0]
    assert sum(gain[night] for night in found.nights) == found.gain


@pytest.mark.parametrize(
    ("worth", "kept"), [([1.0, 1.0, 1.5], [0, 1]), ([1.0, 1.0, 2.5], [2]), ([1.0, 1.0, 2.0], [0, 1])]
)
def test_of_a_broken_chain_the_run_worth_most_stays(worth: list[float], kept: list[int]) -> None:
    rows = [(0, night, 0, 60, each) for night, each in enumerate(worth)] + [(1, 0, 0, 60, 0.1)]
    problem = problem_of(
        rows, minutes=[20, 20], visits=[3, 1], longest=[12, 12], spacing=[8, 1], days=[0, 10, 30]
    )
    windows = windows_of(problem)
    made = Programme(np.array([3, 0, 2, 1]), np.array([2880, 0, 1440, 20]))
    left = linked(problem, windows, made)
    assert sorted(windows.night[left.columns[windows.target[left.columns] == 0]].tolist()) == kept
    assert (windows.target[left.columns] == 1).sum() == 1


def test_a_bridge_that_is_worth_little_is_made_for_what_it_links() -> None:
    rows = [(0, 0, 0, 30, 3.0), (0, 1, 0, 30, 0.1), (0, 2, 0, 30, 3.0), (1, 1, 0, 30, 1.0)]
    wanted = {"minutes": [20, 20], "visits": [3, 1], "days": [0, 10, 20]}
    free, tied = problem_of(rows, **wanted), problem_of(rows, **wanted, longest=[12, 12])  # type: ignore[arg-type]
    assert assign(free).objective == pytest.approx(7.0)  # the night between goes to the other target
    found = assign(tied)
    assert breaches_of(tied, found) == ()
    assert found.objective == pytest.approx(6.1)
    assert bound_of(tied).value == pytest.approx(found.bound, rel=0.2)
    assert found.bound >= 6.1 - 1e-9


class Emptying:
    """Stands in for a crew: every night set free ends empty."""

    def settle(self, jobs: list[Neighbourhood]) -> list[Found]:
        return [Found(nothing, False, np.inf, 0.0) for _ in jobs]


BRIDGE = problem_of(
    [(0, 0, 0, 60, 3.0), (0, 1, 0, 60, 1.0), (0, 2, 0, 60, 2.0)],
    minutes=[20], visits=[3], longest=[12], days=[0, 10, 20], cost=[0.0, 2.5, 0.0],
)  # fmt: skip
WHOLE = Programme(np.arange(3), np.arange(3) * 1440)


def improver_of(problem: Problem, first: Programme) -> Improver:
    relaxation, value = relax(problem, np.ones(len(problem.night_day)), never_cancelled)
    crew: Any = Emptying()
    return Improver(problem, bound_at(relaxation, value), first, crew, np.random.default_rng(0))


def test_giving_up_a_dear_night_leaves_no_broken_chain_behind() -> None:
    assert improver_of(BRIDGE, WHOLE).best.columns.tolist() == [0]


def test_what_two_groups_found_is_mended_before_it_is_weighed() -> None:
    improver = improver_of(BRIDGE, WHOLE)
    for night in range(3):
        improver.best, improver.nights, improver._size = WHOLE, np.array([night]), 1.0
        improver.turn()
        assert (
            linked(BRIDGE, improver.windows, improver.best).columns.tolist() == improver.best.columns.tolist()
        )


@pytest.mark.parametrize(("held", "made"), [([], []), ([0], []), ([2], []), ([0, 2], [1])])
def test_a_night_set_free_keeps_what_links_the_visits_held(held: list[int], made: list[int]) -> None:
    # only where it links is the visit worth its cost
    windows = windows_of(BRIDGE)
    held_fast = Programme(np.array(held, np.int64), np.array(held, np.int64) * 1440)
    left, columns = left_of(BRIDGE, windows, held_fast, np.array([1]))
    job = Neighbourhood(left, columns, BRIDGE.value, nothing, (), 1.0, held=held_fast)
    found = Search(windows, job, 0).run().made
    assert found is not None
    assert found.columns.tolist() == made


def season_of(targets: int, nights: int, seed: int, hours: float, often: int) -> Problem:
    """A season in which the first few targets are wanted five times, every 8 to 30 days."""
    made = make(targets, nights, seed=seed, hours=hours)
    visits, spacing = made.visits.copy(), made.spacing_days.copy()
    visits[:often], spacing[:often] = 5, 8
    longest = np.where(np.arange(targets) < often, 40, 1_000_000)
    problem = replace(made, visits=visits, spacing_days=spacing).problem()
    return replace(problem, longest_spacing_days=longest)


def test_two_groups_freed_at_once_keep_the_chains() -> None:
    problem, random = season_of(90, 24, 9, 1.2, 40), np.random.default_rng(1)
    relaxation, value = relax(problem, np.ones(24), never_cancelled)
    bound = bound_at(relaxation, value)
    with Crew(bound.windows, random, never_cancelled) as crew:
        improver = Improver(problem, bound, nothing, crew, random)
        for _ in range(25):
            improver.turn()
            rows = bound.windows.rows[improver.best.columns]
            found = Assignment(rows, improver.best.start_min, improver.objective, value)
            assert breaches_of(problem, found) == ()
    assert np.bincount(problem.opportunities.target[rows])[:40].max() > 2


def test_a_season_with_chains_is_within_every_rule_and_near_its_bound() -> None:
    problem = season_of(60, 24, 4, 2.0, 12)
    found = assign(problem, seconds=1.0)
    assert breaches_of(problem, found) == ()
    counts = np.bincount(problem.opportunities.target[found.rows], minlength=60)[:12]
    assert (counts > 1).sum() >= 8
    # without the limit the same season is worth more, and breaks it
    free = replace(problem, longest_spacing_days=np.zeros(0, np.int64))
    other = assign(free, seconds=1.0)
    assert other.bound >= found.objective
    assert any("too late" in words for words in breaches_of(problem, other))
    assert found.gap < 0.1
