"""A plan opened again, against trying every subset of rows."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
from hypothesis import given, settings

from scheduler.assignment import Problem, assign
from scheduler.assignment.problem import Assignment, breaches_of
from scheduler.assignment.reopen import Asked, Place, Reopened, Settled
from tests.scheduler.assignment.small import allowed, best_of, problem_of, small_problems


def best_with(problem: Problem, must: Place | None = None, barred: Place | None = None) -> float | None:
    """What the best assignment with a visit demanded or barred is worth, by trying every subset."""
    o, best = problem.opportunities, None
    for size in range(len(problem.value) + 1):
        for chosen in combinations(problem.usable.tolist(), size):
            rows = np.array(chosen, np.int64)
            pairs = set(zip(o.target[rows].tolist(), o.night[rows].tolist(), strict=True))
            if (must and must not in pairs) or (barred and barred in pairs):
                continue
            if not size or allowed(problem, rows):
                worth = problem.worth_of(rows)
                best = worth if best is None else max(best, worth)
    return best


def settled(problem: Problem, asked: Asked) -> Settled | None:
    found = assign(problem, seconds=0.1)
    with Reopened(problem, found.rows, found.start_min) as plan:
        return plan.settle([asked])[0]


def every(problem: Problem) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.arange(len(problem.night_day))


@settings(max_examples=60)
@given(small_problems(7))
def test_all_nights_set_free_are_settled_at_their_best(problem: Problem) -> None:
    found = settled(problem, Asked(every(problem)))
    assert found is not None
    assert np.isclose(found.worth, best_of(problem), atol=1e-3)
    assert breaches_of(problem, Assignment(found.rows, found.start_min, found.worth, found.worth)) == ()


@settings(max_examples=30)
@given(small_problems(7))
def test_a_visit_demanded_is_made_and_one_barred_is_not_at_the_least_loss(problem: Problem) -> None:
    o = problem.opportunities
    pairs = [Place(int(o.target[row]), int(o.night[row])) for row in problem.usable.tolist()]
    for must in dict.fromkeys(pairs):
        for barred in (None, next((one for one in pairs if one != must), None)):
            found, best = (
                settled(problem, Asked(every(problem), must, barred)),
                best_with(problem, must, barred),
            )
            assert (found is None) == (best is None)
            if found is not None and best is not None:
                made = set(zip(o.target[found.rows].tolist(), o.night[found.rows].tolist(), strict=True))
                assert must in made
                assert barred not in made
                assert np.isclose(found.worth, best, atol=1e-3)


def test_nights_held_keep_their_visits() -> None:
    # target 0 could go to either night, target 1 to night 1 only; with night 1 held, it stays
    problem = problem_of(
        [(0, 0, 0, 20, 1.0), (0, 1, 0, 20, 3.0), (1, 1, 30, 50, 2.0)], minutes=[20, 20], days=[0, 1]
    )
    start = np.array([1440, 1470])
    with Reopened(problem, np.array([1, 2]), start) as plan:
        (held,) = plan.settle([Asked(np.array([0]))])
        (free,) = plan.settle([Asked(np.array([0, 1]), barred=Place(0, 1))])
        (lost,) = plan.settle([Asked(np.array([0]), must=Place(0, 0))])
    assert held is not None
    assert held.rows.tolist() == [1, 2]
    assert free is not None
    assert (free.rows.tolist(), free.worth) == ([0, 2], 3.0)
    assert lost is None


def test_ties_change_nothing() -> None:
    # eight of one kind on four nights with room for three each: forced to move, one moves alone
    rows = [(target, night, 0, 60, 1.0) for target in range(8) for night in range(4)]
    problem = problem_of(rows, minutes=[20] * 8, days=[0, 1, 2, 3])
    o = problem.opportunities
    made = np.flatnonzero(o.night == o.target % 4)
    start = o.start_min[made] + 20 * (o.target[made] // 4)
    with Reopened(problem, made, start) as plan:
        for target in range(8):
            for night in range(4):
                (moved,) = plan.settle([Asked(every(problem), must=Place(target, night))])
                assert moved is not None
                assert moved.proven
                new = o.night[moved.rows][np.argsort(o.target[moved.rows])]
                assert (new != np.arange(8) % 4).sum() == (night != target % 4)


def test_a_demand_costs_what_gives_way() -> None:
    # one night holds two of three visits
    problem = problem_of([(0, 0, 0, 40, 3.0), (1, 0, 0, 40, 2.0), (2, 0, 0, 40, 1.5)], minutes=[20] * 3)
    found = settled(replace(problem), Asked(every(problem), must=Place(2, 0)))
    assert found is not None
    assert found.worth == 4.5
