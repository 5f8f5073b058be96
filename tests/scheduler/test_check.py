"""The judge passes a sound plan and names each planted breach."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from scheduler.check import RULES, breaches_of, breaches_of_windows, judge
from scheduler.domain import Opportunities, Plan, Span, Target, Unplaced
from scheduler.errors import PlanRejected
from tests.small_plan import FIRST, JUPITER, SECOND, TARGETS, plan, sight, utc, visit, with_visit


def _later(moved: Span, **by: int) -> Span:
    return Span(moved.start + timedelta(**by), moved.end + timedelta(**by))


def _with_target(changed: Target) -> Plan:
    return replace(plan(), targets=tuple(changed if t.name == changed.name else t for t in TARGETS))


def _with_nights(**limits: int) -> Plan:
    return replace(plan(), availability=replace(plan().availability, **limits))  # type: ignore[arg-type]


BREACHES = {
    "visits_name_known_targets_and_nights": (with_visit(2, target="M 78"), "M 78 is not on the wish-list"),
    "free_nights_are_allowed": (
        replace(plan(), availability=replace(plan().availability, away=frozenset({FIRST}))),
        "2027-01-08 is not free under the weekly pattern",
    ),
    "visits_last_as_long_as_asked": (
        with_visit(1, time=Span(utc(FIRST, 20), utc(FIRST, 20, 10))),
        "lasts 10 min, not 20",
    ),
    "visits_fit_the_free_time": (
        with_visit(0, time=_later(plan().visits[0].time, minutes=-1)),
        "starts before the kit is set up",
    ),
    "faint_visits_wait_for_darkness": (
        with_visit(2, time=Span(utc(SECOND, 18, 49), utc(SECOND, 19, 9))),
        "not wholly in darkness with adapted eyes",
    ),
    "nothing_is_looked_at_in_daylight": (
        with_visit(2, sight=replace(sight(), sun_altitude_deg=0.5)),
        "has the Sun above the horizon",
    ),
    "visits_of_a_night_leave_room_to_move": (
        with_visit(1, time=Span(utc(FIRST, 18, 38), utc(FIRST, 18, 58))),
        "starts less than 4 min after Jupiter",
    ),
    "targets_stand_high_enough": (with_visit(1, sight=sight(19.9)), "stands at 19.9 deg, too low"),
    "visits_keep_their_dates_and_spacing": (
        _with_target(replace(TARGETS[1], earliest=date(2027, 1, 20))),
        "outside the dates asked for",
    ),
    "nights_out_stay_within_limits": (_with_nights(nights_per_month=1), "2 nights out in 2027-01"),
    "every_missing_visit_is_explained": (
        replace(plan(), unplaced=plan().unplaced[:1]),
        "NGC 5139 lacks 1 visits, 0 are explained",
    ),
    "standbys_are_not_on_the_programme": (
        replace(plan(), standbys=(replace(plan().standbys[0], target="M 1"),)),
        "is both visit and standby",
    ),
    "the_bound_is_not_passed": (replace(plan(), objective=-1.0), "does not go with a bound"),
}


def test_a_sound_plan_has_no_breach() -> None:
    assert breaches_of(plan()) == ()
    judge(plan())


@pytest.mark.parametrize("rule", [rule.__name__ for rule in RULES])
def test_each_rule_finds_its_planted_breach(rule: str) -> None:
    broken, words = BREACHES[rule]
    (judged,) = (r for r in RULES if r.__name__ == rule)
    assert any(words in breach for breach in judged(broken))
    with pytest.raises(PlanRejected, match="breaks its own rules") as rejected:
        judge(broken)
    assert any(words in breach for breach in rejected.value.breaches)


def test_a_visit_past_the_finish_is_found() -> None:
    late = with_visit(2, time=Span(utc(SECOND, 23, 50), utc(SECOND, 24, 10)))
    assert any("after the night's finish" in breach for breach in breaches_of(late))


def test_a_second_visit_too_soon_is_found() -> None:
    again = (*plan().visits, visit("Jupiter", SECOND, 2, 21, 0, 15))
    sound = replace(plan(), visits=again, unplaced=plan().unplaced[1:])
    assert breaches_of(sound) == ()
    wanted = replace(sound, targets=(*TARGETS[:2], replace(JUPITER, spacing_days=8), TARGETS[3]))
    assert any("less than 8 days apart" in breach for breach in breaches_of(wanted))


def test_more_visits_than_wanted_are_found() -> None:
    again = (*plan().visits, visit("M 42", SECOND, 2, 21, 0, 20))
    assert any("has 2 visits, 1 wanted" in breach for breach in breaches_of(replace(plan(), visits=again)))


def test_a_target_explained_twice_is_found() -> None:
    twice: tuple[Unplaced, ...] = (*plan().unplaced, plan().unplaced[0])
    assert "a target is listed as unplaced twice" in breaches_of(replace(plan(), unplaced=twice))


def test_a_visit_outside_its_opportunity_is_found() -> None:
    def rows(*windows: tuple[int, int, int, int]) -> Opportunities:
        target, night, start, end = np.array(windows, dtype=np.int64).T
        return Opportunities(utc(FIRST, 0), 4, 2, target, night, start, end, start, np.ones(len(windows)))

    week = 7 * 1440
    wide = rows((0, 0, 1190, 1230), (2, 0, 1100, 1115), (1, 1, week + 1200, week + 1220))
    narrow = rows((0, 0, 1190, 1219), (2, 0, 1100, 1115), (1, 1, week + 1200, week + 1220))
    assert breaches_of_windows(plan(), wide) == ()
    assert [b[:4] for b in breaches_of_windows(plan(), narrow)] == ["M 42"]
    with pytest.raises(PlanRejected):
        judge(plan(), narrow)
