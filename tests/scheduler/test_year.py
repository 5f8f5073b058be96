"""The whole road, from scenario to judged plan."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest

from scheduler import year
from scheduler.assignment import Assignment, Problem
from scheduler.check import breaches_of
from scheduler.domain import EveningRule, Plan, Progress, Reason, Report
from scheduler.errors import Cancelled, OutsideEphemeris
from scheduler.export import plan_to_json
from scheduler.year import plan_year
from tests.small_season import (
    ALBIREO,
    ANDROMEDA,
    HERCULES,
    JUPITER,
    OMEGA,
    ORION,
    POINT,
    scenario,
)

SMALL = scenario(ORION, ANDROMEDA, replace(JUPITER, visits=3, spacing_days=5), OMEGA, HERCULES)


@pytest.fixture(scope="module")
def small() -> Plan:
    return plan_year(SMALL, seconds=1.0)


def test_a_plan_is_sound_and_close_to_its_bound(small: Plan) -> None:
    assert breaches_of(small) == ()
    assert 0 < small.objective <= small.bound * (1 + 1e-9)
    assert small.gap <= 0.005


def test_what_can_be_seen_is_placed_and_what_cannot_is_explained(small: Plan) -> None:
    placed = [visit.target for visit in small.visits]
    assert sorted(placed) == ["Jupiter", "Jupiter", "Jupiter", "M 13", "M 31", "M 42"]
    assert {entry.target: entry.reason for entry in small.unplaced} == {"NGC 5139": Reason.NEVER_HIGH}


def test_a_visit_says_how_the_target_stands_and_why_then(small: Plan) -> None:
    orion = next(visit for visit in small.visits if visit.target == "M 42")
    assert orion.sight.constellation == "Orion"
    assert 20 <= orion.sight.altitude_deg <= 30
    assert orion.sight.sun_altitude_deg < -18
    assert orion.why.startswith("shows at ")


def test_free_nights_have_standbys_that_are_not_on_their_programmes(small: Plan) -> None:
    without = {night.evening for night in small.nights} - {standby.evening for standby in small.standbys}
    planned = {visit.evening for visit in small.visits}
    assert without <= planned  # a night in hand has standbys, a programme may leave no time for any
    programmes = {(visit.target, visit.evening) for visit in small.visits}
    assert not programmes & {(standby.target, standby.evening) for standby in small.standbys}


def test_a_target_wanted_often_is_no_standby_within_its_spacing(small: Plan) -> None:
    visits = [visit.evening for visit in small.visits if visit.target == "Jupiter"]
    standbys = [standby.evening for standby in small.standbys if standby.target == "Jupiter"]
    assert all(abs((visit - standby).days) >= 5 for visit in visits for standby in standbys)


def test_the_same_input_and_seed_give_the_same_bytes(small: Plan) -> None:
    assert plan_to_json(plan_year(SMALL, seconds=1.0)) == plan_to_json(small)


def test_progress_rises_to_the_end_and_carries_the_bound() -> None:
    heard: list[Progress] = []
    plan_year(SMALL, seconds=1.0, report=heard.append)
    fractions = [progress.fraction for progress in heard]
    assert fractions == sorted(fractions)
    assert (fractions[0], fractions[-1]) == (0.0, 1.0)
    assert heard[-1].objective is not None
    assert heard[-1].bound is not None


def test_progress_does_not_fall_when_the_search_ends_before_the_writing_begins(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def searched_to_the_end(problem: Problem, *, report: Report, **_: object) -> Assignment:
        report(Progress("improving the plan", 1.0))
        nothing = np.zeros(0, np.int64)
        return Assignment(nothing, nothing, 0.0, 0.0)

    monkeypatch.setattr(year, "assign", searched_to_the_end)
    heard: list[float] = []
    plan_year(SMALL, report=lambda progress: heard.append(progress.fraction))
    assert heard == sorted(heard)


def test_work_stops_when_asked() -> None:
    stop = threading.Event()
    stop.set()
    with pytest.raises(Cancelled):
        plan_year(SMALL, cancel=stop)


def test_a_season_outside_the_ephemeris_says_what_it_covers() -> None:
    with pytest.raises(OutsideEphemeris) as outside:
        plan_year(replace(SMALL, season=replace(SMALL.season, start=date(2080, 1, 1))))
    assert outside.value.last.year == 2053


@pytest.mark.parametrize(
    "empty",
    [
        scenario(ANDROMEDA, site=POINT, start=date(2027, 6, 1)),
        scenario(OMEGA),
        scenario(ORION, rule=EveningRule(start=time(13), finish=time(14))),
    ],
    ids=["midnight sun", "nothing ever rises", "never free in the dark"],
)
def test_a_year_with_nothing_to_see_is_an_empty_plan_with_reasons(empty: object) -> None:
    plan = plan_year(empty)  # type: ignore[arg-type]
    assert plan.visits == ()
    assert len(plan.unplaced) == len(plan.targets)
    assert (plan.objective, plan.gap) == (0.0, 0.0)


def test_nights_out_are_limited() -> None:
    targets = [replace(ALBIREO, name=f"Star {n}", ra_deg=40.0 + 3 * n, dec_deg=40.0) for n in range(20)]
    free = scenario(*targets, rule=EveningRule(start=time(20), finish=time(21)), nights=28)
    limited = replace(free, availability=replace(free.availability, nights_per_week=1, nights_per_month=3))
    out = {visit.evening for visit in plan_year(limited, seconds=0.2).visits}
    assert 1 <= len(out) <= 3


def test_a_short_season_is_placed_before_a_long_one_when_cloud_is_likely() -> None:
    # Two targets want the one visit a night holds; one of them is gone after the first week.
    leaving = replace(ORION, name="leaving", latest=date(2027, 1, 7))
    staying = replace(ORION, name="staying")
    evening = EveningRule(start=time(20), finish=time(21, 15))
    plan = plan_year(scenario(leaving, staying, rule=evening, nights=21), seconds=1.0)
    when = {visit.target: visit.evening for visit in plan.visits}
    assert when["leaving"] < when["staying"]
    assert np.isfinite(plan.bound)


def test_nothing_is_planned_on_nights_that_are_never_clear() -> None:
    hopeless = replace(SMALL, clear_odds=replace(SMALL.clear_odds, monthly=(0.0,) * 12))
    plan = plan_year(hopeless)
    assert plan.visits == ()
    assert {entry.reason for entry in plan.unplaced} == {Reason.NEVER_HIGH, Reason.NEVER_CLEAR}
