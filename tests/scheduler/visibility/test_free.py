"""Which nights are free, and from when to when."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time

import pytest

from scheduler.domain import (
    Availability,
    Binoculars,
    ClearOdds,
    EveningRule,
    FreeNight,
    Kit,
    Routine,
    Scenario,
    Season,
)
from scheduler.visibility.free import free_nights_of
from tests.small_plan import FIRST, ORION, SECOND, SITE, night, utc

NIGHTS = (night(FIRST).night, night(SECOND).night)


def free(*rules: EveningRule, **changes: object) -> tuple[FreeNight, ...]:
    scenario = Scenario(
        "larkmoor", SITE, Kit(binoculars=Binoculars("10x50", 10, 50)), Season(FIRST, 8),
        replace(Availability(rules or (EveningRule(),)), **changes),  # type: ignore[arg-type]
        ClearOdds((0.4,) * 12), (ORION,), Routine(setup_min=20),
    )  # fmt: skip
    return free_nights_of(scenario, NIGHTS, (0.4, 0.3))


def test_without_times_the_evening_runs_from_setting_up_before_dusk_to_dawn() -> None:
    first, second = free()
    assert first.free.start == utc(FIRST, 16, 10)
    assert first.free.end == utc(FIRST, 31, 30)
    assert second.clear_odds == 0.3


def test_a_finish_after_midnight_belongs_to_the_next_day() -> None:
    (first, _) = free(EveningRule(start=time(19), finish=time(1, 30)))
    assert first.free.start == datetime(2027, 1, 8, 19, tzinfo=UTC)
    assert first.free.end == datetime(2027, 1, 9, 1, 30, tzinfo=UTC)


def test_only_the_named_weekdays_and_the_exceptions_are_free() -> None:
    saturdays = EveningRule(weekdays=(5,))
    assert free(saturdays) == ()
    assert [n.evening for n in free(saturdays, extra=frozenset({SECOND}))] == [SECOND]
    assert [n.evening for n in free(away=frozenset({FIRST}))] == [SECOND]


def test_an_evening_over_before_dusk_is_not_free() -> None:
    assert free(EveningRule(start=time(13), finish=time(16))) == ()


def test_a_night_without_dusk_is_not_free() -> None:
    bright = replace(NIGHTS[0], twilit=None)
    scenario_nights = (bright, NIGHTS[1])
    scenario = Scenario(
        "larkmoor", SITE, Kit(binoculars=Binoculars("10x50", 10, 50)), Season(FIRST, 8), Availability(),
        ClearOdds((0.4,) * 12), (ORION,),
    )  # fmt: skip
    assert [n.evening for n in free_nights_of(scenario, scenario_nights, (0.4, 0.4))] == [SECOND]


@pytest.mark.parametrize(
    ("evening", "start_utc"),
    # Europe/London: GMT until 28 March 2027, then BST
    [(date(2027, 3, 27), "2027-03-27T20:00"), (date(2027, 3, 28), "2027-03-28T19:00")],
)
def test_local_times_follow_the_clock_change(evening: date, start_utc: str) -> None:
    scenario = Scenario(
        "larkmoor", SITE, Kit(binoculars=Binoculars("10x50", 10, 50)), Season(evening, 1),
        Availability((EveningRule(start=time(20), finish=time(23)),)), ClearOdds((0.4,) * 12), (ORION,),
    )  # fmt: skip
    (only,) = free_nights_of(scenario, (night(evening).night,), (0.5,))
    assert only.free.start == datetime.fromisoformat(start_utc).replace(tzinfo=UTC)
