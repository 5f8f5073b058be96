"""Times of day, and the nights on which clocks change, by the days the tz database has."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduler.clock import clock_change_words, clock_of


@pytest.mark.parametrize(
    ("evening", "zone", "words"),
    [
        (date(2027, 3, 27), "Europe/London",
         "the clocks go forward from 01:00 GMT to 02:00 BST: all later times are BST"),
        (date(2027, 10, 30), "Europe/London",
         "the clocks go back from 02:00 BST to 01:00 GMT: all later times are GMT"),
        (date(2027, 4, 3), "Australia/Sydney",
         "the clocks go back from 03:00 AEDT to 02:00 AEST: all later times are AEST"),
        (date(2027, 4, 3), "America/Santiago",
         "the clocks go back from 00:00 UTC-03 to 23:00 UTC-04: all later times are UTC-04"),
    ],
)  # fmt: skip
def test_a_night_on_which_clocks_change_says_how(evening: date, zone: str, words: str) -> None:
    assert clock_change_words(evening, ZoneInfo(zone)) == words
    for beside in (-1, 1):
        assert clock_change_words(evening + timedelta(days=beside), ZoneInfo(zone)) == ""


def test_where_clocks_never_change_nothing_is_said() -> None:
    evenings = [date(2027, 1, 1) + timedelta(days=day) for day in range(366)]
    assert {clock_change_words(evening, ZoneInfo("Africa/Johannesburg")) for evening in evenings} == {""}
    assert sum(bool(clock_change_words(evening, ZoneInfo("Europe/Oslo"))) for evening in evenings) == 2


def test_an_hour_that_comes_twice_is_told_with_its_zone() -> None:
    start = datetime(2027, 10, 31, 0, 0, tzinfo=UTC)
    london = ZoneInfo("Europe/London")
    told = [clock_of(start + timedelta(minutes=30 * step), london) for step in range(-1, 5)]
    assert told == ["00:30", "01:00 BST", "01:30 BST", "01:00 GMT", "01:30 GMT", "02:00"]
    spring = datetime(2027, 3, 28, 1, 0, tzinfo=UTC)
    assert clock_of(spring, london) == "02:00"
