"""The judge passes a sound plan and names each planted breach."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from types import FrameType
from typing import Any

import numpy as np
import pytest

import scheduler.check
from scheduler.check import (
    LATER_RULES,
    RULES,
    breaches_of,
    breaches_of_changes,
    breaches_of_showing,
    breaches_of_windows,
    judge,
)
from scheduler.domain import (
    Availability,
    Darkness,
    EveningRule,
    FreeNight,
    Horizon,
    Opportunities,
    Plan,
    Sight,
    Span,
    Target,
)
from scheduler.errors import PlanRejected
from tests.scheduler import (
    planted_kinds,
    planted_log,
    planted_odds,
    planted_people,
    planted_showing,
    planted_trips,
    planted_views,
)
from tests.small_plan import (
    CRAB,
    FIRST,
    FRIDAYS,
    JUPITER,
    ORION,
    SECOND,
    SITE,
    TARGETS,
    night,
    plan,
    sight,
    utc,
    visit,
    with_nights,
    with_standby,
    with_visit,
)

DAY = timedelta(days=1)


def _span(evening: date, *clock: int) -> Span:
    """Return from one UTC time of the night to another: hour, minute, hour, minute."""
    return Span(utc(evening, *clock[:2]), utc(evening, *clock[2:]))


def _with_target(changed: Target) -> Plan:
    return replace(plan(), targets=tuple(changed if t.name == changed.name else t for t in TARGETS))


def _available(**changes: object) -> Plan:
    return replace(plan(), availability=replace(plan().availability, **changes))  # type: ignore[arg-type]


def _under(rule: EveningRule, *nights: FreeNight, zone: str = SITE.zone) -> Plan:
    """Return the plan under another evening rule, with other nights and in another zone."""
    return with_nights(*nights, availability=Availability((rule,)), site=replace(SITE, zone=zone))


def _free(evening: date, *clock: int) -> FreeNight:
    return replace(night(evening), free=_span(evening, *clock))


def _lasting(start: int, end: int, dusk: int, dawn: int) -> FreeNight:
    """Return the first night free between two UTC hours, with dusk and dawn at two others."""
    return replace(_skies(FIRST, twilit=_span(FIRST, dusk, 0, dawn, 0)), free=_span(FIRST, start, 0, end, 0))


def _skies(evening: date, **changes: object) -> FreeNight:
    """Return the free night under another sky."""
    on = night(evening)
    return replace(on, night=replace(on.night, **changes))  # type: ignore[arg-type]


def _walled(height_deg: float) -> Plan:
    """Return the plan with a wall due south, where all its sights are."""
    return replace(plan(), site=replace(SITE, horizon=Horizon((90.0, 170.0, 270.0), (0.0, height_deg, 0.0))))


def _forged(thing: Any, **figures: object) -> Any:
    """Return a noun with figures that its own checks would refuse."""
    for field, figure in figures.items():
        object.__setattr__(thing, field, figure)
    return thing


def _twice_jupiter(evening: date, spacing_days: int) -> Plan:
    """Return the plan with Jupiter, wanted twice, waiting on this night."""
    wide = _with_target(replace(JUPITER, spacing_days=spacing_days))
    return replace(wide, standbys=(replace(plan().standbys[0], target="Jupiter", evening=evening),))


LIGHT_NIGHT = _skies(SECOND, darkness=Darkness.DAYLIGHT, dark=None)
SUNLIT, NAN = replace(sight(), sun_altitude_deg=0.5), float("nan")
NEAR_SUN = replace(sight(), sun_separation_deg=11.9)
AGAIN = (*plan().visits, visit("Jupiter", SECOND, 2, 21, 0, 15))
FOUND_TWICE = replace(plan(), visits=AGAIN, unplaced=plan().unplaced[1:])
LATE_START, LATE_FINISH = replace(FRIDAYS, start=time(18, 5)), replace(FRIDAYS, finish=time(0, 5))
OPEN_START, OPEN_FINISH = replace(FRIDAYS, start=None), replace(FRIDAYS, finish=None)
LAST = date(9999, 12, 31)
FAR_TOO_LATE = replace(_lasting(47, 72, 48, 72), free=_span(FIRST, 47, 40, 72, 0))
WAITING = plan().standbys[0]

BREACHES: list[tuple[str, Plan, str]] = [
    ("every_name_is_known", with_visit(2, target="M 78"), "M 78 is not on the wish-list"),
    ("every_name_is_known", with_visit(2, evening=FIRST + DAY), "2027-01-09 is not a free night"),
    ("every_name_is_known", with_standby(target="M 78"), "M 78 is not on the wish-list"),
    ("every_name_is_known", with_standby(evening=FIRST + DAY), "2027-01-09 is not a free night"),
    ("every_name_is_known", replace(plan(), targets=(*TARGETS, CRAB)), "M 1 is on the wish-list 2 times"),
    ("every_missing_visit_is_explained", replace(plan(), unplaced=plan().unplaced[:1]),
     "NGC 5139 lacks 1 visits, none is explained"),
    ("every_missing_visit_is_explained",
     replace(plan(), unplaced=(*plan().unplaced, plan().unplaced[0])),
     "Jupiter is listed as unplaced 2 times"),
    ("every_missing_visit_is_explained",
     replace(plan(), unplaced=(*plan().unplaced, replace(plan().unplaced[0], target="M 78"))),
     "M 78 is unplaced, but not on the wish-list"),
    ("every_missing_visit_is_explained",
     replace(plan(), unplaced=(replace(plan().unplaced[0], missing=2), plan().unplaced[1])),
     "Jupiter lacks 1 visits, 2 are explained"),
    ("every_missing_visit_is_explained",
     replace(plan(), unplaced=(*plan().unplaced, replace(plan().unplaced[0], target="M 1", missing=0))),
     "M 1 lacks 0 visits, 0 are explained"),
    ("the_bound_is_not_passed", replace(plan(), objective=-1.0), "does not go with a bound"),
    ("the_bound_is_not_passed", _forged(plan(), objective=3.1), "does not go with a bound"),
    ("the_bound_is_not_passed", _forged(plan(), objective=NAN), "does not go with a bound"),
    ("the_bound_is_not_passed", _forged(plan(), bound=NAN), "does not go with a bound"),
    ("the_bound_is_not_passed", replace(plan(), bound=float("inf")), "does not go with a bound"),
    ("free_nights_are_allowed", _available(away=frozenset({FIRST})), "2027-01-08 is not free under"),
    ("free_nights_are_allowed", with_nights(night(SECOND), night(FIRST)), "not in order, each once"),
    ("free_nights_are_allowed", with_nights(night(FIRST), night(FIRST), night(SECOND)), "each once"),
    ("free_nights_are_allowed", replace(plan(), season=replace(plan().season, start=FIRST + DAY)),
     "2027-01-08 lies outside the season"),
    ("free_nights_are_allowed", replace(plan(), season=replace(plan().season, nights=14)),
     "2027-01-15 lies outside the season"),
    ("free_times_keep_the_evening_rule", _under(LATE_START, night(FIRST)),
     "free from 18:00 UTC, not from 18:05 local time"),
    ("free_times_keep_the_evening_rule", _under(LATE_FINISH, night(FIRST)),
     "free until 00:00 UTC, not until 00:05 local time"),
    ("free_times_keep_the_evening_rule", _under(FRIDAYS, night(FIRST), zone="Europe/Oslo"),
     "free from 18:00 UTC, not from 18:00 local time"),
    ("free_times_keep_the_evening_rule", _under(FRIDAYS, _free(FIRST, 18, 0, 48, 0)),
     "free for longer than from noon to noon"),
    ("free_times_keep_the_evening_rule",
     _under(FRIDAYS, _lasting(-6, -1, -10, 6)), "free from 18:00 UTC, not from 18:00 local time"),
    ("free_times_keep_the_evening_rule", _under(OPEN_START, FAR_TOO_LATE),
     "free until 00:00 UTC, not until 00:00 local time"),
    ("free_times_keep_the_evening_rule", _under(OPEN_START, _lasting(13, 24, 13, 24)),
     "does not begin with the set-up"),
    ("free_times_keep_the_evening_rule", _under(OPEN_START, _lasting(12, 24, 13, 24)),
     "does not begin with the set-up"),
    ("free_times_keep_the_evening_rule", _under(OPEN_START, _lasting(12, 24, 11, 24)),
     "does not begin with the set-up"),
    ("free_times_keep_the_evening_rule", _under(OPEN_START, night(FIRST)), "does not begin with the set-up"),
    ("free_times_keep_the_evening_rule", _under(OPEN_FINISH, night(FIRST)), "does not end with civil dawn"),
    ("free_times_keep_the_evening_rule", with_nights(_skies(FIRST, twilit=None)), "free in daylight only"),
    ("free_times_keep_the_evening_rule", with_nights(_free(FIRST, 12, 0, 16, 30)), "free in daylight only"),
    ("free_times_keep_the_evening_rule",
     _forged(_under(FRIDAYS, _forged(night(FIRST), night=_forged(night(FIRST).night, evening=LAST)))),
     "9999-12-31 is at the very end of the calendar"),
    ("free_times_keep_the_evening_rule",
     _under(FRIDAYS, _forged(night(FIRST), night=_forged(night(FIRST).night, evening=date(1, 1, 5)))),
     "0001-01-05 is at the very end of the calendar"),
    ("nothing_is_planned_under_certain_cloud",
     with_nights(replace(night(FIRST), clear_odds=0.0), night(SECOND)),
     "Jupiter on 2027-01-08 at 18:20 UTC is on a night that is never clear"),
    ("nothing_is_planned_under_certain_cloud",
     with_nights(night(FIRST), replace(night(SECOND), clear_odds=0.0009)),
     "M 42, standby on 2027-01-15, is on a night that is never clear"),
    ("nights_out_stay_within_limits", _available(nights_per_month=1), "2 nights out in 2027-01"),
    ("nights_out_stay_within_limits",
     with_visit(2, evening=FIRST + DAY, time=_span(FIRST + DAY, 20, 0, 20, 20)),
     "2 nights out in week 1 of 2027"),
    ("looks_fit_the_free_time", with_visit(0, time=_span(FIRST, 18, 19, 18, 34)),
     "starts before the kit is set up"),
    ("looks_fit_the_free_time", with_visit(2, time=_span(SECOND, 23, 50, 24, 10)),
     "after the night's finish"),
    ("looks_fit_the_free_time", with_standby(window=_span(SECOND, 18, 19, 22, 0)),
     "M 42, standby on 2027-01-15, starts before the kit is set up"),
    ("looks_fit_the_free_time", with_standby(window=_span(SECOND, 19, 0, 24, 1)),
     "M 42, standby on 2027-01-15, ends after the night's finish"),
    ("faint_objects_wait_for_darkness", with_visit(2, time=_span(SECOND, 18, 49, 19, 9)),
     "starts before eyes are adapted"),
    ("faint_objects_wait_for_darkness", with_standby(window=_span(SECOND, 18, 49, 22, 0)),
     "M 42, standby on 2027-01-15, starts before eyes are adapted"),
    ("faint_objects_wait_for_darkness",
     with_nights(night(FIRST), _skies(SECOND, dark=_span(SECOND, 20, 1, 30, 0))),
     "M 1 on 2027-01-15 at 20:00 UTC is not wholly in darkness"),
    ("faint_objects_wait_for_darkness",
     with_nights(night(FIRST), _skies(SECOND, dark=_span(SECOND, 18, 0, 22, 59))),
     "M 42, standby on 2027-01-15, is not wholly in darkness"),
    ("faint_objects_wait_for_darkness", with_nights(night(FIRST), LIGHT_NIGHT), "does not get dark"),
    ("nothing_is_looked_at_in_daylight", with_visit(2, sight=SUNLIT), "has the Sun above the horizon"),
    ("nothing_is_looked_at_in_daylight", with_standby(sight=SUNLIT), "standby on 2027-01-15, has the Sun"),
    ("nothing_is_looked_at_in_daylight",
     with_standby(sight=_forged(sight(), sun_altitude_deg=NAN)), "has the Sun above the horizon"),
    ("nothing_is_looked_at_in_daylight",
     with_nights(_skies(FIRST, twilit=_span(FIRST, 18, 21, 31, 30)), night(SECOND)),
     "Jupiter on 2027-01-08 at 18:20 UTC is outside civil dusk to civil dawn"),
    ("nothing_is_looked_at_in_daylight",
     with_nights(night(FIRST), _skies(SECOND, twilit=_span(SECOND, 16, 30, 22, 59))),
     "M 42, standby on 2027-01-15, is outside civil dusk to civil dawn"),
    ("nothing_is_looked_at_in_daylight", with_nights(night(FIRST), _skies(SECOND, twilit=None)),
     "is outside civil dusk to civil dawn"),
    ("what_moves_keeps_away_from_the_sun", with_visit(0, sight=NEAR_SUN),
     "is 11.9 deg from the Sun, too near"),
    ("what_moves_keeps_away_from_the_sun", with_standby(target="Jupiter", sight=NEAR_SUN),
     "Jupiter, standby on 2027-01-15, is 11.9 deg from the Sun"),
    ("what_moves_keeps_away_from_the_sun", with_visit(0, sight=_forged(sight(), sun_separation_deg=NAN)),
     "from the Sun, too near"),
    ("targets_stand_high_enough", with_visit(1, sight=sight(19.9)), "stands at 19.9 deg, too low"),
    ("targets_stand_high_enough", with_standby(sight=sight(19.9)),
     "M 42, standby on 2027-01-15, stands at 19.9 deg, too low"),
    ("targets_stand_high_enough", with_visit(1, sight=_forged(sight(), altitude_deg=NAN)), "too low"),
    ("targets_clear_the_horizon", _walled(40.4), "M 42 on 2027-01-08 at 20:00 UTC is behind the horizon"),
    ("targets_clear_the_horizon", _walled(40.4), "M 42, standby on 2027-01-15, is behind the horizon"),
    ("targets_clear_the_horizon",
     replace(_walled(10.0), visits=(_forged(visit("M 1", FIRST, 1, 20, 0, 20),
                                            sight=_forged(sight(), altitude_deg=NAN)),)),
     "is behind the horizon"),
    ("looks_keep_the_dates_asked_for", _with_target(replace(CRAB, earliest=SECOND + DAY)),
     "M 1 on 2027-01-15 at 20:00 UTC is outside the dates asked for"),
    ("looks_keep_the_dates_asked_for", _with_target(replace(ORION, latest=SECOND - DAY)),
     "M 42, standby on 2027-01-15, is outside the dates asked for"),
    ("visits_last_as_long_as_asked", with_visit(1, time=_span(FIRST, 20, 0, 20, 10)),
     "lasts 10 min, not 20"),
    ("programmes_are_numbered_in_order", with_visit(1, order=3), "2027-01-08 is not numbered in order"),
    ("programmes_are_numbered_in_order",
     replace(plan(), visits=(with_visit(0, order=2).visits[0], with_visit(1, order=1).visits[1])),
     "2027-01-08 is not numbered in order"),
    ("visits_leave_room_to_move", with_visit(1, time=_span(FIRST, 18, 38, 18, 58)),
     "M 42 on 2027-01-08 at 18:38 UTC starts less than 4 min after Jupiter"),
    ("visits_leave_room_to_move", with_visit(2, time=_span(FIRST, 20, 23, 20, 43)),
     "M 1 on 2027-01-15 at 20:23 UTC starts less than 4 min after M 42"),
    ("visits_are_as_wanted_and_spaced",
     replace(FOUND_TWICE, targets=_with_target(replace(JUPITER, spacing_days=8)).targets),
     "Jupiter on 2027-01-08 and 2027-01-15: less than 8 days apart"),
    ("visits_are_as_wanted_and_spaced",
     replace(plan(), visits=(*plan().visits, visit("M 42", SECOND, 2, 21, 0, 20))),
     "M 42 has 2 visits, 1 wanted"),
    ("visits_are_not_too_far_apart",
     replace(FOUND_TWICE, targets=_with_target(
         replace(JUPITER, spacing_days=2, longest_spacing_days=6)).targets),
     "Jupiter on 2027-01-08 and 2027-01-15: more than 6 days apart"),
    ("standbys_are_not_on_the_programme", with_standby(target="M 1"), "is both visit and standby"),
    ("standbys_are_not_on_the_programme",
     replace(plan(), standbys=(WAITING, replace(WAITING, order=2))),
     "M 42 is a standby on 2027-01-15 2 times"),
    ("standbys_are_numbered_in_order", with_standby(order=2), "the standbys of 2027-01-15 are not numbered"),
    ("standbys_are_numbered_in_order",
     replace(plan(), standbys=(replace(WAITING, order=2), replace(WAITING, target="NGC 5139"))),
     "the standbys of 2027-01-15 are not numbered"),
    ("standbys_have_room_for_a_visit",
     with_standby(window=_span(SECOND, 20, 50, 21, 9)), "has 19 min, not the 20 of a visit"),
    ("standbys_have_room_for_a_visit", with_standby(best=utc(SECOND, 18, 59)), "best moment outside"),
    ("standbys_have_room_for_a_visit", with_standby(best=utc(SECOND, 23, 1)), "best moment outside"),
    ("standbys_can_be_looked_at_while_out", with_standby(window=_span(SECOND, 19, 0, 20, 19)),
     "M 42, standby on 2027-01-15, has no room for a visit while the observer is out"),
    ("standbys_can_be_looked_at_while_out", with_standby(window=_span(SECOND, 21, 1, 23, 0)), "has no room"),
    ("standbys_can_be_looked_at_while_out", with_standby(best=utc(SECOND, 19, 59)), "while nobody is out"),
    ("standbys_can_be_looked_at_while_out", with_standby(best=utc(SECOND, 21, 21)), "while nobody is out"),
    ("standbys_keep_the_spacing", _twice_jupiter(SECOND, 8),
     "Jupiter, standby on 2027-01-15, is less than 8 days from its visit on 2027-01-08"),
    ("standbys_keep_the_spacing",
     replace(_twice_jupiter(FIRST, 8), visits=(replace(plan().visits[0], evening=SECOND),)),
     "Jupiter, standby on 2027-01-08, is less than 8 days from its visit on 2027-01-15"),
    *planted_views.BREACHES,
    *planted_kinds.BREACHES,
    *planted_trips.BREACHES,
    *planted_people.BREACHES,
    *planted_odds.BREACHES,
    *planted_log.BREACHES,
    *planted_showing.BREACHES,
]  # fmt: skip


def _rows(*windows: tuple[int, int, int, int], targets: int = 4, nights: int = 2) -> Opportunities:
    target, on, start, end = np.array(windows, dtype=np.int64).T
    return Opportunities(utc(FIRST, 0), targets, nights, target, on, start, end, start, np.ones(len(windows)))


WEEK = 7 * 1440
WAITS = (0, 1, WEEK + 1140, WEEK + 1380)
WIDE = ((0, 0, 1190, 1230), (2, 0, 1100, 1115), WAITS, (1, 1, WEEK + 1200, WEEK + 1220))
NARROW = ((0, 0, 1190, 1219), (2, 0, 1100, 1115), WAITS, (1, 1, WEEK + 1200, WEEK + 1220))
EARLIER = ((0, 0, 1201, 1230), (2, 0, 1100, 1115), WAITS, (1, 1, WEEK + 1200, WEEK + 1220))
WAITS_LESS = (*WIDE[:2], (0, 1, WEEK + 1140, WEEK + 1379), WIDE[3])
WAITS_ELSEWHERE = ((0, 0, 1190, 1230), (2, 0, 1100, 1115), (1, 1, WEEK + 1140, WEEK + 1380))

NOT_SHOWN = "M 42 on 2027-01-08 at 20:00 UTC lies in no stretch in which the target shows"
NOT_WAITING = "M 42, standby on 2027-01-15, has a window that is no stretch in which the target shows"
OF_ANOTHER = "the opportunities are those of another season"

WINDOW_BREACHES = [
    (_rows(*NARROW), NOT_SHOWN), (_rows(*EARLIER), NOT_SHOWN), (_rows(*WAITS_LESS), NOT_WAITING),
    (_rows(*WAITS_ELSEWHERE), NOT_WAITING), (_rows(*WIDE, targets=5), OF_ANOTHER),
    (_rows(*WIDE, nights=3), OF_ANOTHER),
]  # fmt: skip


def test_a_sound_plan_has_no_breach() -> None:
    assert breaches_of(plan()) == ()
    judge(plan())
    judge(plan(), _rows(*WIDE))


@pytest.mark.parametrize(("rule", "broken", "words"), BREACHES, ids=[f"{r}: {w}" for r, _, w in BREACHES])
def test_each_rule_finds_its_planted_breaches(rule: str, broken: Plan, words: str) -> None:
    (judged,) = (r for r in RULES if r.__name__ == rule)
    assert any(words in breach for breach in judged(broken))
    with pytest.raises(PlanRejected, match="breaks its own rules") as rejected:
        judge(broken)
    assert any(words in breach for breach in rejected.value.breaches)


def test_a_plan_of_before_is_held_to_all_but_the_later_rules() -> None:
    for rule in LATER_RULES:
        planted = [broken for name, broken, _ in BREACHES if name == rule.__name__]
        assert planted
        for broken in planted:
            assert {*breaches_of(broken)} - {*breaches_of(broken, kept=True)} == {*rule(broken)}
    others = [broken for name, broken, _ in BREACHES if name not in {one.__name__ for one in LATER_RULES}]
    with pytest.raises(PlanRejected):
        judge(others[0], kept=True)


@pytest.mark.parametrize(("opportunities", "breach"), WINDOW_BREACHES)
def test_what_the_opportunities_do_not_offer_is_found(opportunities: Opportunities, breach: str) -> None:
    assert list(breaches_of_windows(plan(), opportunities)) == [breach]
    with pytest.raises(PlanRejected):
        judge(plan(), opportunities)


@pytest.mark.parametrize(
    "stranger",
    [
        with_visit(0, target="M 78"), with_visit(0, evening=LAST), with_standby(target="M 78"),
        with_standby(evening=LAST), with_visit(0, time=Span(utc(date(9999, 12, 30), 0), utc(LAST, 23, 59))),
        replace(plan(), season=replace(plan().season, start=date(9999, 12, 20))),
        with_nights(replace(night(FIRST), free=_span(LAST, 18, 0, 23, 50)), night(SECOND)),
    ],
)  # fmt: skip
def test_strangers_and_the_end_of_the_calendar_are_breaches_not_crashes(stranger: Plan) -> None:
    with pytest.raises(PlanRejected):
        judge(stranger, _rows(*WIDE))


SOUND = {
    "a second visit after the spacing": FOUND_TWICE,
    "a second visit on the last day of the longest spacing": replace(
        FOUND_TWICE, targets=_with_target(replace(JUPITER, longest_spacing_days=7)).targets
    ),
    "a standby after the spacing": _twice_jupiter(SECOND, 7),
    "one visit wanted, waiting near it": _with_target(replace(ORION, spacing_days=30)),
    "the first and last date asked for": _with_target(replace(ORION, earliest=FIRST, latest=SECOND)),
    "a visit that ends with the free time": replace(
        with_visit(2, time=_span(SECOND, 23, 40, 24, 0)), standbys=()
    ),
    "a faint visit with eyes just adapted": replace(
        with_visit(2, time=_span(SECOND, 18, 50, 19, 10)), standbys=()
    ),
    "a visit just after the last": with_visit(1, time=_span(FIRST, 18, 50, 19, 10)),
    "a standby as long as a visit": with_standby(
        window=_span(SECOND, 21, 0, 21, 20), best=utc(SECOND, 21, 20)
    ),
    "a standby best at once": with_standby(best=utc(SECOND, 20)),
    "a standby best long before, on a night in hand": replace(
        with_standby(best=utc(SECOND, 19)),
        visits=plan().visits[:2],
        unplaced=(*plan().unplaced, replace(plan().unplaced[0], target="M 1")),
    ),
    "no minute to spare between visits": replace(
        plan(),
        visits=(
            visit("Jupiter", FIRST, 1, 18, 31, 15),
            visit("M 42", FIRST, 2, 18, 50, 20),
            plan().visits[2],
        ),
    ),
    "a target at its lowest altitude": with_visit(1, sight=sight(20.0)),
    "a planet at its safe distance": with_visit(0, sight=replace(sight(), sun_separation_deg=12.0)),
    "a star near the Sun": with_visit(1, sight=replace(sight(), sun_separation_deg=5.0)),
    "a hedge below the sights": _walled(40.2),
    "open evenings": _under(
        EveningRule(),
        replace(night(FIRST), free=_span(FIRST, 16, 10, 31, 30)),
        replace(night(SECOND), free=_span(SECOND, 16, 10, 31, 30)),
    ),
    "a season from its first to its last free night": with_nights(
        night(FIRST), night(SECOND), season=replace(plan().season, start=FIRST, nights=8)
    ),
    "from dusk to dawn": with_nights(
        _skies(FIRST, twilit=_span(FIRST, 18, 20, 20, 20), dark=_span(FIRST, 20, 0, 20, 20)),
        _skies(SECOND, twilit=_span(SECOND, 19, 0, 23, 0), dark=_span(SECOND, 19, 0, 23, 0)),
    ),
    "the Sun on the horizon": with_visit(0, sight=replace(sight(), sun_altitude_deg=0.0)),
    "a plan proven the best": replace(plan(), objective=plan().bound),
    "a plan that is worth nothing": replace(plan(), objective=0.0),
    "hardly ever clear": with_nights(night(FIRST), replace(night(SECOND), clear_odds=0.001)),
    **planted_views.SOUND,
    **planted_kinds.SOUND,
    **planted_trips.SOUND,
    **planted_people.SOUND,
    "odds": planted_odds.with_odds(),
    "showing": planted_showing.with_showing(),
    **planted_log.SOUND,
}


@pytest.mark.parametrize("allowed", SOUND)
def test_what_only_just_keeps_a_rule_is_no_breach(allowed: str) -> None:
    assert breaches_of(SOUND[allowed]) == ()


def _moved_clock(zone: str, evening: date, clock: time, moment: datetime) -> list[str]:
    """Return what the judge says of a night that ends at `moment` under a finish at this local time."""
    sky = replace(night(FIRST).night, evening=evening, twilit=Span(moment - DAY / 2, moment))
    free = FreeNight(sky, Span(moment - DAY / 2 - timedelta(minutes=20), moment), 0.4)
    (judged,) = (r for r in RULES if r.__name__ == "free_times_keep_the_evening_rule")
    return list(judged(_under(EveningRule(finish=clock), free, zone=zone)))


OPEN = _under(EveningRule(), _lasting(12, 36, 12, 36))


@pytest.mark.parametrize(
    "night_of_midwinter",
    [
        OPEN,
        _under(EveningRule(), _lasting(12, 37, 12, 37)),
        _under(EveningRule(), _lasting(20, 44, 20, 44), zone="Etc/GMT+8"),
        replace(_under(EveningRule(), _lasting(20, 44, 20, 44)), site=replace(SITE, longitude_deg=-120.0)),
    ],
    ids=["noon by the clock", "a night of 25 hours", "noon by a far clock", "noon by the Sun"],
)
def test_where_dusk_is_at_noon_the_night_begins_at_noon(night_of_midwinter: Plan) -> None:
    (judged,) = (r for r in RULES if r.__name__ == "free_times_keep_the_evening_rule")
    assert list(judged(night_of_midwinter)) == []


def test_a_night_whose_clock_is_half_a_day_off_the_sun_may_begin_on_the_next_day() -> None:
    (judged,) = (r for r in RULES if r.__name__ == "free_times_keep_the_evening_rule")
    evening = EveningRule(start=time(18), finish=time(1))
    assert list(judged(_under(evening, _lasting(42, 49, 40, 50)))) == []
    assert list(judged(_under(EveningRule(start=time(0)), _lasting(0, 6, 0, 6)))) == []
    assert list(judged(_under(evening, _lasting(66, 73, 66, 80)))) != []


def test_local_times_are_those_of_the_day() -> None:
    """Clocks of London went forward from 1 to 2 on 2027-03-28 (rule of the tz database)."""
    saturday = date(2027, 3, 27)
    assert _moved_clock("Europe/London", saturday, time(2, 30), utc(saturday, 25, 30)) == []
    assert _moved_clock("Europe/London", saturday, time(2, 30), utc(saturday, 26, 30)) != []


def test_a_local_time_that_never_came_may_be_read_either_way() -> None:
    saturday = date(2027, 3, 27)
    assert _moved_clock("Europe/London", saturday, time(1, 30), utc(saturday, 25, 30)) == []
    assert _moved_clock("Europe/London", saturday, time(1, 30), utc(saturday, 25)) == []
    assert _moved_clock("Europe/London", saturday, time(1, 30), utc(saturday, 49, 30)) != []


@pytest.mark.parametrize(
    ("points", "azimuth_deg", "height_deg"),
    [
        (((90, 10), (180, 20)), 135, 15.0),
        (((90, 10), (180, 20)), 0, 20 - 10 * 180 / 270),
        (((90, 10), (180, 20)), 360, 20 - 10 * 180 / 270),
        (((90, 10), (180, 20)), 45, 20 - 10 * 225 / 270),
        (((77, 12),), 300, 12.0),
        (((0, 5), (100, 5), (100, 40), (200, 40)), 100, 5.0),
        (((0, 5), (100, 50), (100, 2), (100, 40), (200, 40)), 100, 40.0),
        (((0, 10), (180, 10), (360, 30)), 0, 10.0),
        (((0, 10), (180, 10), (360, 30)), 360, 10.0),
        (((0, 10), (180, 10), (360, 30)), 359, 30 - 20 / 180),
    ],
)
def test_the_profile_is_straight_between_its_points_and_closed_through_north(
    points: tuple[tuple[float, float], ...], azimuth_deg: float, height_deg: float
) -> None:
    def seen(altitude_deg: float) -> tuple[str, ...]:
        stands: Sight = replace(sight(altitude_deg), azimuth_deg=float(azimuth_deg))
        all_round = replace(SITE, horizon=Horizon(*map(tuple, zip(*points, strict=True))))
        low = replace(CRAB, lowest_altitude_deg=0.0)
        return breaches_of(replace(with_visit(2, sight=stands), targets=(low,), site=all_round))

    def hidden(altitude_deg: float) -> bool:
        return any("M 1 on" in breach and "behind the horizon" in breach for breach in seen(altitude_deg))

    assert not hidden(height_deg - 0.299)
    assert hidden(height_deg - 0.301)


def _yields() -> Iterator[tuple[str, int]]:
    """Yield where the judge yields: file and line."""
    for path in Path(scheduler.check.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Yield):
                yield str(path), node.lineno


def test_every_sentence_of_the_judge_is_spoken_by_a_planted_breach() -> None:
    spoken: set[tuple[str, int]] = set()
    wanted = set(_yields())
    files = {path for path, _ in wanted}

    def listen(frame: FrameType, event: str, _: object) -> object:
        if frame.f_code.co_filename not in files:
            return None
        if event == "line":
            spoken.add((frame.f_code.co_filename, frame.f_lineno))
        return listen

    before = sys.gettrace()
    sys.settrace(listen)  # type: ignore[arg-type]
    try:
        for _, broken, _ in BREACHES:
            breaches_of(broken)
        for opportunities, _ in WINDOW_BREACHES:
            breaches_of_windows(plan(), opportunities)
        for changed, _ in planted_log.CHANGED:
            breaches_of_changes(changed, plan())
        for changed, opportunities in planted_log.WINDOWED:
            breaches_of_windows(changed, opportunities)
        for every, _ in planted_showing.OFFERS:
            breaches_of_showing(planted_showing.with_showing(), every)
    finally:
        sys.settrace(before)
    assert len(wanted) > 30
    assert {(Path(path).name, line) for path, line in wanted - spoken} == set()


def test_every_rule_has_planted_breaches() -> None:
    assert {rule.__name__ for rule in RULES} == {rule for rule, _, _ in BREACHES}
