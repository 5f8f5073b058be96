"""The odds a plan tells: counted from the years lived through, the same twice, and right for fresh years."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from scheduler import simulation
from scheduler.check import breaches_of
from scheduler.domain import Availability, ClearOdds, FreeNight, Plan, Target
from scheduler.errors import Cancelled, InvalidValue
from scheduler.expectation import last_good_nights, odds_of, told_of
from scheduler.export import plan_to_json
from scheduler.following import Following
from scheduler.policy import PricedOnce
from scheduler.simulation import Lived, live_through
from scheduler.year import plan_year
from tests.benchmarks.instances import make
from tests.scheduler.test_following import planned
from tests.small_plan import night
from tests.small_season import ANDROMEDA, HERCULES, JUPITER, OMEGA, ORION, scenario

TARGETS = tuple(Target(f"T {i}", ORION.kind, 80.0, 0.0) for i in range(4))
FREE: tuple[FreeNight, ...] = tuple(night(date(2027, 1, day)) for day in (1, 8, 15))


def four_years() -> Lived:
    """Four targets, three nights, four years; the last target is never done."""
    season = make(4, 3, seed=1, hours=2.0).season()
    finished = np.array([[0, 0, 1, 3], [0, 1, 2, 3], [0, 2, 3, 3], [1, 3, 3, 3]])
    done = np.where(finished < 3, season.visits, 0)
    return Lived(season, done, np.ones(4), finished, np.array([1, 2, 3, 1]))


def test_odds_and_numbers_are_counted_from_the_years() -> None:
    odds = odds_of(told_of(four_years(), of="", seed=9), four_years().season, TARGETS, FREE)
    assert [one.completion_odds for one in odds.targets] == [1.0, 0.75, 0.5, 0.0]
    assert (odds.years, odds.seed) == (4, 9)
    assert odds.expected == 2.25
    assert odds.expected_error == pytest.approx(np.std([3, 3, 2, 1], ddof=1) / 2)
    assert odds.middle == 2.5
    assert odds.nights_out == 1.75


def test_milestones_are_the_evenings_by_which_half_of_the_years_are_there() -> None:
    odds = odds_of(told_of(four_years(), of="", seed=0), four_years().season, TARGETS, FREE)
    # quarter, half and three quarters are done after nights 0 0 0 1, then 0 1 2 -, then 1 2 - -
    assert [(stone.share, stone.evening) for stone in odds.milestones] == [
        (0.25, date(2027, 1, 1)), (0.5, date(2027, 1, 8)), (0.75, date(2027, 1, 15)), (0.9, None),
        (1.0, None),
    ]  # fmt: skip


def test_the_last_good_nights_are_those_that_show_nearly_the_best() -> None:
    season = make(20, 10, seed=3, hours=3.0).season()
    worth = season.wishes.worth
    for target, nights in enumerate(last_good_nights(season)):
        best = worth[target].max()
        if not np.isfinite(best):
            assert nights == []
            continue
        assert nights == sorted(nights)
        assert (worth[target][nights] >= 0.8 * best).all()
        assert not (worth[target][nights[-1] + 1 :] >= 0.8 * best).any()
    shut = replace(season, odds=np.zeros(10))
    assert last_good_nights(shut) == [[]] * 20


def test_the_odds_hold_in_fresh_years() -> None:
    season, rows, mu = planned()
    policy = Following(season, rows, pricing=PricedOnce(season, mu, 0.95, 40))
    told, came = (live_through(season, policy, years, seed=seed) for years, seed in ((300, 1), (300, 2)))
    error = np.hypot(told.standard_error, came.standard_error)
    off = (told.completion_odds - came.completion_odds) / error
    assert np.abs(off).max() < 4
    assert 0.4 < np.mean(off**2) < 1.6
    # figures for another season are not the odds of this one
    other = Following(season, rows[:0], outing_cost=np.full(len(season.odds), 1.0), pricing=policy.pricing)
    strange = live_through(season, other, 300, seed=2)
    assert np.mean(((told.completion_odds - strange.completion_odds) / error) ** 2) > 3


def test_two_processes_live_through_the_same_years_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(simulation, "YEARS_A_BATCH", 25)
    season, rows, mu = planned()
    policy = Following(season, rows, pricing=PricedOnce(season, mu, 0.95, 40))
    parts: list[float] = []
    one = live_through(season, policy, 60, seed=4)
    two = live_through(season, policy, 60, seed=4, workers=2, report=parts.append)
    for name in ("done", "value", "finished", "outings"):
        assert getattr(one, name).tobytes() == getattr(two, name).tobytes()
    assert parts == pytest.approx([1 / 3, 2 / 3, 1.0])
    assert len(one.done) == 60


@pytest.mark.parametrize("workers", [1, 2])
def test_living_through_years_stops_when_asked(workers: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(simulation, "YEARS_A_BATCH", 25)
    season, rows, mu = planned()
    policy = Following(season, rows, pricing=PricedOnce(season, mu, 0.95, 40))
    stop = threading.Event()
    stop.set()
    with pytest.raises(Cancelled):
        live_through(season, policy, 60, seed=4, workers=workers, cancel=stop)


LIMITED = scenario(
    ORION, ANDROMEDA, replace(JUPITER, visits=3, spacing_days=5), HERCULES, OMEGA,
    availability=Availability(nights_per_week=2),
)  # fmt: skip


@cache
def year_with_odds() -> Plan:
    return plan_year(LIMITED, seconds=0.3, years=40)


def test_a_plan_tells_sound_odds() -> None:
    odds = year_with_odds().odds
    assert odds is not None
    assert breaches_of(year_with_odds()) == ()
    assert odds.of("NGC 5139").completion_odds == 0.0
    assert odds.of("NGC 5139").last_nights == ()
    assert odds.of("M 31").completion_odds > 0.9
    assert odds.of("Jupiter").completion_odds > 0
    assert [one.target for one in odds.at_risk if one.target == "NGC 5139"] == []


def test_the_same_seed_tells_the_same_odds_byte_for_byte() -> None:
    again = plan_year(LIMITED, seconds=0.3, years=40)
    assert plan_to_json(again) == plan_to_json(year_with_odds())


def test_odds_leave_the_plan_itself_as_it_is() -> None:
    bare = plan_year(LIMITED, seconds=0.3)
    assert bare.odds is None
    assert bare == replace(year_with_odds(), odds=None)


def test_cloudier_skies_promise_less() -> None:
    cloudier = replace(LIMITED, clear_odds=ClearOdds((0.1,) * 12, 0.3))
    more, fewer = year_with_odds().odds, plan_year(cloudier, seconds=0.3, years=40).odds
    assert more is not None
    assert fewer is not None
    assert more.expected > fewer.expected + 0.5


def test_years_and_workers_out_of_range_are_refused() -> None:
    for asked in ({"years": -1}, {"years": 100_001}, {"workers": 0}):
        with pytest.raises(InvalidValue, match=next(iter(asked))):
            plan_year(LIMITED, **asked)  # type: ignore[arg-type]
