"""What a log teaches of the months and of persistence."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import ClearOdds, Outcome, OutcomeLog, Went
from scheduler.weather import learned_odds_of
from scheduler.weather.learned import clear_share_of, logged_weather_of, month_odds, pooled_persistence

from .logs import FIRST, chain_log, evenings, given_odds, log_of, logs, night, outcomes

EVEN = ClearOdds((0.4,) * 12, 0.3)


@given(given_odds(), logs())
def test_odds_stay_odds(given: ClearOdds, log: OutcomeLog) -> None:
    learned = learned_odds_of(given, log)  # `ClearOdds` refuses anything beyond 0..1 and 0..0.95
    assert len(learned.monthly) == 12


@given(given_odds(), st.lists(evenings, max_size=20))
def test_no_log_and_nights_nobody_could_go_leave_what_was_given(given: ClearOdds, nights: list[date]) -> None:
    log = OutcomeLog(tuple(Outcome(evening, Went.COULD_NOT_GO) for evening in nights))
    assert learned_odds_of(given, log) is given


@given(given_odds(), logs(), evenings, st.floats(0.0, 0.95))
def test_a_clear_night_more_lowers_no_month_and_a_clouded_one_raises_none(
    given: ClearOdds, log: OutcomeLog, evening: date, persistence: float
) -> None:
    monthly = np.array(given.monthly)
    without = OutcomeLog(tuple(one for one in log.lines if one.evening != evening))
    before = month_odds(monthly, logged_weather_of(without), persistence)
    for went, sign in ((Went.CLEAR, 1.0), (Went.CLOUDED_OUT, -1.0)):
        more = logged_weather_of(without.with_line(Outcome(evening, went)))
        assert (sign * (month_odds(monthly, more, persistence) - before) >= -1e-12).all()


@given(given_odds(), logs(min_size=1), st.floats(0.0, 0.95))
def test_a_clouded_night_corrected_to_clear_lowers_no_month(
    given: ClearOdds, log: OutcomeLog, persistence: float
) -> None:
    monthly = np.array(given.monthly)
    corrected = log.with_line(Outcome(log.lines[0].evening, Went.CLEAR))
    clouded = log.with_line(Outcome(log.lines[0].evening, Went.CLOUDED_OUT))
    better, worse = (month_odds(monthly, logged_weather_of(one), persistence) for one in (corrected, clouded))
    assert (better >= worse - 1e-12).all()
    month = log.lines[0].evening.month - 1
    assert better[month] > worse[month]


@given(given_odds(), st.lists(evenings, unique=True, max_size=30).flatmap(
    lambda days: st.tuples(*[outcomes(day) for day in days])), st.randoms())  # fmt: skip
def test_the_order_of_lines_does_not_matter(
    given: ClearOdds, lines: tuple[Outcome, ...], random: object
) -> None:
    shuffled = list(lines)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert learned_odds_of(given, OutcomeLog(tuple(shuffled))) == learned_odds_of(given, OutcomeLog(lines))


@given(given_odds(), logs(min_size=1))
def test_only_the_last_line_of_an_evening_counts(given: ClearOdds, log: OutcomeLog) -> None:
    standing = OutcomeLog(log.standing)
    assert learned_odds_of(given, log) == learned_odds_of(given, standing)


def test_a_later_line_corrects_an_earlier_one_and_may_take_it_back() -> None:
    clear, clouded, away = night(0), night(0, Went.CLOUDED_OUT), night(0, Went.COULD_NOT_GO)
    assert learned_odds_of(EVEN, log_of(clouded, clear)) == learned_odds_of(EVEN, log_of(clear))
    assert learned_odds_of(EVEN, log_of(clear, clouded)) == learned_odds_of(EVEN, log_of(clouded))
    assert learned_odds_of(EVEN, log_of(clear, away)) is EVEN


def test_the_formula_by_hand() -> None:
    # Four nights of January, three clear; r = 0.3 leaves 0.7 / 1.3 of each: (1.615 + 8) / (2.154 + 20).
    nights = logged_weather_of(log_of(night(0), night(5), night(10), night(15, Went.CLOUDED_OUT)))
    monthly = month_odds(np.full(12, 0.4), nights, 0.3)
    assert monthly[0] == pytest.approx(0.43403, abs=1e-5)
    # Its neighbours' prior moves by a quarter of that, and nothing is logged for them.
    assert monthly[[1, 11]] == pytest.approx(0.4 + 0.25 * 0.03403, abs=1e-5)
    assert monthly[2:11].tolist() == [0.4] * 9


@pytest.mark.parametrize(("went", "usable_min", "share"), [
    (Went.CLEAR, None, 1.0), (Went.CLEAR, 20, 1.0), (Went.CLOUDED_OUT, None, 0.0), (Went.CLOUDED_OUT, 0, 0.0),
    (Went.PART_CLEAR, None, 0.5), (Went.PART_CLEAR, 90, 0.5), (Went.PART_CLEAR, 300, 1.0),
])  # fmt: skip
def test_a_night_counts_by_its_clear_part(went: Went, usable_min: int | None, share: float) -> None:
    assert clear_share_of(night(0, went, usable_min)) == share


def test_years_of_a_known_chain_are_learned() -> None:
    # Sampling errors of 3650 nights: persistence 0.016, a month's odds (about 300 nights) 0.04.
    learned = learned_odds_of(ClearOdds((0.2,) * 12, 0.0), chain_log(3650, 0.6, 0.4, seed=3))
    assert learned.persistence == pytest.approx(0.4, abs=0.05)
    assert np.mean(learned.monthly) == pytest.approx(0.57, abs=0.03)  # 0.6, less what 0.2 still weighs


def test_the_season_alone_is_no_persistence() -> None:
    # Always clear in summer, never in winter, and no memory: deseasonalised, following nights are strangers.
    random = np.random.default_rng(5)
    summer = np.array([FIRST.toordinal() + day for day in range(1460)])
    odds = np.array([0.8 if 4 <= date.fromordinal(day).month <= 9 else 0.2 for day in summer.tolist()])
    came = random.random(1460) < odds
    log = OutcomeLog(
        tuple(night(day, Went.CLEAR if one else Went.CLOUDED_OUT) for day, one in enumerate(came))
    )
    assert np.corrcoef(came[:-1], came[1:])[0, 1] > 0.3
    assert learned_odds_of(ClearOdds((0.5,) * 12, 0.0), log).persistence < 0.08


def test_only_nights_that_follow_each_other_tell_of_persistence() -> None:
    apart = logged_weather_of(log_of(*(night(2 * day, Went.CLEAR) for day in range(40))))
    assert pooled_persistence(np.full(40, 0.4), apart, 0.3) == 0.3


def test_few_pairs_leave_the_persistence_near_what_was_given() -> None:
    # Two pairs, all four ends 0.5 off: 2 x 0.25 that agree, beside twenty of variance 1/4 at 0.3.
    three = logged_weather_of(log_of(*(night(day) for day in range(3))))
    assert pooled_persistence(np.full(3, 0.5), three, 0.3) == pytest.approx((2 * 1.0 + 20 * 0.3) / 22)


def test_odds_given_badly_do_not_look_like_persistence() -> None:
    always_clear = log_of(*(night(day) for day in range(60)))
    assert learned_odds_of(EVEN, always_clear).persistence < 0.4


def test_the_weight_of_a_night_is_that_of_independent_ones() -> None:
    """The mean of n nights of a chain scatters as that of n (1 - r) / (1 + r) independent ones."""
    odds, persistence, nights = 0.4, 0.5, 200
    random = np.random.default_rng(11)
    clear = random.random(4000) < odds
    total = clear.astype(float)
    for _ in range(nights - 1):
        clear = random.random(4000) < odds + persistence * (clear - odds)
        total += clear
    weight = (1 - persistence) / (1 + persistence)
    # 2.2 % sampling error of a variance from 4000 runs; 0.7 % from the finite run of nights.
    assert np.var(total / nights) == pytest.approx(odds * (1 - odds) / (nights * weight), rel=0.08)


def test_what_was_given_is_not_touched() -> None:
    given = replace(EVEN)
    learned_odds_of(given, log_of(night(0)))
    assert given == EVEN
