"""The order and times of a night, judged by trying every order on small nights."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.errors import InvalidValue
from scheduler.order import NightVisits, between, fits, order_of
from scheduler.sequence import sequence, strain, times_of, waiting_min


def visits_of(
    start: list[int],
    end: list[int],
    minutes: list[int],
    best: list[int],
    move: int = 4,
    looks: str = "",
    wait: int = 0,
) -> NightVisits:
    """Visits as columns; `looks` has one letter for each: f faint, b bright, - neither."""
    columns = [np.array(column, np.int64) for column in (start, end, minutes, best)]
    faint, bright = (np.array([look == letter for look in looks], np.bool_) for letter in "fb")
    return NightVisits(columns[0], columns[1], columns[2], columns[3], move, faint, bright, wait)


@st.composite
def nights(draw: st.DrawFn, most: int = 5, letters: str = "-") -> NightVisits:
    count = draw(st.integers(0, most))
    minutes = [draw(st.integers(1, 12)) for _ in range(count)]
    start = [draw(st.integers(0, 25)) for _ in range(count)]
    slack = [draw(st.integers(0, 18)) for _ in range(count)]
    end = [s + m + extra for s, m, extra in zip(start, minutes, slack, strict=True)]
    best = [draw(st.integers(s, e)) for s, e in zip(start, end, strict=True)]
    looks = "".join(draw(st.sampled_from(letters)) for _ in range(count))
    return visits_of(
        start, end, minutes, best, draw(st.integers(0, 3)), looks, draw(st.sampled_from((0, 3, 9)))
    )


def early(visits: NightVisits, order: tuple[int, ...]) -> list[int] | None:
    """Every visit as early as the order lets it be, None where one comes too late."""
    starts, time = [0] * len(order), -(10**6)
    for i in order:
        starts[i] = max(time, int(visits.start_min[i]))
        time = starts[i] + int(visits.minutes[i]) + visits.move_min
        if starts[i] + visits.minutes[i] > visits.end_min[i]:
            return None
    return starts


def nearest(visits: NightVisits, order: tuple[int, ...]) -> float:
    """Least strain in this order by dynamic programming over every minute."""
    value = {-(10**6): 0.0}  # earliest time the next visit may start -> strain so far
    for i in order:
        after: dict[int, float] = {}
        for free, far in value.items():
            minutes = int(visits.minutes[i])
            for start in range(max(free, int(visits.start_min[i])), int(visits.end_min[i]) - minutes + 1):
                waited = start - free if free >= 0 else 0
                cost = far + (start + minutes / 2 - visits.best_min[i]) ** 2 + 2 * visits.wait_min * waited
                end = start + minutes + visits.move_min
                after[end] = min(after.get(end, np.inf), float(cost))
        value = after
    return min(value.values(), default=np.inf)


@given(nights())
def test_an_order_is_found_exactly_when_one_of_all_orders_fits(visits: NightVisits) -> None:
    possible = any(early(visits, order) is not None for order in permutations(range(len(visits))))
    order = order_of(visits)
    assert (order is not None) == possible
    if order is not None:
        assert early(visits, order) is not None


@given(nights(4), st.randoms(use_true_random=False))
def test_in_a_given_order_no_whole_minutes_come_nearer_to_the_best(
    visits: NightVisits, random: object
) -> None:
    order = list(range(len(visits)))
    random.shuffle(order)  # type: ignore[attr-defined]
    times = times_of(visits, tuple(order))
    least = nearest(visits, tuple(order))
    assert (times is None) == (least == np.inf)
    if times is not None:
        assert fits(visits, times)
        assert strain(visits, times) == pytest.approx(least)


@given(nights())
def test_the_certificate_is_never_bettered_by_its_loss(visits: NightVisits) -> None:
    order = order_of(visits)
    if order is None:
        with pytest.raises(InvalidValue):
            sequence(visits)
        return
    certificate = np.array(early(visits, order), np.int64)
    starts = sequence(visits, certificate)
    assert fits(visits, starts)
    assert strain(visits, starts) <= strain(visits, certificate) + 1e-9


@given(nights(4))
def test_without_a_certificate_every_night_that_can_be_walked_is(visits: NightVisits) -> None:
    if any(early(visits, order) is not None for order in permutations(range(len(visits)))):
        assert fits(visits, sequence(visits))


def test_a_night_that_deadline_order_misses_is_found() -> None:
    # the long visit has the later deadline but must begin at once; by deadlines alone it comes too late
    visits = visits_of([0, 5], [21, 30], [20, 5], [10, 8], 0)
    assert order_of(visits) == (0, 1)
    tight = visits_of([0, 6], [20, 12], [12, 5], [6, 9], 0)
    assert order_of(tight) is None


def test_twenty_visits_in_overlapping_windows_are_ordered() -> None:
    random = np.random.default_rng(4)
    minutes = np.full(20, 20)
    at = np.arange(20) * 24
    start = at - random.integers(0, 40, 20)
    end = at + 20 + random.integers(0, 40, 20)
    visits = NightVisits(start, end, minutes, (start + end) // 2)
    order = order_of(visits)
    assert order is not None
    assert early(visits, order) is not None


def test_visits_apart_from_one_another_stand_at_their_best() -> None:
    visits = visits_of([0, 100, 200], [80, 180, 280], [20, 20, 20], [30, 140, 260])
    assert sequence(visits).tolist() == [20, 130, 250]


def test_visits_far_apart_come_nearer_to_spare_waiting_and_never_leave_their_stretches() -> None:
    # the last could come 60 min earlier at that price, but its stretch lets it come only 30 min earlier
    visits = visits_of([0, 100, 220], [80, 180, 280], [20, 20, 20], [30, 140, 260], wait=60)
    starts = sequence(visits)
    assert starts.tolist() == [60, 130, 220]
    assert waiting_min(visits, starts) == (240 - 60) - 3 * 20 - 2 * 4
    free = visits_of([0, 0, 0], [300, 300, 300], [20, 20, 20], [30, 140, 260], wait=60)
    assert waiting_min(free, sequence(free)) < waiting_min(free, np.array([20, 130, 250]))
    assert strain(free, sequence(free)) < strain(free, np.array([20, 130, 250]))


def test_a_certificate_that_does_not_fit_is_refused() -> None:
    visits = visits_of([0, 0], [60, 60], [20, 20], [10, 40])
    with pytest.raises(InvalidValue, match="certificate"):
        sequence(visits, np.array([0, 22]))


def test_the_same_visits_left_earlier_are_tried_again() -> None:
    # by deadlines the third visit goes first or second, and the last two are left a little too late;
    # only with the fourth begun first are the same two left early enough
    visits = visits_of([35, 28, 22, 19], [46, 49, 37, 51], [10, 8, 1, 8], [36, 29, 23, 20], 0)
    assert order_of(visits) == (3, 2, 1, 0)


def in_time(visits: NightVisits, starts: np.ndarray) -> tuple[int, ...]:
    return tuple(np.lexsort((visits.minutes, starts)).tolist())


@given(nights(6, "fb-"))
def test_no_order_that_fits_has_fewer_bright_looks_between_faint_visits(visits: NightVisits) -> None:
    orders = permutations(range(len(visits)))
    possible = [between(visits, order) for order in orders if early(visits, order) is not None]
    for most in range(4):
        order = order_of(visits, most)
        assert (order is not None) == (min(possible, default=9) <= most)
        if order is not None:
            assert early(visits, order) is not None
            assert between(visits, order) <= most
    if possible:
        starts = sequence(visits)
        assert fits(visits, starts)
        assert between(visits, in_time(visits, starts)) == min(possible)


@given(nights(6, "fb-"))
def test_setting_bright_looks_apart_never_makes_a_night_worse(visits: NightVisits) -> None:
    order = order_of(visits)
    if order is None:
        return
    certificate = np.array(early(visits, order), np.int64)
    plain = sequence(replace(visits, faint=np.zeros(0, np.bool_)), certificate)
    starts = sequence(visits, certificate)
    assert fits(visits, starts)
    found, before = (
        (between(visits, in_time(visits, each)), strain(visits, each)) for each in (starts, plain)
    )
    assert found <= (before[0], before[1] + 1e-9)
    if not before[0]:
        assert starts.tolist() == plain.tolist()


@pytest.mark.parametrize(
    ("order", "count"), [((0, 1, 2), 1), ((1, 0, 2), 0), ((0, 2, 1), 0), ((0, 3, 2), 0), ((0, 1, 3), 0)]
)
def test_a_bright_look_counts_only_between_faint_visits(order: tuple[int, ...], count: int) -> None:
    visits = visits_of([0] * 4, [99] * 4, [9] * 4, [40] * 4, looks="fbf-")
    assert between(visits, order) == count


@pytest.mark.parametrize(
    ("visits", "order"),
    [
        (visits_of([20, 8, 6], [30, 30, 12], [3, 6, 5], [26, 21, 11], 0, "fbf"), (2, 0, 1)),
        (visits_of([0, 3, 21], [14, 16, 38], [2, 4, 6], [10, 10, 31], 0, "fbf"), (1, 0, 2)),
    ],
    ids=["a bright look waits for the last faint visit", "a faint visit waits for the bright look"],
)
def test_a_visit_may_wait_though_there_is_time_for_it(visits: NightVisits, order: tuple[int, ...]) -> None:
    assert order_of(visits, 0) == order


def test_faint_visits_change_places_where_that_sets_a_bright_look_apart() -> None:
    visits = visits_of([24, 21, 24], [38, 41, 31], [5, 6, 4], [24, 26, 30], 0, "bff")
    assert between(visits, in_time(visits, sequence(visits))) == 0


def test_jupiter_goes_last_where_its_stretch_lets_it_and_stays_where_not() -> None:
    # best in the middle of the night, between two galaxies
    wide = visits_of([0, 0, 60], [60, 150, 150], [20] * 3, [30, 75, 120], looks="fbf")
    assert sequence(wide).tolist() == [20, 100, 76]
    narrow = visits_of([0, 60, 80], [60, 90, 150], [20] * 3, [30, 75, 120], looks="fbf")
    assert sequence(narrow).tolist() == [20, 65, 110]
    plain = visits_of([0, 0, 60], [60, 150, 150], [20] * 3, [30, 75, 120])
    assert sequence(plain).tolist() == [20, 65, 110]


def test_a_long_night_with_bright_looks_that_cannot_be_set_apart_is_left_in_time() -> None:
    # each bright look is held between two faint ones: no order helps, and the search for one must end
    count = 24
    at = np.arange(count) * 24
    looks = "fb" * (count // 2)
    free = np.array([letter == "f" for letter in looks])
    start, end = np.where(free, 0, at), np.where(free, count * 24, at + 24)
    minutes = np.full(count, 20)
    visits = NightVisits(start, end, minutes, at + 10, 4, free, ~free)
    begun = time.process_time()
    starts = sequence(visits, at)
    assert fits(visits, starts)
    assert between(visits, in_time(visits, starts)) <= between(visits, tuple(range(count)))
    assert time.process_time() - begun < 20.0
