"""The nouns of the log and of a forecast."""

from __future__ import annotations

from datetime import date

import pytest

from scheduler.domain import Forecast, Outcome, OutcomeLog, Sighting, Went, sightings_in
from scheduler.domain.outcome import MOST_OUTCOMES
from scheduler.errors import InvalidValue

EVENING = date(2027, 1, 8)


@pytest.mark.parametrize(("went", "usable_min", "expected"), [
    (Went.CLEAR, 0, "clouded out"), (Went.PART_CLEAR, 0, "clouded out"), (Went.CLOUDED_OUT, 30, "part-clear"),
    (Went.COULD_NOT_GO, 30, "0 or blank"), (Went.CLEAR, -1, "from 0 to"), (Went.CLEAR, 1441, "from 0 to"),
])  # fmt: skip
def test_minutes_fit_how_the_night_went(went: Went, usable_min: int, expected: str) -> None:
    with pytest.raises(InvalidValue) as refused:
        Outcome(EVENING, went, usable_min)
    assert refused.value.field == "usable_min"
    assert expected in refused.value.expected


def test_a_line_is_added_and_nothing_taken_out() -> None:
    empty = OutcomeLog()
    first = empty.with_line(Outcome(EVENING, Went.CLEAR))
    second = first.with_line(Outcome(EVENING, Went.COULD_NOT_GO))
    assert (len(empty.lines), len(first.lines), len(second.lines)) == (0, 1, 2)
    assert not empty
    assert second.standing == (Outcome(EVENING, Went.COULD_NOT_GO),)
    assert second.weather == ()


def test_what_stands_is_by_date_whatever_the_order_of_lines() -> None:
    days = [date(2027, 3, 1), date(2026, 12, 31), date(2027, 1, 8)]
    log = OutcomeLog(tuple(Outcome(day, Went.CLEAR) for day in days))
    assert [outcome.evening for outcome in log.standing] == sorted(days)


def test_a_log_has_an_end() -> None:
    with pytest.raises(InvalidValue):
        OutcomeLog((Outcome(EVENING, Went.CLEAR),) * (MOST_OUTCOMES + 1))


def test_a_forecast_looks_ahead() -> None:
    assert Forecast(EVENING, 0.7, date(2027, 1, 5)).lead_days == 3
    assert Forecast(EVENING, 0.7, EVENING).lead_days == 0
    for odds, made_on in ((1.2, EVENING), (0.7, date(2027, 1, 9))):
        with pytest.raises(InvalidValue):
            Forecast(EVENING, odds, made_on)


@pytest.mark.parametrize(("went", "names", "field"), [
    (Went.CLOUDED_OUT, {"seen": ("M 42",)}, "seen"),
    (Went.COULD_NOT_GO, {"seen_poorly": ("M 42",)}, "seen_poorly"),
    (Went.CLEAR, {"seen": ("M 42",), "not_seen": ("M 42",)}, "not_seen"),
    (Went.CLEAR, {"seen": ("M 42", "M 42")}, "seen"),
])  # fmt: skip
def test_a_target_is_told_once_and_seen_only_where_it_could_be(
    went: Went, names: dict[str, tuple[str, ...]], field: str
) -> None:
    with pytest.raises(InvalidValue) as refused:
        Outcome(EVENING, went, **names)  # type: ignore[arg-type]
    assert refused.value.field == field
    assert Outcome(EVENING, Went.CLOUDED_OUT, not_seen=("M 42",)).out is False


def test_what_was_seen_is_by_date_and_by_the_last_line_of_an_evening() -> None:
    early, late = date(2027, 1, 2), date(2027, 1, 8)
    lines = (
        Outcome(late, Went.CLEAR, seen=("M 42",)), Outcome(early, Went.CLEAR, seen=("M 31", "M 1")),
        Outcome(late, Went.PART_CLEAR, seen=("Jupiter",)),
    )  # fmt: skip
    assert sightings_in(OutcomeLog(lines).standing) == (
        Sighting(early, "M 31"), Sighting(early, "M 1"), Sighting(late, "Jupiter")
    )  # fmt: skip


def test_a_plan_knows_of_the_log_what_may_touch_it_and_no_notes() -> None:
    start = date(2027, 3, 1)
    before = [date(2027, 1, 29), date(2027, 1, 28), date(2026, 5, 1)]
    log = OutcomeLog((
        Outcome(before[0], Went.CLEAR, notes="cold"), Outcome(before[1], Went.CLEAR),
        Outcome(before[2], Went.CLEAR, seen=("M 13",)),
    ))  # fmt: skip
    told = log.of_plan(start)
    assert [outcome.evening for outcome in told] == [before[2], before[0]]
    assert {outcome.notes for outcome in told} == {""}
    assert OutcomeLog().of_plan(date.min) == ()


@pytest.mark.parametrize("sky_brightness", [9.99, 24.01, float("nan")])
def test_a_measured_sky_is_one_a_meter_can_read(sky_brightness: float) -> None:
    assert Outcome(EVENING, Went.CLEAR, sky_brightness=21.3).sky_brightness == 21.3
    with pytest.raises(InvalidValue) as refused:
        Outcome(EVENING, Went.CLEAR, sky_brightness=sky_brightness)
    assert refused.value.field == "sky_brightness"


def test_a_plan_knows_nothing_of_notes_and_measured_skies() -> None:
    log = OutcomeLog((Outcome(EVENING, Went.CLEAR, notes="dew", seen=("M 42",), sky_brightness=21.3),))
    assert log.of_plan(EVENING) == (Outcome(EVENING, Went.CLEAR, seen=("M 42",)),)
