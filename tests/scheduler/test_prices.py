"""Worths under weather, judged by hand and by walking every weather there can be."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import Opportunities
from scheduler.domain.opportunity import Floats, Ints
from scheduler.prices import NowOrLater, WeatherChain, chain_of, later_of


def opportunities(merit: list[list[float]]) -> Opportunities:
    """One row per target and night; merit 0 means none."""
    rows = [(n, t, m) for t, line in enumerate(merit) for n, m in enumerate(line) if m > 0]
    rows.sort()
    night, target = (np.array([row[i] for row in rows], np.int64) for i in (0, 1))
    start = night * 1440
    return Opportunities(
        datetime(2027, 1, 1, 12, tzinfo=UTC), len(merit), len(merit[0]), target, night, start, start + 60,
        start + 30, np.array([row[2] for row in rows]),
    )  # fmt: skip


def worths(merit: list[float], odds: list[float], persistence: float = 0.0, mu: float = 0.0) -> Floats:
    o = opportunities([merit])
    season = NowOrLater(o, np.ones(1), np.array([10]), np.array(odds), persistence, np.full(len(odds), mu))
    return season.worths


def weathers(chain: WeatherChain) -> list[tuple[tuple[int, ...], float]]:
    """Every weather of the season and its probability, the first night drawn from its odds."""
    found = []
    for states in product((0, 1), repeat=len(chain.odds)):
        probability = chain.odds[0] if states[0] else 1 - chain.odds[0]
        for night in range(len(states) - 1):
            clear = chain.clear_after(night)[states[night]]
            probability *= clear if states[night + 1] else 1 - clear
        found.append((states, float(probability)))
    return found


def lived(gain: list[float], states: tuple[int, ...], go: np.ndarray, visits: int, spacing: int) -> float:
    """What one weather brings under a policy: `go[k, n]`, whether to visit on clear night n with k left."""
    total, free = 0.0, 0
    for night, clear in enumerate(states):
        if clear and visits and night >= free and go[visits, night]:
            total, visits, free = total + gain[night], visits - 1, night + spacing
    return total


def rest(nights: int, spacing: int) -> Ints:
    return np.minimum(np.arange(nights) + spacing, nights)[None, :]


odds_of_nights = st.lists(st.floats(0.02, 0.98), min_size=2, max_size=6)


@st.composite
def seasons(draw: st.DrawFn) -> tuple[list[float], list[float], float]:
    odds = draw(odds_of_nights)
    gain = draw(st.lists(st.floats(-0.5, 1.0), min_size=len(odds), max_size=len(odds)))
    return odds, gain, draw(st.floats(0, 0.9))


def test_two_nights_by_hand() -> None:
    # night 0: seen with odds 1/2 for 0.8, else night 1 with odds 0.4 for 1.0; night 1: nothing after it
    assert worths([0.8, 1.0], [0.5, 0.4]) == pytest.approx([0.5 * 0.8 + 0.5 * 0.4, 0.4])
    # persistence 0.3 makes night 1 clear with 0.4 - 0.3 * 0.5 after a clouded night 0
    assert worths([0.8, 1.0], [0.5, 0.4], 0.3)[0] == pytest.approx(0.5 * 0.8 + 0.5 * 0.25)
    # ten minutes at 0.02 take 0.2 off the second chance
    assert worths([0.8, 1.0], [0.5, 0.4], 0.0, 0.02)[0] == pytest.approx(0.5 * 0.8 + 0.5 * 0.4 * 0.8)


def test_advantages_by_hand() -> None:
    o = opportunities([[0.8, 1.0]])
    mu = np.array([0.01, 0.02])
    found = NowOrLater(o, np.ones(1), np.array([10]), np.array([0.5, 0.4]), 0.0, mu).advantages
    # tonight 0.8 less 0.1 for its time, against 0.4 chances of 1.0 less 0.2; at the end nothing to wait for
    assert found == pytest.approx([0.7 - 0.4 * 0.8, 0.8])


@given(odds_of_nights, st.floats(0, 0.95))
def test_the_chain_keeps_the_odds_of_every_night(odds: list[float], persistence: float) -> None:
    chain = chain_of(np.array(odds), persistence)
    for night in range(len(odds) - 1):
        clouded, clear = chain.clear_after(night)
        assert 0 <= clouded <= clear + 1e-12 <= 1 + 2e-12
        assert odds[night] * clear + (1 - odds[night]) * clouded == pytest.approx(odds[night + 1])


def test_nights_days_apart_pull_less() -> None:
    odds, days = np.full(3, 0.4), np.array([100, 101, 104])
    assert chain_of(odds, 0.5, days).link == pytest.approx([0, 0.5, 0.125])


@given(seasons(), st.integers(1, 3), st.integers(1, 3), st.randoms(use_true_random=False))
def test_no_policy_lived_through_every_weather_brings_more(
    season: tuple[list[float], list[float], float], visits: int, spacing: int, random: object
) -> None:
    odds, gain, persistence = season
    chain, nights = chain_of(np.array(odds), persistence), len(odds)
    # a clouded eve before the season, unrelated to it, makes the value of the whole season readable
    whole = WeatherChain(np.append(0.5, chain.odds), np.append([0.0, 0.0], chain.link[1:]))
    table = later_of(np.array([[-9.0, *gain]]), whole, visits, rest(nights + 1, spacing))
    own = np.zeros((visits + 1, nights), np.bool_)
    for left in range(1, visits + 1):
        done = np.array(gain) + table.rested[left - 1, 0, 1:]
        own[left] = done > table.value[left, 0, 1:, 1]
    others = np.array([[random.random() < 0.6 for _ in range(nights)] for _ in range(visits + 1)])  # type: ignore[attr-defined]
    possible = weathers(chain)
    assert sum(p for _, p in possible) == pytest.approx(1)
    brought = [sum(p * lived(gain, s, go, visits, spacing) for s, p in possible) for go in (own, others)]
    assert table.value[visits, 0, 0, 0] == pytest.approx(brought[0], abs=1e-9)
    assert brought[1] <= brought[0] + 1e-9


@given(seasons(), st.floats(0, 0.03))
def test_a_worth_lies_between_one_try_and_certain_success(
    season: tuple[list[float], list[float], float], mu: float
) -> None:
    odds, gain, persistence = season
    merit = [max(0.01, g) for g in gain]
    found = worths(merit, odds, persistence, mu)
    assert (found >= np.array(odds) * merit - 1e-12).all()
    assert (found <= max(merit) + 1e-12).all()


@given(seasons(), st.integers(0, 5), st.floats(0, 1))
def test_better_odds_of_a_later_night_never_lower_a_worth(
    season: tuple[list[float], list[float], float], night: int, lift: float
) -> None:
    odds, gain, _ = season
    night = min(night, len(odds) - 1)
    better = [p + lift * (1 - p) if n == night else p for n, p in enumerate(odds)]
    merit = [max(0.01, g) for g in gain]
    before, after = worths(merit, odds), worths(merit, better)
    # a night's own odds help it only where its row is worth taking: else a clear night spends the visit
    helped = np.arange(len(odds)) < night
    assert (after[helped] >= before[helped] - 1e-12).all()
    later = (before[night] - odds[night] * merit[night]) / (1 - odds[night])
    if merit[night] >= later:
        assert after[night] >= before[night] - 1e-12


@given(seasons(), st.floats(0, 0.05))
def test_dearer_time_never_raises_a_worth(season: tuple[list[float], list[float], float], mu: float) -> None:
    odds, gain, persistence = season
    merit = [max(0.01, g) for g in gain]
    assert (worths(merit, odds, persistence, mu) <= worths(merit, odds, persistence) + 1e-12).all()


def test_a_short_season_is_worth_planning_early() -> None:
    odds = [0.4] * 6
    short, long = worths([0.8, 0.8, 0, 0, 0, 0], odds), worths([0.8] * 6, odds)
    # both lose by waiting for the second night, the short season by far the more
    assert short[0] - short[1] > 2 * (long[0] - long[1]) > 0


def test_further_visits_leave_fewer_second_chances() -> None:
    o = opportunities([[0.8, 0.8, 0.8], [0.8, 0.8, 0.8]])
    odds, mu = np.full(3, 0.4), np.zeros(3)
    visits, spacing_days = np.array([1, 2]), np.array([1, 1])
    season = NowOrLater(o, np.ones(2), np.array([9, 9]), odds, 0.0, mu, visits, spacing_days, np.arange(3))
    found = season.worths
    once, twice = found[o.target == 0], found[o.target == 1]
    # a second visit needs both remaining nights clear, or one of them less the first visit's claim
    assert once[0] == pytest.approx(0.4 * 0.8 + 0.6 * 0.8 * (1 - 0.6**2))
    assert twice[0] == pytest.approx(0.4 * 0.8 + 0.6 * 0.8 * 0.4**2)


def test_wants_no_visit_has_no_advantage() -> None:
    o = opportunities([[0.8, 0.8]])
    season = NowOrLater(o, np.ones(1), np.array([9]), np.full(2, 0.4), 0.0, np.zeros(2), np.array([0]))
    assert (season.advantages == -np.inf).all()
