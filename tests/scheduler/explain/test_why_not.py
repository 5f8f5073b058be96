"""Why a target has no visit: the smallest change told places it, and one step less does not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from scheduler.domain import Amendment, EveningRule, Extended, Reason, Remedy, Scenario, Sight, WhyNot
from scheduler.errors import InvalidValue
from scheduler.explain import why_not
from scheduler.explain.why_not import LOW, caution_of
from scheduler.year import plan_year
from tests.small_season import ANDROMEDA, HERCULES, LARKMOOR, OMEGA, ORION, scenario, star

FRIDAYS = EveningRule((4,), time(18), time(23))
EARLY = EveningRule(start=time(18), finish=time(20))
SHORT = EveningRule(start=time(20), finish=time(21, 15))
FAINT = star("faint", 160.0, 50.0, magnitude=10.5, size_arcmin=6.0, nature=Extended("galaxy", 4.0, "Sc"))
WEDNESDAY = date(2027, 1, 6)

CASES: dict[str, tuple[Scenario, str, Amendment, Amendment | None]] = {
    "a lower limit": (
        scenario(replace(ORION, lowest_altitude_deg=34.0), ANDROMEDA, nights=10), "M 42",
        Amendment(lowest_altitude_deg=29.0, targets=("M 42",)),
        Amendment(lowest_altitude_deg=30.0, targets=("M 42",)),
    ),
    "a weekday": (
        scenario(replace(ORION, earliest=WEDNESDAY, latest=WEDNESDAY), nights=14, rule=FRIDAYS), "M 42",
        Amendment(weekdays=(2,)), Amendment(weekdays=(1,)),
    ),
    "a later finish": (
        scenario(HERCULES, ORION, start=date(2027, 3, 20), nights=8,
                 rule=EveningRule(start=time(20), finish=time(21))), "M 13",
        Amendment(later_min=60), Amendment(later_min=30),
    ),
    "an earlier start": (
        scenario(star("sets", 330.0, 20.0, lowest_altitude_deg=25.0), ORION, start=date(2027, 1, 10),
                 nights=8, rule=EveningRule(start=time(20), finish=time(23))), "sets",
        Amendment(earlier_min=90), Amendment(earlier_min=60),
    ),
    "a darker sky": (
        scenario(FAINT, ORION, start=date(2027, 2, 3), nights=6, site=replace(LARKMOOR, sky_brightness=18.4)),
        "faint", Amendment(sky_brightness=20.4), Amendment(sky_brightness=19.9),
    ),
    "room, where every night is full": (
        scenario(replace(ORION, priority=5), replace(ORION, name="second", priority=1), nights=1, rule=SHORT),
        "second", Amendment(later_min=30), None,
    ),
}  # fmt: skip


def visited(of: Scenario, name: str) -> bool:
    return any(visit.target == name for visit in plan_year(of, seconds=1.0).visits)


@pytest.fixture(scope="module")
def answers() -> dict[str, WhyNot]:
    return {words: why_not(plan_year(of, seconds=1.0), of, name) for words, (of, name, _, _) in CASES.items()}


@pytest.mark.parametrize("case", CASES)
def test_the_smallest_change_is_told_and_really_places_it(case: str, answers: dict[str, WhyNot]) -> None:
    of, name, change, less = CASES[case]
    assert change in [remedy.change for remedy in answers[case].remedies]
    assert not visited(of, name)
    if less is not None:
        assert not visited(less.applied(of), name)
    for remedy in answers[case].remedies:
        plan = plan_year(remedy.change.applied(of), seconds=1.0)
        assert name in {visit.target for visit in plan.visits}


@pytest.mark.parametrize("case", CASES)
def test_what_was_tried_in_vain_does_not_place_it(case: str, answers: dict[str, WhyNot]) -> None:
    of, name, _, _ = CASES[case]
    most = {
        "an altitude limit": Amendment(lowest_altitude_deg=1.0, targets=(name,)),
        "a later finish": Amendment(later_min=180),
        "an earlier start": Amendment(earlier_min=180),
        "a sky of up to": Amendment(sky_brightness=21.9),
    }
    for words in answers[case].tried:
        for start, change in most.items():
            if words.startswith(start):
                assert not visited(change.applied(of), name), words


def test_the_visit_is_told_with_where_it_stands(answers: dict[str, WhyNot]) -> None:
    answer = answers["a lower limit"]
    assert (answer.target, answer.missing, answer.reason) == ("M 42", 1, Reason.NEVER_HIGH)
    (remedy,) = answer.remedies
    assert 29.0 <= remedy.sight.altitude_deg <= 30.0
    assert remedy.time.minutes == 20
    assert remedy.caution == ""


def test_nothing_helps_what_never_rises() -> None:
    of = scenario(OMEGA, ORION, nights=6)
    answer = why_not(plan_year(of, seconds=0.5), of, "NGC 5139")
    assert answer.remedies == ()
    assert [words.split(",")[0] for words in answer.tried] == [
        "an altitude limit down to 1°", "a later finish", "an earlier start",
        "a sky of up to 21.9 mag/arcsec2",
    ]  # fmt: skip


def test_a_step_that_shows_the_target_but_no_room_for_it_does_not_help() -> None:
    # Both want the one visit the only night holds; a lower limit shows the second, but leaves no room.
    first = replace(ORION, priority=5)
    second = replace(ORION, name="second", priority=1, lowest_altitude_deg=40.0)
    of = scenario(first, second, nights=1, rule=SHORT)
    answer = why_not(plan_year(of, seconds=0.5), of, "second")
    assert answer.remedies == ()
    assert "an altitude limit down to 1°" in answer.tried
    assert not visited(Amendment(lowest_altitude_deg=20.0, targets=("second",)).applied(of), "second")


def test_a_target_with_all_its_visits_is_none_to_ask_about() -> None:
    of = scenario(ORION, nights=3)
    with pytest.raises(InvalidValue, match="a target with fewer visits than wanted"):
        why_not(plan_year(of, seconds=0.2), of, "M 42")


def test_one_more_of_several_visits_counts() -> None:
    twice = replace(ORION, visits=2, spacing_days=3)
    of = scenario(twice, nights=14, rule=FRIDAYS, start=date(2027, 1, 7))
    of = replace(of, season=replace(of.season, nights=6))
    plan = plan_year(of, seconds=0.5)
    assert [visit.target for visit in plan.visits] == ["M 42"]
    answer = why_not(plan, of, "M 42")
    (remedy,) = [one for one in answer.remedies if one.change.weekdays]
    assert len(plan_year(remedy.change.applied(of), seconds=0.5).visits) == 2
    assert abs((remedy.evening - plan.visits[0].evening).days) >= 3


def sight(altitude_deg: float, sun_altitude_deg: float, sun_separation_deg: float) -> Sight:
    return Sight(10.0, 10.0, "Pisces", altitude_deg, 270.0, 0.1, -10.0, 90.0, sun_altitude_deg,
                 sun_separation_deg, 0.5)  # fmt: skip


@pytest.mark.parametrize(
    ("stands", "cautioned"),
    [
        (sight(5.0, -7.0, 20.0), True),
        (sight(5.0, -20.0, 25.0), True),
        (sight(5.0, -7.0, 50.0), True),
        (sight(5.0, -13.0, 50.0), False),
        (sight(5.0, -7.0, 120.0), False),
    ],
)
def test_low_in_twilight_near_the_sun_is_cautioned_about(stands: Sight, cautioned: bool) -> None:
    lower = Amendment(lowest_altitude_deg=5.0)
    assert (caution_of(lower, stands) == LOW) == cautioned
    assert caution_of(Amendment(later_min=30), stands) == ""
    assert "Never point" in LOW


def test_remedies_are_told_by_effort(answers: dict[str, WhyNot]) -> None:
    def effort(one: Remedy) -> int:
        change = one.change
        asked = (change.lowest_altitude_deg is not None, bool(change.weekdays), bool(change.later_min),
                 bool(change.earlier_min), change.sky_brightness is not None)  # fmt: skip
        return asked.index(True)

    for answer in answers.values():
        efforts = [effort(one) for one in answer.remedies]
        assert efforts == sorted(set(efforts))
