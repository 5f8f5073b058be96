"""The season as the solver sees it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import Availability, Opportunities
from scheduler.pricing import limits_of, priced
from tests.small_plan import night, utc
from tests.small_season import ANDROMEDA, ORION, scenario

START = date(2027, 1, 1)


@given(
    days=st.sets(st.integers(0, 80), min_size=1, max_size=40),
    week=st.none() | st.integers(1, 7),
    month=st.none() | st.integers(1, 20),
)
def test_limits_are_weeks_and_months_that_hold_more_free_nights_than_allowed(
    days: set[int], week: int | None, month: int | None
) -> None:
    evenings = [START + timedelta(days=day) for day in sorted(days)]
    limits = limits_of(Availability(nights_per_week=week, nights_per_month=month), evenings)
    for limit in limits:
        assert len(limit.nights) > limit.most
        together = [evenings[position] for position in limit.nights]
        same_week = len({evening.isocalendar()[:2] for evening in together}) == 1
        same_month = len({(evening.year, evening.month) for evening in together}) == 1
        assert (same_week and limit.most == week) or (same_month and limit.most == month)
    weeks = Counter(evening.isocalendar()[:2] for evening in evenings)
    months = Counter((evening.year, evening.month) for evening in evenings)
    full_weeks = sum(count > (week or 7) for count in weeks.values())
    assert len(limits) == full_weeks + sum(count > (month or 31) for count in months.values())


def test_nights_behind_us_and_announced_ones_use_up_the_limits() -> None:
    evenings = [date(2027, 1, 11) + timedelta(days=day) for day in range(3)]  # Monday to Wednesday
    week = Availability(nights_per_week=2)
    assert limits_of(week, evenings) == ((((0, 1, 2)), 2),)
    assert limits_of(week, evenings, [date(2027, 1, 10)]) == ((((0, 1, 2)), 2),)
    assert limits_of(week, evenings, [date(2027, 1, 16)]) == ((((0, 1, 2)), 1),)
    assert limits_of(week, evenings, announced=[1]) == ((((0, 2)), 1),)
    assert limits_of(week, evenings, [date(2027, 1, 16)] * 3, announced=[1]) == ((((0, 2)), 0),)


def rows(*entries: tuple[int, int, float]) -> Opportunities:
    """Return opportunities of (target, night, merit), an hour each."""
    target, on = (np.array([entry[i] for entry in entries], dtype=np.int64) for i in (0, 1))
    start = on * 1440 + 1200
    merit = np.array([entry[2] for entry in entries])
    return Opportunities(
        utc(START, 0), 2, int(on.max()) + 1, target, on, start, start + 60, start + 30, merit
    )


def test_a_last_chance_is_worth_its_odds_and_an_earlier_one_more() -> None:
    of = scenario(ORION, ANDROMEDA)
    free = tuple(replace(night(START + timedelta(days=day)), clear_odds=0.4) for day in range(3))
    season = priced(of, free, rows((0, 0, 0.8), (0, 1, 0.8), (0, 2, 0.8), (1, 2, 0.8)))
    value = season.problem.value
    assert np.isclose(value[2], 0.4 * 3 * 0.8)
    assert np.isclose(value[3], 0.4 * 3 * 0.8)
    assert value[0] > value[1] > value[2]
    assert value.max() <= 3 * 0.8


def test_priority_scales_the_worth() -> None:
    free = (night(START),)
    low, high = (
        priced(scenario(replace(ORION, priority=priority), ANDROMEDA), free, rows((0, 0, 0.5))).problem.value[
            0
        ]
        for priority in (1, 5)
    )
    assert np.isclose(high, 5 * low)


def test_on_the_last_night_taking_is_better_than_leaving() -> None:
    free = (night(START), night(START + timedelta(days=1)))
    season = priced(scenario(ORION, ANDROMEDA), free, rows((0, 0, 0.8), (0, 1, 0.8)))
    assert season.advantage[1] > season.advantage[0] > 0


def test_a_night_out_costs_its_clear_odds_and_nothing_where_it_is_never_clear() -> None:
    free = tuple(replace(night(START + timedelta(days=day)), clear_odds=0.4) for day in range(3))
    free = (*free[:2], replace(free[2], clear_odds=0.0))
    of = scenario(ORION, ANDROMEDA)
    of = replace(of, routine=replace(of.routine, outing_cost=2.0))
    season = priced(of, free, rows((0, 0, 0.8), (0, 1, 0.8), (0, 2, 0.8)))
    assert np.allclose(season.problem.outing_cost, [0.8, 0.8, 0.0])


def test_guests_come_anyhow_so_their_night_costs_nothing_more() -> None:
    of = scenario(ORION, ANDROMEDA)
    free = tuple(
        replace(night(START + timedelta(days=day)), clear_odds=0.4, guests=8 * day) for day in range(2)
    )
    cost = priced(of, free, rows((0, 0, 0.8), (0, 1, 0.8))).problem.outing_cost
    assert np.asarray(cost).tolist() == [0.4 * of.routine.outing_cost, 0.0]
