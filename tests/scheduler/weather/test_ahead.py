"""The days ahead of the last night known, and forecasts."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import ClearOdds, Forecast, OutcomeLog, Went
from scheduler.prices import chain_of
from scheduler.weather import clear_odds_of, evening_odds_of
from scheduler.weather.ahead import blended, forecast_weight, lead_odds

from .logs import FIRST, given_odds, log_of, logs, night

EVEN = ClearOdds((0.4,) * 12, 0.3)
DAYS = [FIRST + timedelta(days=day) for day in range(60)]
chances = st.floats(0.0, 1.0)


@st.composite
def forecasts(draw: st.DrawFn) -> Forecast:
    evening = draw(st.sampled_from(DAYS))
    return Forecast(evening, draw(chances), evening - timedelta(days=draw(st.integers(0, 10))))


@given(given_odds(), logs(), st.lists(forecasts(), max_size=8))
def test_odds_stay_odds(odds: ClearOdds, log: OutcomeLog, forecast: list[Forecast]) -> None:
    found = evening_odds_of(odds, DAYS, log, forecast)
    assert ((found >= 0.0) & (found <= 1.0)).all()


@given(given_odds())
def test_without_log_and_forecast_the_odds_are_those_given_to_the_last_bit(odds: ClearOdds) -> None:
    assert evening_odds_of(odds, DAYS, OutcomeLog()).tobytes() == clear_odds_of(odds, DAYS).tobytes()
    away = log_of(night(0, Went.COULD_NOT_GO))
    assert evening_odds_of(odds, DAYS, away).tobytes() == clear_odds_of(odds, DAYS).tobytes()


@given(st.floats(0.02, 0.98), st.floats(0.0, 0.9), st.integers(1, 9))
def test_alike_odds_fade_as_a_markov_chain_does(odds: float, persistence: float, lead_days: int) -> None:
    stays = odds + persistence * (1 - odds)
    comes = odds - persistence * odds
    chain = np.linalg.matrix_power(np.array([[1 - comes, comes], [1 - stays, stays]]), lead_days)
    for last in (0, 1):
        found = lead_odds(np.array([odds]), persistence, np.array([lead_days]), float(last), odds)
        assert found[0] == pytest.approx(chain[last, 1], abs=1e-9)


@given(st.floats(0.0, 0.9))
def test_the_plan_links_its_nights_in_the_same_way(persistence: float) -> None:
    clouded, clear = chain_of(np.array([0.4, 0.4]), persistence).clear_after(0)
    after = [lead_odds(np.array([0.4]), persistence, np.array([1]), last, 0.4)[0] for last in (0.0, 1.0)]
    assert after == pytest.approx([clouded, clear])


@given(chances, chances, st.floats(0.0, 0.95), st.integers(1, 9))
def test_the_mean_over_what_may_have_been_is_the_season(
    odds: float, odds_then: float, persistence: float, lead_days: int
) -> None:
    clouded, clear = (
        lead_odds(np.array([odds]), persistence, np.array([lead_days]), last, odds_then)[0]
        for last in (0.0, 1.0)
    )
    assert odds_then * clear + (1 - odds_then) * clouded == pytest.approx(odds, abs=1e-9)
    assert clouded <= clear + 1e-12


def test_where_the_odds_move_on_the_correlation_stays() -> None:
    odds, then, persistence = 0.5, 0.3, 0.2
    clear = lead_odds(np.array([odds]), persistence, np.array([1]), 1.0, then)[0]
    both = then * clear
    correlation = (both - odds * then) / np.sqrt(odds * (1 - odds) * then * (1 - then))
    assert correlation == pytest.approx(persistence)


def test_the_last_night_pulls_those_after_it_and_no_other() -> None:
    log = log_of(night(20), night(3, Went.CLOUDED_OUT), night(25, Went.COULD_NOT_GO))
    found = evening_odds_of(EVEN, DAYS, log)
    assert found[:21] == pytest.approx(0.4)
    assert found[21] == pytest.approx(0.4 + 0.3 * 0.6)
    assert found[26] == pytest.approx(0.4 + 0.3**6 * 0.6)
    assert (np.diff(found[21:]) <= 1e-12).all()


def test_a_forecast_weighs_less_each_day_and_nothing_after_a_week() -> None:
    # 0.85 x 2**(-day / 5), by hand.
    weights = [0.85, 0.7400, 0.6442, 0.5608, 0.4882, 0.425, 0.3700, 0.3221, 0.0, 0.0]
    assert [forecast_weight(days) for days in range(10)] == pytest.approx(weights, abs=1e-4)


def test_a_blend_by_hand() -> None:
    # Log-odds -0.4055 and 2.1972, weights 0.15 and 0.85: 1.8068 is odds of 0.8590.
    assert blended(0.4, 0.9, 0) == pytest.approx(0.8590, abs=1e-4)


@given(st.floats(0.01, 0.99), st.floats(0.01, 0.99), st.integers(0, 12))
def test_a_blend_lies_between_and_agrees_with_what_both_say(
    odds: float, forecast: float, lead_days: int
) -> None:
    found = blended(odds, forecast, lead_days)
    assert min(odds, forecast) - 1e-9 <= found <= max(odds, forecast) + 1e-9
    assert blended(odds, odds, lead_days) == pytest.approx(odds)
    if lead_days > 7:
        assert found == odds


def test_a_sure_forecast_is_not_believed_to_the_end() -> None:
    assert 0.9 < blended(0.4, 1.0, 0) < 0.99
    assert 0.01 < blended(0.4, 0.0, 0) < 0.1


def test_the_latest_forecast_of_an_evening_counts() -> None:
    evening = date(2024, 1, 10)
    early, late = Forecast(evening, 0.1, date(2024, 1, 4)), Forecast(evening, 0.8, date(2024, 1, 9))
    only = evening_odds_of(EVEN, [evening], OutcomeLog(), [late])
    for order in ([early, late], [late, early]):
        assert evening_odds_of(EVEN, [evening], OutcomeLog(), order) == only
    again = Forecast(evening, 0.3, late.made_on)
    assert evening_odds_of(EVEN, [evening], OutcomeLog(), [late, again]) < only
