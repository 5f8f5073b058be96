"""Prices of nights and months: against solving again with the night really there, and the exact optimum."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.domain import Availability, EveningRule, Outcome, OutcomeLog, Scenario, Went
from scheduler.explain import season_prices
from scheduler.explain.worth import PricedNights, bound_at, season_of
from scheduler.ready import made_ready
from scheduler.refit import bound_of_prices
from tests.benchmarks.instances import small
from tests.scheduler.exact_year import best_expected
from tests.small_season import ANDROMEDA, JUPITER, ORION, scenario, star

SHORT = EveningRule((0, 2, 4), time(19), time(21))
STARS = tuple(star(f"Star {n}", 60.0 + 12 * n, 30.0 + 5 * n, priority=1 + n % 5) for n in range(7))


def at_no_cost(of: Scenario) -> Scenario:
    return replace(of, routine=replace(of.routine, outing_cost=0.0))


def free_also(of: Scenario, *evenings: date) -> Scenario:
    return replace(of, availability=replace(of.availability, extra=frozenset(evenings)))


def not_free(of: Scenario) -> list[date]:
    return [day for day in of.season.evenings if of.availability.rule_of(day) is None]


CROWDED = at_no_cost(scenario(ORION, *STARS, ANDROMEDA, JUPITER, nights=12, rule=SHORT))
FEW = at_no_cost(scenario(ORION, *STARS[:3], nights=8, rule=SHORT))
PAIRED = replace(CROWDED, availability=replace(CROWDED.availability, nights_per_week=2))


@settings(max_examples=40)
@given(st.integers(0, 30), st.lists(st.floats(0, 0.1), min_size=6, max_size=6))
def test_the_bound_is_that_of_the_policys_own_prices(seed: int, mu: list[float]) -> None:
    wishes = small(seed).season().wishes
    assert bound_at(wishes, np.array(mu)) == pytest.approx(bound_of_prices(wishes, np.array(mu)))


def worths(of: Scenario) -> dict[date, float]:
    return PricedNights.of(made_ready(of)).worth_of(made_ready(free_also(of, *not_free(of))))


@pytest.mark.parametrize("of", [CROWDED, FEW, PAIRED], ids=["crowded", "few", "two nights a week"])
def test_a_real_night_more_raises_the_bound_as_told(of: Scenario) -> None:
    before = PricedNights.of(made_ready(of))
    bound, told = bound_at(before.wishes, before.mu), worths(of)
    assert len(told) >= 4
    for evening, worth in told.items():
        after = PricedNights.of(made_ready(free_also(of, evening)))
        real = bound_at(after.wishes, after.mu) - bound
        # told at the old prices of the other nights; fitted to the night, they prove a bound a little lower
        assert real <= worth + 0.02
        assert real >= 0.7 * worth - 0.02


def test_prices_are_about_what_the_best_policy_gains_by_a_night() -> None:
    """The exact optimum under weather, known night by night only, with and without each night."""
    evenings = not_free(FEW)[:3]
    base, told = best_expected(season_of(made_ready(FEW))), worths(FEW)
    gains = {day: best_expected(season_of(made_ready(free_also(FEW, day)))) - base for day in evenings}
    assert all(gain > 0.2 for gain in gains.values())
    for evening, gain in gains.items():
        assert told[evening] == pytest.approx(gain, rel=0.3)
    assert sum(told[day] for day in evenings) == pytest.approx(sum(gains.values()), rel=0.2)


def test_a_month_tells_its_best_evening() -> None:
    (month,) = season_prices(CROWDED).months
    told = worths(CROWDED)
    assert month.evening is not None
    assert month.free_night == pytest.approx(max(told.values()))
    assert told[month.evening] == pytest.approx(month.free_night)


def test_odds_are_learned_from_the_log_once() -> None:
    log = OutcomeLog(tuple(Outcome(date(2026, 1, day), Went.CLEAR) for day in range(1, 29)))
    logged = replace(CROWDED, outcomes=log)
    (month,) = season_prices(logged).months
    assert month.free_night == pytest.approx(max(worths(logged).values()))
    assert month.free_night < 0.5 * season_prices(CROWDED).months[0].free_night  # clear nights are in plenty


def test_hours_are_dear_where_time_is_short() -> None:
    short = season_prices(CROWDED)
    long = season_prices(scenario(ORION, nights=12))
    assert max(night.hour for night in short.nights) > 0.3
    assert max(night.hour for night in long.nights) < 0.05
    assert [night.evening for night in short.nights] == [night.evening for night in made_ready(CROWDED).free]
    mean = np.mean([night.hour for night in short.nights])
    assert short.months[0].hour == pytest.approx(float(mean))


def limited(of: Scenario, **limits: int) -> Scenario:
    changed: Availability = replace(of.availability, **limits)  # type: ignore[arg-type]
    return replace(of, availability=changed)


def test_a_limit_that_binds_has_a_price_and_one_that_does_not_has_none() -> None:
    tight, loose = season_prices(limited(CROWDED, nights_per_week=1)), season_prices(CROWDED)
    assert tight.night_a_week > 0.1
    assert loose.night_a_week == 0.0
    (month,) = season_prices(limited(CROWDED, nights_per_month=1)).months
    assert month.night_out > 0.1
    assert loose.months[0].night_out == 0.0
    # the price of one more is about what the bound gains by it
    bounds = [
        bound_at(priced.wishes, priced.mu)
        for most in (1, 2)
        for priced in [PricedNights.of(made_ready(limited(CROWDED, nights_per_month=most)))]
    ]
    assert month.night_out >= bounds[1] - bounds[0] - 0.02


def test_going_out_costs_what_it_costs() -> None:
    dear = replace(CROWDED, routine=replace(CROWDED.routine, outing_cost=1.0))
    odds = 0.4
    for evening, worth in worths(dear).items():
        assert worth == pytest.approx(max(0.0, worths(CROWDED)[evening] - odds), abs=1e-6)


def test_evenings_away_are_not_offered() -> None:
    best = season_prices(CROWDED).months[0].evening
    assert best is not None
    of = replace(CROWDED, availability=replace(CROWDED.availability, away=frozenset({best})))
    assert season_prices(of).months[0].evening not in (None, best)


def test_a_season_free_every_night_has_no_evening_to_offer() -> None:
    prices = season_prices(scenario(ORION, nights=40))
    assert [(one.month.month, one.free_night, one.evening) for one in prices.months] == [
        (1, 0.0, None), (2, 0.0, None),
    ]  # fmt: skip


def test_never_free_in_the_dark_is_priced_all_the_same() -> None:
    assert season_prices(scenario(ORION, rule=EveningRule(start=time(13), finish=time(14)))).months == ()


def test_never_clear_is_worth_nothing() -> None:
    of = replace(CROWDED, clear_odds=replace(CROWDED.clear_odds, monthly=(0.0,) * 12))
    (month,) = season_prices(of).months
    assert (month.hour, month.free_night) == (0.0, 0.0)
