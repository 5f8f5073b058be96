"""The policy of a published plan holds to it while it stands, keeps every limit, and loses little."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pytest

from scheduler.assignment import NightLimit, assign
from scheduler.domain import Opportunities
from scheduler.domain.opportunity import Floats, Ints
from scheduler.following import Following
from scheduler.outings import share_spent_outside
from scheduler.policy import PricedOnce, WeatherSeason, first_prices
from scheduler.prices import chain_of
from scheduler.rehearsal import rehearsed
from scheduler.simulation import draw_weather, live
from tests.benchmarks.instances import make

NIGHTS = 14
WEEKS = tuple(NightLimit((night, night + 1, night + 2), 1) for night in range(0, 12, 3))


@cache
def planned(limits: tuple[NightLimit, ...] = ()) -> tuple[WeatherSeason, Ints, Floats]:
    """A season, the rows of its plan, and its prices."""
    instance = make(40, NIGHTS, seed=7, hours=2.0)
    season = instance.season()
    mu = first_prices(season, 60)
    problem = replace(instance.problem(mu), limits=limits)
    return season, assign(problem, seconds=1.0).rows, mu


class Watched:
    """Looks on while nights are spent."""

    def __init__(self, policy: Following, only: int | None = None) -> None:
        self.policy, self.only = policy, only
        self.broken: list[str] = []
        self.asked = self.kept = self.extra = 0
        self.out: list[tuple[int, int]] = []

    def programmes(self, night: int, years: Ints, left: Ints, ready: Ints) -> Sequence[Ints]:
        chosen = self.policy.programmes(night, years, left, ready)
        season, published = self.policy.season, self.policy.published
        o = season.opportunities
        before = published[o.night[published] < night]
        done = np.bincount(o.target[before], minlength=o.targets)
        for year, mine, free, rows in zip(years.tolist(), left, ready, chosen, strict=True):
            missing = (mine > season.visits - done).any()
            printed = published[o.night[published] == night]
            due = printed[(mine[o.target[printed]] > 0) & (free[o.target[printed]] <= night)]
            got = np.isin(o.target[due], o.target[rows])
            if self.only in (None, night):
                self.asked, self.kept = self.asked + len(due), self.kept + int(got.sum())
            if not missing and len(due):
                self.extra += len(rows) - len(due)
            if not missing and self._allowed(year, night) and not np.isin(due, rows).all():
                self.broken.append(f"year {year}, night {night}")
            self.out += [(year, night)] if len(rows) else []
        return chosen

    def _allowed(self, year: int, night: int) -> bool:
        """Whether catching up has left the night its outing."""
        limits = [limit for limit in self.policy.limits if night in limit.nights]
        return all(sum((year, one) in self.out for one in limit.nights) < limit.most for limit in limits)


def watched(steadiness: float = 0.05, limits: tuple[NightLimit, ...] = (), **more: Floats) -> Watched:
    season, rows, mu = planned(limits)
    pricing = PricedOnce(season, mu, 0.95, 40)
    watch = Watched(Following(season, rows, limits, steadiness=steadiness, pricing=pricing, **more))
    live(season, watch, draw_weather(season.chain, 60, seed=5))
    return watch


@pytest.mark.parametrize("limits", [(), WEEKS])
def test_while_the_plan_stands_a_clear_night_is_spent_as_printed(limits: tuple[NightLimit, ...]) -> None:
    watch = watched(limits=limits)
    assert watch.asked > 200
    assert watch.broken == []


def test_time_left_beside_what_is_printed_is_filled() -> None:
    season, rows, mu = planned()
    watch = Watched(Following(season, rows[::3], pricing=PricedOnce(season, mu, 0.95, 40)))
    live(season, watch, draw_weather(season.chain, 30, seed=5))
    assert watch.broken == []
    assert watch.extra >= 30


def test_a_night_out_is_kept_for_the_printed_night_of_its_week() -> None:
    season, rows, mu = planned()
    night = season.opportunities.night
    printed = rows[night[rows] == 5]
    week = NightLimit((3, 4, 5, 6), 1)
    clear = np.zeros((1, NIGHTS), np.bool_)
    clear[0, 3:7] = True
    policy = Following(season, printed, (week,), pricing=PricedOnce(season, mu, 0.95, 40))
    watch = Watched(policy)
    live(season, watch, clear)
    assert watch.out == [(0, 5)]
    # nothing printed keeps the first of them
    free = Watched(Following(season, rows[:0], (week,), pricing=PricedOnce(season, mu, 0.95, 40)))
    live(season, free, clear)
    assert len(free.out) == 1
    # a night spent at home takes none of the nights out
    dear = np.where(np.isin(np.arange(NIGHTS), (3, 4)), 1e6, 0.0)
    home = Watched(Following(season, rows[:0], (week,), dear, pricing=PricedOnce(season, mu, 0.95, 40)))
    live(season, home, clear)
    assert len(home.out) == 1
    assert home.out[0][1] in (5, 6)


def test_an_announced_night_is_spent_as_printed_whatever_came_before() -> None:
    season, rows, mu = planned()
    night = season.opportunities.night
    full = max(set(night[rows].tolist()) - {0}, key=lambda one: int((night[rows] == one).sum()))
    kept = {}
    for announced in ((), (full,)):
        policy = Following(season, rows, pricing=PricedOnce(season, mu, 0.95, 40), announced=announced)
        watch = Watched(policy, only=full)
        live(season, watch, draw_weather(season.chain, 40, seed=5))
        kept[announced] = watch.kept / watch.asked
    assert kept[()] < 1
    assert kept[(full,)] == 1


def test_in_a_year_without_cloud_everything_printed_is_done() -> None:
    season, rows, mu = planned()
    policy = Following(season, rows, pricing=PricedOnce(season, mu, 0.95, 40))
    lived = live(season, policy, np.ones((1, NIGHTS), np.bool_))
    printed = np.bincount(season.opportunities.target[rows], minlength=season.opportunities.targets)
    assert (lived.done[0] >= printed).all()


def test_steadiness_keeps_more_of_what_was_printed() -> None:
    kept = [watched(steadiness) for steadiness in (0.0, 0.1, 1.0)]
    shares = [watch.kept / watch.asked for watch in kept]
    assert shares[0] < shares[1] < shares[2]


def test_no_group_of_nights_sees_more_outings_than_it_allows() -> None:
    out = watched(limits=WEEKS).out
    for week in WEEKS:
        counts = np.bincount([year for year, night in out if night in week.nights], minlength=60)
        assert counts.max() == week.most
    free = watched().out
    assert len(free) > len(out)


def test_what_is_not_printed_is_not_gone_out_for_unless_it_is_worth_it() -> None:
    season, rows, _ = planned()
    dear = watched(outing_cost=np.full(NIGHTS, 1e6)).out
    printed = set(season.opportunities.night[rows].tolist())
    assert dear
    assert {night for _, night in dear} <= printed
    modest = watched(outing_cost=np.full(NIGHTS, 2.0)).out
    assert len(dear) < len(modest) <= len(watched().out)


def test_holding_to_the_plan_costs_little() -> None:
    season, rows, mu = planned()
    clear = draw_weather(season.chain, 100, seed=3)
    free = live(season, PricedOnce(season, mu, 0.95, 40), clear)
    held = live(season, Following(season, rows, pricing=PricedOnce(season, mu, 0.95, 40)), clear)
    assert held.value.sum() >= 0.98 * free.value.sum()


Row = tuple[int, int, int, int, float]
"""Target, night, start and end within it, merit."""


def small_season(
    rows: list[Row], days: list[int], limits: tuple[NightLimit, ...] = (), weights: tuple[float, ...] = (),
    odds: float = 0.5,
) -> WeatherSeason:  # fmt: skip
    """A season of these rows, every target wanted once for half an hour."""
    columns = np.array(sorted(rows, key=lambda row: (row[1], row[0], row[2])))
    t, n, s, e = (columns[:, i].astype(np.int64) for i in range(4))
    targets, nights = int(t.max()) + 1, len(days)
    day = np.array(days, np.int64)
    start, end = s + 1440 * n, e + 1440 * n
    o = Opportunities(
        datetime(2027, 1, 1, 12, tzinfo=UTC), targets, nights, t, n, start, end, (start + end) // 2,
        columns[:, 4].copy(),
    )  # fmt: skip
    chain = chain_of(np.full(nights, odds), 0.0, day)
    return WeatherSeason(
        o, np.array(weights or (3.0,) * targets), np.full(targets, 30), np.ones(targets, np.int64),
        np.ones(targets, np.int64), day, np.full(nights, odds), 0.0, 4,
        share_spent_outside(chain, limits, day) if limits else None,
    )  # fmt: skip


def rows_at(season: WeatherSeason, *places: tuple[int, int]) -> Ints:
    o = season.opportunities
    return np.array([np.flatnonzero((o.target == t) & (o.night == n))[0] for t, n in places], np.int64)


@pytest.mark.parametrize("last_day", [9, 7])
def test_a_year_that_catches_up_keeps_its_limits_and_one_site_a_night(last_day: int) -> None:
    # target 0 was printed for the clouded first night; caught up on the second, it takes the third's place
    week = (NightLimit((1, 2), 1),)
    season = small_season(
        [(0, 0, 0, 60, 0.9), (0, 1, 0, 60, 0.9), (1, 2, 0, 60, 0.9)], [0, 7, last_day], week
    )
    policy = Following(season, rows_at(season, (0, 0), (1, 2)), week)
    lived = live(season, policy, np.array([[False, True, True]]))
    assert lived.outings.tolist() == [1]


def test_no_lived_year_breaks_a_limit() -> None:
    season, rows, mu = planned(WEEKS)
    several = (*WEEKS, NightLimit(tuple(range(NIGHTS)), 4))
    watch = Watched(Following(season, rows, several, pricing=PricedOnce(season, mu, 0.95, 40)))
    live(season, watch, draw_weather(season.chain, 150, seed=8))
    for limit in several:
        counts = np.bincount([year for year, night in watch.out if night in limit.nights], minlength=150)
        assert counts.max() <= limit.most


def test_a_poor_night_does_not_take_the_place_of_a_splendid_one_though_time_is_ample() -> None:
    week = (NightLimit((0, 1), 1),)
    season = small_season([(0, 0, 0, 300, 0.6), (1, 1, 0, 300, 1.0)], [0, 2], week, (1.0, 5.0), 0.9)
    lived = live(season, rehearsed(Following(season, np.zeros(0, np.int64), week)), np.array([[True, True]]))
    assert lived.done.tolist() == [[0, 1]]


def test_a_poor_trip_does_not_take_the_place_of_a_splendid_one() -> None:
    # nights 0 and 2 are away, 1 and 3 at home on the same dates; one trip is allowed
    limits = NightLimit((0, 1), 1), NightLimit((2, 3), 1), NightLimit((0, 2), 1)
    rows: list[Row] = [(0, 0, 0, 64, 0.3), *((t, 2, 0, 64, 1.0) for t in range(1, 9))]
    season = small_season(rows, [0, 0, 10, 10], limits, (1.0, *(5.0,) * 8), 0.9)
    lived = live(
        season, rehearsed(Following(season, np.zeros(0, np.int64), limits)), np.ones((1, 4), np.bool_)
    )
    assert lived.done[0, 0] == 0
    assert lived.value[0] >= 5.0


def test_a_visit_announced_for_later_is_not_made_before() -> None:
    rows: list[Row] = [(0, 0, 0, 60, 1.0), (0, 1, 0, 60, 0.6), (1, 0, 60, 120, 0.9)]
    season = small_season(rows, [0, 7])
    published = rows_at(season, (1, 0), (0, 1))
    clear = np.array([[True, True], [True, False]])
    held = live(season, Following(season, published, announced=(1,)), clear)
    assert held.finished.tolist() == [[1, 0], [2, 0]]
    free = live(season, Following(season, published), clear)
    assert free.finished[0, 0] == 0


def dark_for_an_hour(trips: int = 6) -> tuple[WeatherSeason, tuple[NightLimit, ...]]:
    """Six trips, of which two may be made, all to the same eight targets; four of them fit into a night.

    Something else, of little worth, shows there all night.
    """
    rows: list[Row] = [(t, n, 0, 140, 0.9) for t in range(8) for n in range(1, trips + 1)]
    rows += [(8, n, 0, 600, 0.1) for n in range(1, trips + 1)] + [(9, 0, 0, 60, 0.9)]
    limits = (NightLimit(tuple(range(1, trips + 1)), 2),)
    return small_season(rows, [7 * n for n in range(trips + 1)], limits, odds=0.35), limits


def test_a_trip_is_not_put_off_for_later_ones_that_are_put_off_too() -> None:
    season, limits = dark_for_an_hour()
    published = rows_at(season, (9, 0), *((t, 1) for t in range(4)), *((t, 2) for t in range(4, 8)))
    policy = rehearsed(Following(season, published, limits, np.full(7, 1.0)))
    lived = live(season, policy, draw_weather(season.chain, 200, seed=4))
    assert lived.completion_odds[:8].min() >= 0.35 * 0.9
    assert lived.value.mean() >= 15.0


@pytest.mark.parametrize("better", [0, 1])
def test_an_evening_is_spent_where_it_brings_most(better: int) -> None:
    one_of_both = (NightLimit((0, 1), 1),)
    rows: list[Row] = [(0, 1 - better, 0, 60, 0.6), (0, better, 0, 60, 0.9), (1, better, 0, 120, 0.5)]
    season = small_season(rows, [0, 0], one_of_both)
    lived = live(season, Following(season, np.zeros(0, np.int64), one_of_both), np.ones((1, 2), np.bool_))
    assert lived.done.tolist() == [[1, 1]]
    assert lived.finished.tolist() == [[better, better]]
