"""Scores of odds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.errors import InvalidValue
from scheduler.weather.scores import brier_score, log_score, reliability_of, skill_of

nights = st.lists(
    st.tuples(st.sampled_from([0.05, 0.3, 0.5, 0.75, 1.0]), st.booleans()), min_size=1, max_size=60
)


@given(nights)
def test_reliability_less_resolution_plus_uncertainty_is_the_brier_score(
    drawn: list[tuple[float, bool]],
) -> None:
    """Murphy's partition, exact where all odds of a bin are the same."""
    odds, came = (np.array(column, dtype=float) for column in zip(*drawn, strict=True))
    table, mean = reliability_of(odds, came), came.mean()
    share = [one.nights / len(came) for one in table]
    reliability = sum(s * (one.mean_odds - one.clear_share) ** 2 for s, one in zip(share, table, strict=True))
    resolution = sum(s * (one.clear_share - mean) ** 2 for s, one in zip(share, table, strict=True))
    assert brier_score(odds, came) == pytest.approx(reliability - resolution + mean * (1 - mean))
    assert sum(one.nights for one in table) == len(came)
    assert all(one.low <= one.mean_odds <= one.high + 1e-12 for one in table)


@given(st.floats(0.05, 0.95), st.floats(0.05, 0.95))
def test_nobody_does_better_than_to_say_what_he_believes(truth: float, said: float) -> None:
    came = np.array([1.0, 0.0])

    def expected(score: str, odds: float) -> float:
        rule = brier_score if score == "brier" else log_score
        clear, clouded = (rule(np.array([odds]), came[i : i + 1]) for i in (0, 1))
        return truth * clear + (1 - truth) * clouded

    for score in ("brier", "log"):
        assert expected(score, truth) <= expected(score, said) + 1e-12


def test_extremes() -> None:
    came = np.array([1.0, 0.0, 1.0])
    assert brier_score(came, came) == 0.0
    assert brier_score(1 - came, came) == 1.0
    assert log_score(1 - came, came) == pytest.approx(-np.log(0.001))  # a surprise has its limit
    assert log_score(came, came) == pytest.approx(0.001, abs=1e-5)
    assert skill_of(0.1, 0.0) == 0.0


def test_odds_and_nights_come_in_pairs() -> None:
    for odds, came in ((np.zeros(2), np.zeros(3)), (np.zeros(0), np.zeros(0))):
        with pytest.raises(InvalidValue):
            brier_score(odds, came)
