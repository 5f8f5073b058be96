"""The year's plan under learned odds and a forecast."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from scheduler import ready
from scheduler.domain import ClearOdds, Forecast, Outcome, OutcomeLog, Plan, Scenario, Went
from scheduler.export import plan_to_json
from scheduler.pricing import PricedSeason, priced
from scheduler.weather import clear_odds_of, learned_odds_of
from scheduler.year import plan_year
from tests.small_season import ANDROMEDA, JUPITER, ORION, scenario

SMALL = scenario(ORION, ANDROMEDA, JUPITER, nights=12)
CLEAR_WINTERS = OutcomeLog(tuple(
    Outcome(date(2026, month, day), Went.CLEAR) for month in (1, 12) for day in range(1, 29)
))  # fmt: skip


def planned(of: Scenario) -> Plan:
    return plan_year(of, seconds=0.3)


def odds_of(plan: Plan) -> dict[date, float]:
    return {night.evening: night.clear_odds for night in plan.nights}


def test_without_a_log_the_plan_is_that_of_the_given_odds_byte_for_byte(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # so long before the season that the plan need not know of it
    away = OutcomeLog((Outcome(date(2026, 11, 1), Went.COULD_NOT_GO),))
    with_weather = [plan_to_json(planned(one)) for one in (SMALL, replace(SMALL, outcomes=away))]
    monkeypatch.setattr(ready, "learned_odds_of", lambda given, log: given)
    monkeypatch.setattr(
        ready, "evening_odds_of", lambda odds, evenings, log, forecast: clear_odds_of(odds, evenings)
    )
    assert with_weather == [plan_to_json(planned(SMALL))] * 2


def test_nights_bear_the_learned_odds_and_are_linked_by_the_learned_persistence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    seen: list[ClearOdds] = []

    def watched(of: Scenario, *more: object) -> PricedSeason:
        seen.append(of.clear_odds)
        return priced(of, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(ready, "priced", watched)
    plan = planned(replace(SMALL, outcomes=CLEAR_WINTERS))
    learned = learned_odds_of(SMALL.clear_odds, CLEAR_WINTERS)
    assert seen == [learned]
    assert learned.persistence != SMALL.clear_odds.persistence
    expected = clear_odds_of(learned, [night.evening for night in plan.nights])
    assert min(expected) > 0.55
    # The season begins four days after the last night logged, a clear one, whose pull has nearly faded.
    assert list(odds_of(plan).values()) == pytest.approx(expected.tolist(), abs=0.05)
    assert plan.nights[0].clear_odds > expected[0]


def test_a_forecast_moves_its_night_alone() -> None:
    evening = SMALL.season.start + timedelta(days=3)
    cloud = Forecast(evening, 0.05, evening - timedelta(days=1))
    told, untold = odds_of(planned(replace(SMALL, forecast=(cloud,)))), odds_of(planned(SMALL))
    assert told[evening] < 0.15 < untold[evening]
    assert {day for day in told if told[day] != untold[day]} == {evening}


def test_a_clear_forecast_is_worth_more_than_a_clouded_one() -> None:
    nights = SMALL.season.evenings[:4]
    of = replace(SMALL, season=replace(SMALL.season, nights=4))
    clear, cloud = (tuple(Forecast(one, odds, nights[0]) for one in nights) for odds in (0.9, 0.1))
    worth = [planned(replace(of, forecast=told)).objective for told in (clear, (), cloud)]
    assert worth[0] > 1.2 * worth[1] > 1.2 * worth[2]
