"""What nights out bring is learned where they are few, and changes nothing where they are not."""

from __future__ import annotations

import numpy as np
import pytest

from scheduler.assignment import NightLimit
from scheduler.following import Following
from scheduler.rehearsal import rehearsed

from .test_following import Row, small_season

NONE = np.zeros(0, np.int64)
ROWS: list[Row] = [(0, 0, 0, 60, 0.9), (0, 1, 0, 60, 0.9), (1, 1, 0, 60, 0.6), (2, 2, 0, 60, 0.5)]


def test_without_limits_there_is_nothing_to_rehearse() -> None:
    policy = Following(small_season(ROWS, [0, 7, 14]), NONE)
    assert rehearsed(policy) is policy


def test_what_was_seen_before_brings_nothing_again() -> None:
    # every night is clear: target 0 is seen on the first, so the second brings target 1 alone
    limits = (NightLimit((0, 1, 2), 2),)
    season = small_season(ROWS, [0, 7, 14], limits, odds=1.0)
    policy = rehearsed(Following(season, NONE, limits, np.full(3, 0.25)))
    assert policy.expected[1] == pytest.approx(3.0 * 0.6 - 0.25)
    # a night that its limit bars is known for what it would bring
    assert policy.expected[2] == pytest.approx(3.0 * 0.5 - 0.25)


def test_what_is_expected_is_the_same_each_time() -> None:
    limits = (NightLimit((0, 1, 2), 1),)
    season = small_season(ROWS, [0, 7, 14], limits)
    first, again = (rehearsed(Following(season, NONE, limits)).expected for _ in range(2))
    assert (first == again).all()
    assert first.any()
