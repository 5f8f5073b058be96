"""Bounds and prices worked out by hand."""

from __future__ import annotations

import threading
from dataclasses import replace

import numpy as np
import pytest

from scheduler.assignment import NightLimit, bound_of, expected_capacity_of
from scheduler.assignment.intervals import overlap_min, violated_cuts, windows_of
from scheduler.errors import Cancelled

from .small import problem_of

# an hour for visits of 20, 20 and 40 minutes worth 3, 2 and 2: the long one fits half
HOUR = problem_of([(0, 0, 0, 60, 3.0), (1, 0, 0, 60, 2.0), (2, 0, 0, 60, 2.0)], minutes=[20, 20, 40])


def test_a_night_too_short_sells_its_minutes_for_what_the_last_visit_gives() -> None:
    bound = bound_of(HOUR)
    assert bound.value == pytest.approx(3 + 2 + 1)
    assert bound.share == pytest.approx([1, 1, 0.5])
    assert bound.night_price == pytest.approx([2 / 40])
    assert bound.cost == pytest.approx([1, 1, 2])
    assert bound.keep == pytest.approx([2, 1, 0])


def test_minutes_no_visits_can_fill_are_not_counted() -> None:
    # three visits of 24 minutes in 60: two fit, whatever the fractions of a third
    problem = problem_of([(t, 0, 0, 60, 1.0) for t in range(3)], minutes=[24] * 3)
    assert bound_of(problem).value == pytest.approx(2.0)


def test_the_price_is_of_a_clear_minute() -> None:
    found = expected_capacity_of(HOUR, np.array([0.4]))
    assert found.value == pytest.approx(0.4 * 6)
    assert found.night_price == pytest.approx([2 / 40])
    assert found.cost == pytest.approx([1, 1, 2])


def test_expected_tries_use_up_the_visits_wanted() -> None:
    # clear odds 0.5 each: the best two of three nights make up one visit, and a night is used once
    rows = [(0, n, 0, 60, worth) for n, worth in enumerate((1.0, 0.8, 0.6))]
    rows += [(0, 0, 10, 40, 1.0 + 1e-9)]
    problem = problem_of(rows, minutes=[20])
    assert expected_capacity_of(problem, np.full(3, 0.5)).value == pytest.approx(0.5 * (1.0 + 0.8))


def test_a_night_never_clear_is_worth_nothing() -> None:
    found = expected_capacity_of(HOUR, np.zeros(1))
    assert found.value == 0
    assert (found.night_price == 0).all()


def test_a_limit_on_nights_lowers_the_bound() -> None:
    rows = [(0, 0, 0, 30, 3.0), (1, 1, 0, 30, 2.0), (2, 2, 0, 30, 1.0)]
    free = problem_of(rows, minutes=[20] * 3)
    assert bound_of(free).value == pytest.approx(6)
    limited = problem_of(rows, minutes=[20] * 3, limits=(NightLimit((0, 1, 2), 2),))
    assert bound_of(limited).value == pytest.approx(5)


def test_a_night_out_lowers_the_bound_by_its_cost_and_by_no_more_than_it_brings() -> None:
    rows = [(0, 0, 0, 30, 3.0), (1, 1, 0, 30, 2.0), (2, 1, 40, 90, 1.0)]
    problem = problem_of(rows, minutes=[20] * 3, cost=[0.5, 2.5])
    assert bound_of(problem).value == pytest.approx(2.5 + 0.5)
    assert bound_of(problem).out == pytest.approx([1, 1])
    dear = bound_of(replace(problem, outing_cost=np.array([0.5, 3.5])))
    assert dear.value == pytest.approx(2.5)
    assert dear.out == pytest.approx([1, 0])
    assert dear.out_price == pytest.approx([0.5, 3.5])


def test_what_a_night_out_costs_does_not_change_the_price_of_its_minutes() -> None:
    costly = replace(HOUR, outing_cost=np.array([20.0]))
    found = expected_capacity_of(costly, np.array([0.4]))
    assert found.night_price == pytest.approx([2 / 40])
    assert found.value == pytest.approx(0.4 * 6)


@pytest.mark.parametrize(
    ("start", "end", "least"),
    [(0, 45, 14), (10, 40, 24), (0, 60, 4), (20, 60, 4), (0, 30, 14), (0, 80, 0), (50, 90, 0)],
)
def test_the_least_overlap_with_a_stretch_is_that_of_trying_every_start(
    start: int, end: int, least: int
) -> None:
    tried = min(max(0, min(s + 24, 40) - max(s, 10)) for s in range(start, end - 24 + 1))
    found = overlap_min(np.int64(10), np.int64(40), np.int64(start), np.int64(end), np.int64(24))
    assert found == tried == least


def test_a_crowded_stretch_is_found() -> None:
    windows = windows_of(
        problem_of([(t, 0, 0, 30, 1.0) for t in range(2)] + [(2, 0, 0, 200, 1.0)], minutes=[20] * 3)
    )
    cuts = violated_cuts(windows, 0, np.ones(3))
    assert cuts
    assert all(cut.coefficient @ np.ones(3) > cut.room for cut in cuts)
    assert violated_cuts(windows, 0, np.array([0.5, 0.5, 1.0])) == []


def test_the_bound_stops_when_asked() -> None:
    flag = threading.Event()
    flag.set()
    with pytest.raises(Cancelled):
        bound_of(HOUR, flag)
