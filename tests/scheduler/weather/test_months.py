"""Clear odds of evenings: smooth, and true to the months."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import ClearOdds
from scheduler.domain.opportunity import Floats
from scheduler.weather import clear_odds_of

MODERATE = st.lists(st.floats(0.25, 0.75), min_size=12, max_size=12)
ANY = st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12)


def days_of(year: int) -> list[date]:
    return [
        date(year, 1, 1) + timedelta(days=day)
        for day in range((date(year + 1, 1, 1) - date(year, 1, 1)).days)
    ]


def monthly_means(odds: Floats, days: list[date]) -> list[float]:
    return [float(np.mean([chance for chance, day in zip(odds, days, strict=True) if day.month == month]))
            for month in range(1, 13)]  # fmt: skip


@given(MODERATE, st.sampled_from([2027, 2028, 1900, 2000]))
def test_months_keep_their_means(monthly: list[float], year: int) -> None:
    smooth = 0.75 * np.array(monthly) + 0.125 * (np.roll(monthly, 1) + np.roll(monthly, -1))
    days = days_of(year)
    odds = clear_odds_of(ClearOdds(tuple(smooth.tolist())), days)
    assert monthly_means(odds, days) == pytest.approx(smooth.tolist(), abs=1e-3)


@given(ANY)
def test_odds_stay_odds_however_wild_the_months(monthly: list[float]) -> None:
    odds = clear_odds_of(ClearOdds(tuple(monthly)), days_of(2027))
    assert odds.shape == (365,)
    assert np.all((odds >= 0.0) & (odds <= 1.0))


@given(ANY)
def test_no_step_between_nights_not_even_at_new_year(monthly: list[float]) -> None:
    days = [*days_of(2027), *days_of(2028)]
    odds = clear_odds_of(ClearOdds(tuple(monthly)), days)
    assert (
        np.abs(np.diff(odds)).max() <= 1.0 / 28 + 1e-9
    )  # from sure cloud to sure sky within a month at most


def test_alike_months_are_alike_every_night() -> None:
    assert clear_odds_of(ClearOdds((0.37,) * 12), days_of(2027)) == pytest.approx(0.37)


def test_the_order_of_evenings_is_the_callers() -> None:
    odds = ClearOdds((0.2, 0.3, 0.4, 0.5, 0.5, 0.6, 0.6, 0.6, 0.5, 0.4, 0.3, 0.2))
    there = clear_odds_of(odds, [date(2027, 1, 5), date(2027, 7, 5)])
    back = clear_odds_of(odds, [date(2027, 7, 5), date(2027, 1, 5)])
    assert there.tolist() == back[::-1].tolist()
    assert there[0] < 0.25 < 0.55 < there[1]
    assert clear_odds_of(odds, []).shape == (0,)
