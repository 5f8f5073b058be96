"""The part of the nights' time that prices count on, learned from drawn years."""

from __future__ import annotations

import threading

import pytest

from scheduler.errors import Cancelled
from scheduler.policy import Repriced
from scheduler.simulation import draw_weather, live
from scheduler.tuning import LABELS, LATER, tuned, tuned_part
from tests.benchmarks.instances import make

SEASON = make(30, 12, seed=4, hours=2.0).season()
PARTS = 1.0, 0.6, 0.3


def brought(part: float) -> float:
    policy = Repriced(SEASON, later=LATER, labels=LABELS, filled=part)
    return float(live(SEASON, policy, draw_weather(SEASON.chain, 12, seed=3)).value.mean())


def test_the_part_that_brought_most_is_taken_whatever_the_order() -> None:
    each = {part: brought(part) for part in PARTS}
    assert len(set(each.values())) == 3
    best = max(each, key=lambda part: each[part])
    assert tuned_part(SEASON, 3, 12, PARTS) == best
    assert tuned_part(SEASON, 3, 12, PARTS[::-1]) == best


def test_the_policy_counts_on_that_part() -> None:
    policy = tuned(SEASON, 3, 6)
    part = tuned_part(SEASON, 3, 6)
    assert policy.wishes.length == pytest.approx(part * SEASON.wishes.length)
    assert (policy.later, policy.labels) == (LATER, LABELS)


def test_one_part_is_no_choice() -> None:
    assert tuned_part(SEASON, 3, 1, [0.4]) == 0.4


def test_stops_when_asked_to() -> None:
    cancel = threading.Event()
    cancel.set()
    with pytest.raises(Cancelled):
        tuned_part(SEASON, 3, 1, cancel=cancel)
