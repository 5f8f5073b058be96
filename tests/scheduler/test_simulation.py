"""Years lived through: against the exact optimum of small seasons, and the same for the same seed."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.domain import Opportunities
from scheduler.errors import Cancelled
from scheduler.policy import PricedOnce, Repriced, WeatherSeason, first_prices
from scheduler.prices import chain_of
from scheduler.refit import bound_of_prices
from scheduler.simulation import YEARS_A_BATCH, Lived, Policy, draw_weather, live, live_through
from tests.benchmarks.instances import make, small
from tests.benchmarks.policies import best_of_tonight, clairvoyant
from tests.scheduler.exact_year import all_weathers, best_expected

SEEDS = range(8)


@cache
def exact(seed: int) -> tuple[WeatherSeason, float]:
    season = small(seed).season()
    return season, best_expected(season)


def expected(season: WeatherSeason, policy: Policy) -> float:
    """What the policy brings in the mean over every weather there is: no sampling."""
    clear, odds = all_weathers(season)
    assert odds.sum() == pytest.approx(1)
    return float(odds @ live(season, policy, clear).value)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_policy_expects_more_than_the_exact_optimum(seed: int) -> None:
    season, best = exact(seed)
    for policy in (PricedOnce(season), Repriced(season), PricedOnce(season, later=0.95)):
        assert expected(season, policy) <= best + 1e-9


def test_the_price_policy_comes_near_the_exact_optimum() -> None:
    reached = [(expected(s, Repriced(s)), expected(s, best_of_tonight(s)), b) for s, b in map(exact, SEEDS)]
    ours, others, best = np.array(reached).T
    assert (ours >= 0.93 * best).all()
    assert ours.sum() >= 0.98 * best.sum()
    assert ours.sum() > others.sum()


@pytest.mark.parametrize("seed", SEEDS)
def test_the_bound_of_the_prices_is_never_below_the_exact_optimum(seed: int) -> None:
    season, best = exact(seed)
    assert bound_of_prices(season.wishes, first_prices(season)) >= best - 1e-9


@settings(max_examples=40)
@given(st.sampled_from(SEEDS), st.lists(st.floats(0, 0.1), min_size=6, max_size=6))
def test_any_prices_prove_a_bound(seed: int, mu: list[float]) -> None:
    season, best = exact(seed)
    assert bound_of_prices(season.wishes, np.array(mu)) >= best - 1e-9


def test_the_bound_by_hand() -> None:
    # one sure night with time for two of three visits; at a price between the worths of the second and the
    # third, the bound is the worth of the two: (3 - 24 mu) + (2 - 24 mu) + 48 mu
    o = Opportunities(
        datetime(2027, 1, 1, 12, tzinfo=UTC), 3, 1, np.arange(3), np.zeros(3, int), np.full(3, 600),
        np.full(3, 644), np.full(3, 622), np.array([0.6, 0.4, 0.2]),
    )  # fmt: skip
    season = WeatherSeason(
        o, np.full(3, 5.0), np.full(3, 20), np.ones(3, int), np.ones(3, int), np.array([5]), np.ones(1), 0.0
    )
    assert bound_of_prices(season.wishes, np.array([1.5 / 24])) == pytest.approx(5.0)
    assert bound_of_prices(season.wishes, np.zeros(1)) == pytest.approx(6.0)
    assert bound_of_prices(season.wishes, first_prices(season)) == pytest.approx(5.0, abs=0.05)
    assert best_expected(season) == pytest.approx(5.0)


@pytest.mark.parametrize("seed", range(2))
def test_perfect_foresight_is_worth_at_least_the_exact_optimum(seed: int) -> None:
    season = small(seed, nights=4).season()
    best = best_expected(season)
    clear, odds = all_weathers(season)
    found, bound = clairvoyant(season, clear, 1.0)
    assert odds @ found.value >= best - 1e-6
    assert odds @ bound >= odds @ found.value - 1e-9


def test_alone_on_the_list_a_target_is_visited_as_the_exact_optimum_would() -> None:
    for seed in range(20):
        season = small(seed, targets=1, nights=7).season()
        # nothing competes for the time, so the prices are naught and the policy is exact
        policy = PricedOnce(season, np.zeros(7))
        assert expected(season, policy) == pytest.approx(best_expected(season))
        free = Repriced(season, np.zeros(7), rounds=0)
        assert expected(season, free) == pytest.approx(best_expected(season))


@pytest.mark.parametrize("seed", SEEDS)
def test_two_ways_of_working_out_what_is_still_to_come_agree(seed: int) -> None:
    season = small(seed, targets=8, nights=9).season()
    season = replace(season, visits=1 + np.arange(8) % 3)
    rng = np.random.default_rng(seed)
    mu, years = rng.uniform(0, 0.03, 9), np.arange(5)
    once, again = PricedOnce(season, mu, 0.9), Repriced(season, mu, 0.9, rounds=0)
    for night in range(9):
        left = rng.integers(0, season.visits + 1, (5, 8))
        ready = np.where(rng.random((5, 8)) < 0.2, night + 1, 0)
        values = once.values(night, years, left, ready)
        assert values == pytest.approx(again.values(night, years, left, ready), abs=1e-12)
        assert values.any() or not len(values[0])


def test_what_may_not_be_visited_tonight_is_worth_nothing() -> None:
    season = small(2).season()
    target = season.opportunities.target[season.rows_of(1)]
    left, ready = np.ones((2, 5), int), np.zeros((2, 5), int)
    left[0, target[0]], ready[1, target[0]] = 0, 2
    for policy in (PricedOnce(season, np.zeros(6)), Repriced(season, np.zeros(6), rounds=0)):
        values = policy.values(1, np.arange(2), left, ready)
        assert values.shape == (2, len(target))
        assert (values[:, target == target[0]] == 0).all()


def test_prices_that_count_on_less_time_are_higher() -> None:
    season, _ = middling()
    all_time, half = first_prices(season), first_prices(season, filled=0.5)
    assert half.mean() > 1.2 * all_time.mean()
    assert Repriced(season, filled=0.5).mu == pytest.approx(half)
    assert PricedOnce(season, filled=0.5).mu == pytest.approx(half)


def test_weather_is_drawn_with_the_odds_and_the_persistence_given() -> None:
    odds = np.linspace(0.2, 0.7, 8)
    clear = draw_weather(chain_of(odds, 0.4), 20_000, seed=3)
    assert clear.mean(axis=0) == pytest.approx(odds, abs=0.015)  # four standard errors
    # the pull is the slope of the later night on the earlier one
    pull = [np.cov(clear[:, n], clear[:, n + 1])[0, 1] / np.var(clear[:, n], ddof=1) for n in range(7)]
    assert pull == pytest.approx([0.4] * 7, abs=0.04)


def test_a_year_is_the_same_however_many_are_drawn_and_whoever_lives_through_it() -> None:
    season = small(3).season()
    many, few = draw_weather(season.chain, 12, seed=5), draw_weather(season.chain, 4, seed=5, first=8)
    assert (many[8:] == few).all()
    assert (many != draw_weather(season.chain, 12, seed=6)).any()
    for policy in (PricedOnce, Repriced):
        together, apart = live(season, policy(season), many), live(season, policy(season), few)
        assert (together.done[8:] == apart.done).all()
        assert together.value[8:] == pytest.approx(apart.value, rel=1e-12)


@cache
def middling() -> tuple[WeatherSeason, np.ndarray]:
    season = make(30, 12, seed=4, hours=2.0).season()
    return season, draw_weather(season.chain, 30, seed=1)


def test_the_same_years_are_lived_through_alike_twice() -> None:
    season, clear = middling()
    one, two = (live(season, Repriced(season), clear) for _ in "12")
    assert one.done.tobytes() == two.done.tobytes()
    assert one.value.tobytes() == two.value.tobytes()


class Watched:
    """A policy that looks at what it is asked and what it answers."""

    def __init__(self, season: WeatherSeason) -> None:
        self.season, self.inner, self.seen = season, Repriced(season), 0
        self.made: list[tuple[int, int, int]] = []

    def programmes(
        self, night: int, years: np.ndarray, left: np.ndarray, ready: np.ndarray
    ) -> list[np.ndarray]:
        chosen = list(self.inner.programmes(night, years, left, ready))
        for year, rows in zip(years.tolist(), chosen, strict=True):
            assert (self.season.opportunities.night[rows] == night).all()
            self.made += [(year, int(t), night) for t in self.season.opportunities.target[rows]]
        return chosen


@pytest.mark.parametrize("seed", range(6))
def test_visits_keep_to_clear_nights_the_number_wanted_and_the_spacing(seed: int) -> None:
    season = small(seed, targets=6, nights=6).season()
    season = replace(season, visits=np.full(6, 2), spacing_days=np.full(6, 4))
    assert (np.diff(season.night_day) < 4).all()
    clear = all_weathers(season)[0]
    policy = Watched(season)
    lived = live(season, policy, clear)
    assert (lived.done >= 0).all()
    assert lived.done.max() == 2
    assert lived.done.sum() == len(policy.made)
    for year, target in {made[:2] for made in policy.made}:
        nights = [n for y, t, n in policy.made if (y, t) == (year, target)]
        assert clear[year, nights].all()
        assert (np.diff(season.night_day[nights]) >= 4).all()


def test_clouds_alone_bring_nothing_and_no_target_is_certain() -> None:
    season = small(1).season()
    lived = live(season, PricedOnce(season), np.zeros((50, 6), np.bool_))
    assert lived.value.max() == 0
    assert lived.completion_odds.max() == 0
    assert (lived.standard_error > 0.01).all()


def test_odds_error_and_spread_by_hand() -> None:
    season = small(1, targets=2, often=False).season()
    done = np.array([[1, 0]] * 3 + [[1, 1]])
    lived = Lived(season, done, np.array([1.0, 2.0, 3.0, 4.0]), np.zeros_like(done), np.ones(4, int))
    assert lived.completion_odds.tolist() == [1.0, 0.25]
    # two successes and two failures added: 6 and 3 of 8
    assert lived.standard_error == pytest.approx([np.sqrt(0.75 * 0.25 / 8), np.sqrt(0.375 * 0.625 / 8)])
    assert lived.completed.tolist() == [1, 1, 1, 2]
    assert lived.spread(lived.value) == pytest.approx((1.3, 2.5, 3.7))


def test_stops_when_asked_to() -> None:
    season, clear = middling()
    cancel = threading.Event()
    cancel.set()
    with pytest.raises(Cancelled):
        live(season, PricedOnce(season), clear, cancel)


def test_batches_live_through_every_year_once_in_weather_drawn_or_given() -> None:
    season = small(3).season()
    clear = draw_weather(season.chain, 2 * YEARS_A_BATCH + 3, seed=5)
    whole = live(season, PricedOnce(season), clear)
    drawn = live_through(season, PricedOnce(season), len(clear), 5)
    told = live_through(season, PricedOnce(season), len(clear), 99, weather=clear)
    for lived in (drawn, told):
        assert lived.value == pytest.approx(whole.value)
        assert (lived.done == whole.done).all()
    assert len(np.unique(whole.value)) > 10
