"""Which nights a forced visit touches."""

from __future__ import annotations

import numpy as np

from scheduler.assignment import NightLimit, Problem
from scheduler.assignment.reopen import Asked, Place, Reopened
from scheduler.explain.touched import nights_touched
from tests.scheduler.assignment.small import Row, problem_of

OWN, THERE = 7, 6
VISITS: list[Row] = [(night, night, 0, 20, 5.0 - night % 4) for night in range(6)]
"""Targets 0 to 5 show on a night each and nowhere else; the poorest, of worth 2, is that of night 3."""


def opened(limits: tuple[NightLimit, ...] = (), more: tuple[Row, ...] = ()) -> tuple[Problem, np.ndarray]:
    """Target 6 is on night 7 and shows on night 6 too, where nobody is out."""
    rows = [*VISITS, (6, OWN, 0, 20, 9.0), (6, THERE, 0, 20, 8.0), *more]
    problem = problem_of(rows, minutes=[20] * 7, days=list(range(8)), limits=limits)
    o = problem.opportunities
    own = (o.target == 6) & (o.night == OWN)
    return problem, np.flatnonzero((o.night == o.target) & (o.target < 6) | own)


def touched(problem: Problem, rows: np.ndarray, there: int = THERE) -> list[int]:
    with Reopened(problem, rows, problem.opportunities.start_min[rows]) as plan:
        nights = nights_touched(plan, Place(6, there), OWN)
        return [int(night) for night in nights]


def test_alone_the_night_left_and_the_night_gone_to_are_touched() -> None:
    assert touched(*opened()) == [THERE, OWN]


def test_where_a_limit_is_reached_the_poorest_night_of_its_group_is_touched_and_gives_way() -> None:
    problem, rows = opened((NightLimit(tuple(range(7)), 6),))
    assert touched(problem, rows) == [3, THERE, OWN]
    with Reopened(problem, rows, problem.opportunities.start_min[rows]) as plan:
        (settled,) = plan.settle([Asked(np.array([3, THERE, OWN]), must=Place(6, THERE))])
        (short,) = plan.settle([Asked(np.array([THERE, OWN]), must=Place(6, THERE))])
    assert settled is not None
    assert settled.worth == problem.worth_of(rows) - 9.0 + 8.0 - 2.0
    assert short is None
    assert touched(*opened((NightLimit(tuple(range(7)), 7),))) == [THERE, OWN]


def test_a_night_from_which_a_visit_could_come_is_touched() -> None:
    # what stands on night 2 would do as well on the night left
    assert touched(*opened(more=((2, OWN, 30, 50, 3.0),))) == [2, THERE, OWN]


def test_a_night_to_which_what_is_displaced_could_go_is_touched() -> None:
    # on night 5 target 6 would meet target 5, which shows nearly as well on night 2
    meets: Row = (6, 5, 0, 20, 8.0)
    assert 2 in touched(*opened(more=(meets, (5, 2, 30, 50, 3.9))), there=5)
    assert 2 not in touched(*opened(more=(meets,)), there=5)


def test_a_night_that_is_held_is_never_touched_and_takes_no_visit() -> None:
    problem, rows = opened(more=((2, OWN, 30, 50, 3.0),))
    with Reopened(problem, rows, problem.opportunities.start_min[rows], held=frozenset({2})) as plan:
        assert nights_touched(plan, Place(6, THERE), OWN).tolist() == [THERE, OWN]
        assert not plan.may_change(2)
        assert plan.may_change(THERE)
    limited, rows = opened((NightLimit(tuple(range(7)), 6),))
    with Reopened(limited, rows, limited.opportunities.start_min[rows], held=frozenset({3})) as plan:
        found = nights_touched(plan, Place(6, THERE), OWN).tolist()
        assert 3 not in found  # the poorest night, but it stands
        assert len(found) == 3


def test_a_group_that_allows_no_night_out_at_all_offers_none_and_stops_nothing() -> None:
    problem, rows = opened((NightLimit((THERE,), 0),))
    with Reopened(problem, rows, problem.opportunities.start_min[rows]) as plan:
        assert not plan.may_change(THERE)
        assert plan.may_change(OWN)
        assert nights_touched(plan, Place(6, THERE), OWN).tolist() == [THERE, OWN]
