"""Clear odds of evenings: smooth, true to the months; and the chance after a night whose outcome is known."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from scheduler.domain import ClearOdds
from scheduler.domain.opportunity import Floats
from scheduler.weather import chance_after, clear_odds_of

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


@given(st.floats(0.05, 0.95), st.floats(0.0, 0.95), st.sampled_from([0.0, 1.0]))
def test_the_chance_is_the_two_state_chains(odds: float, persistence: float, last: float) -> None:
    """Against the chain stepped with its own transition matrix, an independent reckoning."""
    clear_after_clear = odds + persistence * (1.0 - odds)
    clear_after_cloud = odds * (1.0 - persistence)
    chance, stepped = last, []
    for _ in range(10):
        chance = chance * clear_after_clear + (1.0 - chance) * clear_after_cloud
        stepped.append(chance)
    assert chance_after(np.full(11, odds), persistence, last) == pytest.approx(stepped)


@given(MODERATE, st.floats(0.0, 0.9))
def test_a_clear_night_never_lowers_the_chance_and_a_lost_one_never_raises_it(
    odds: list[float], r: float
) -> None:
    calendar = np.array(odds)
    assert np.all(chance_after(calendar, r, 1.0) >= calendar[1:] - 1e-12)
    assert np.all(chance_after(calendar, r, 0.0) <= calendar[1:] + 1e-12)


@given(MODERATE, st.floats(0.0, 0.6))
def test_averaged_over_what_the_night_was_the_calendar_comes_back(odds: list[float], r: float) -> None:
    calendar = np.array(odds)
    clear, lost = chance_after(calendar, r, 1.0), chance_after(calendar, r, 0.0)
    assume(np.all(clear < 1.0) and np.all(lost > 0.0))  # nothing was held back
    assert calendar[0] * clear + (1.0 - calendar[0]) * lost == pytest.approx(calendar[1:])


def test_the_memory_fades() -> None:
    chances = chance_after(np.full(30, 0.4), 0.6, 1.0)
    assert np.all(np.diff(chances) < 0)
    assert chances[-1] == pytest.approx(0.4, abs=1e-5)


@pytest.mark.parametrize("known", [0.0, 1.0])
def test_a_night_that_was_certain_teaches_nothing(known: float) -> None:
    assert chance_after(np.array([known, 0.3, 0.6]), 0.5, known).tolist() == [0.3, 0.6]


def test_a_part_clear_night_stands_between() -> None:
    odds = np.full(2, 0.5)
    lost, part, clear = (chance_after(odds, 0.4, last)[0] for last in (0.0, 0.5, 1.0))
    assert (lost, part, clear) == pytest.approx((0.3, 0.5, 0.7))
