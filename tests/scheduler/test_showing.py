"""When in the season targets show: counted by week, restated by the judge, kept in the plan."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest

from scheduler.check import breaches_of, breaches_of_showing, judge
from scheduler.domain import Opportunities, Outcome, OutcomeLog, Plan, Showing, Went
from scheduler.errors import InvalidValue, PlanRejected
from scheduler.export import plan_from_json, plan_to_json
from scheduler.ready import made_ready
from scheduler.replanning import replan
from scheduler.showing import showing_of
from scheduler.year import plan_year
from tests.small_plan import SEASON, TARGETS, night, plan
from tests.small_season import ALBIREO, HERCULES, OMEGA, ORION, scenario

from .planted_showing import OFFERED, OFFERS, SHOWING, merits, with_showing


@pytest.fixture(scope="module")
def year() -> Plan:
    return plan_year(scenario(ORION, HERCULES, ALBIREO, OMEGA, nights=112), seconds=0.3)


def test_free_nights_are_counted_by_week() -> None:
    assert showing_of(SEASON, TARGETS, plan().nights, OFFERED) == SHOWING


def test_a_good_night_has_four_fifths_of_the_best() -> None:
    poorer = merits((0, 0, 0.9), (2, 0, 0.5), (0, 1, 0.71), (1, 1, 0.4))
    assert showing_of(SEASON, TARGETS, plan().nights, poorer)[0] == Showing("M 42", "01100", "01000")


def test_the_best_stretch_of_a_night_counts_and_what_is_for_standbys_alone_does_not() -> None:
    twice = merits((0, 0, 0.2), (0, 0, 0.9), (2, 0, 0.5), (0, 1, 0.8), (1, 1, 0.4))
    assert showing_of(SEASON, TARGETS, plan().nights, twice) == SHOWING
    standby = merits((0, 0, 0.9), (2, 0, 0.5), (0, 1, 0.8), (1, 1, 0.4), standby_only=(1,))
    assert showing_of(SEASON, TARGETS, plan().nights, standby)[2] == Showing("Jupiter", "00000", "00000")


def test_nights_of_one_week_add_up_and_without_a_free_night_nothing_shows() -> None:
    days = [night(date(2027, 1, day)) for day in (8, 9)]
    told = showing_of(SEASON, TARGETS, days, OFFERED)
    assert told[0] == Showing("M 42", "02000", "02000")
    nothing = replace(OFFERED, nights=0, **{
        name: getattr(OFFERED, name)[:0]
        for name in ("target", "night", "start_min", "end_min", "best_min", "merit", "standby_only")
    })  # fmt: skip
    assert showing_of(SEASON, TARGETS, [], nothing)[0] == Showing("M 42", "00000", "00000")


@pytest.mark.parametrize(
    ("shown", "good", "field"), [("018", "000", "shown"), ("0x", "00", "shown"), ("01", "010", "good"),
     ("01", "02", "good")],
)  # fmt: skip
def test_weeks_are_digits_and_good_nights_among_those_shown(shown: str, good: str, field: str) -> None:
    with pytest.raises(InvalidValue) as refused:
        Showing("M 42", shown, good)
    assert refused.value.field == field


def test_the_judge_counts_the_nights_itself() -> None:
    assert breaches_of_showing(with_showing(), OFFERED) == ()
    judge(with_showing(), every=OFFERED)


@pytest.mark.parametrize(("every", "breach"), OFFERS)
def test_what_the_nights_do_not_offer_is_found(every: Opportunities, breach: str) -> None:
    assert breach in breaches_of_showing(with_showing(), every)
    with pytest.raises(PlanRejected):
        judge(with_showing(), every=every)


def test_a_plan_tells_when_every_target_shows(year: Plan) -> None:
    told = {one.target: one for one in year.showing}
    assert list(told) == ["M 42", "M 13", "Albireo", "NGC 5139"]
    assert {len(one.shown) for one in year.showing} == {16}
    assert told["M 42"].last_good_week is not None
    assert told["M 42"].shown_nights[0] == 7
    assert set(told["M 42"].shown[-2:]) == set(told["NGC 5139"].shown) == {"0"}
    assert plan_from_json(plan_to_json(year)) == year


def test_what_was_seen_still_shows_and_past_nights_are_free_no_more() -> None:
    of = scenario(ORION, HERCULES, nights=30)
    first = plan_year(of, seconds=0.2)
    seen = Outcome(date(2027, 1, 8), Went.CLEAR, seen=("M 42",))
    second = replan(first, replace(of, outcomes=OutcomeLog((seen,))), seconds=0.2)
    assert [one.shown for one in first.showing] == ["77772", "00272"]
    assert [one.shown for one in second.showing] == ["06772", "00272"]
    assert not any(visit.target == "M 42" for visit in second.visits)


def test_a_plan_stored_before_this_was_told_is_read_and_planned_anew(year: Plan) -> None:
    told = json.loads(plan_to_json(year))
    del told["plan"]["showing"]
    stored = plan_from_json(json.dumps(told))
    assert stored == replace(year, showing=())
    assert breaches_of(stored) == ()
    judge(stored, every=made_ready(scenario(ORION, HERCULES, ALBIREO, OMEGA, nights=112)).every_in(stored))
    again = replan(stored, scenario(ORION, HERCULES, ALBIREO, OMEGA, nights=112), seconds=0.3)
    assert (again.showing, again.changes) == (year.showing, ())


def test_a_long_list_stays_small(year: Plan) -> None:
    year_of_weeks = Showing("NGC 7331", "1" * 53, "1" * 53)
    bare = plan_to_json(replace(year, showing=()))
    long = plan_to_json(replace(year, showing=(year_of_weeks,) * 1000))
    assert len(long) - len(bare) < 200_000
