"""Cutting a window into a prime and a fair stretch."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_array_equal

from scheduler.visibility.prime import PRIME_SHARE, SAMPLES, prime_and_fair, visit_starts

merits = arrays(np.float64, (3, SAMPLES), elements=st.floats(0.0, 1.0))


@given(start=st.integers(0, 10**6), minutes=st.integers(1, 120), slack=st.integers(0, 900))
def test_visits_are_tried_from_the_windows_first_to_its_last_minute(
    start: int, minutes: int, slack: int
) -> None:
    starts = visit_starts(np.array([start]), np.array([start + minutes + slack]), np.array([minutes]))[0]
    assert starts[0] == start
    assert starts[-1] + minutes == start + minutes + slack
    assert (np.diff(starts) >= 0).all()


@given(merit=merits)
def test_the_prime_stretch_lies_round_the_best_moment_and_inside_the_fair_one(merit: np.ndarray) -> None:
    minutes = np.full(3, 20)
    starts = visit_starts(np.zeros(3, np.int64), np.array([20, 180, 600]), minutes)
    prime, fair = prime_and_fair(starts, minutes, merit, 0.0)
    assert prime.kept.all()
    assert (prime.end_min - prime.start_min >= minutes).all()
    assert ((prime.start_min <= prime.best_min) & (prime.best_min <= prime.end_min)).all()
    assert ((fair.start_min <= prime.start_min) & (prime.end_min <= fair.end_min)).all()
    assert (prime.merit >= PRIME_SHARE * merit.max(axis=1) - 1e-12).all()
    assert (prime.merit <= merit.max(axis=1) + 1e-12).all()
    assert (fair.merit[fair.kept] <= merit.max(axis=1)[fair.kept]).all()


def test_a_moonset_half_way_splits_the_window_there() -> None:
    merit = np.where(np.arange(SAMPLES) < 8, 0.5, 1.0)[None]
    minutes = np.array([20])
    starts = visit_starts(np.array([0]), np.array([340]), minutes)
    prime, fair = prime_and_fair(starts, minutes, merit, 0.05)
    assert (prime.start_min[0], prime.end_min[0], prime.merit[0]) == (160, 340, 1.0)
    assert (fair.start_min[0], fair.end_min[0], fair.merit[0]) == (0, 340, 0.5)


def test_an_even_window_is_one_prime_stretch() -> None:
    minutes = np.array([20])
    starts = visit_starts(np.array([100]), np.array([300]), minutes)
    prime, fair = prime_and_fair(starts, minutes, np.full((1, SAMPLES), 0.7), 0.05)
    assert (prime.start_min[0], prime.end_min[0]) == (100, 300)
    assert_array_equal(fair.kept, [False])


def test_a_window_that_shows_nothing_is_dropped() -> None:
    minutes = np.array([20])
    starts = visit_starts(np.array([0]), np.array([100]), minutes)
    prime, fair = prime_and_fair(starts, minutes, np.full((1, SAMPLES), 0.04), 0.05)
    assert not prime.kept.any()
    assert not fair.kept.any()


def test_a_far_poorer_surround_is_not_offered() -> None:
    merit = np.where(np.arange(SAMPLES) == 8, 1.0, 0.3)[None]
    minutes = np.array([20])
    starts = visit_starts(np.array([0]), np.array([400]), minutes)
    _, fair = prime_and_fair(starts, minutes, merit, 0.05)
    assert not fair.kept.any()
