"""The nouns of the log and of a forecast."""

from __future__ import annotations

from datetime import date

import pytest

from scheduler.domain import Forecast, Outcome, OutcomeLog, Went
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
