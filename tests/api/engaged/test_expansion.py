"""What a calendar says is what is read: each rule of RFC 5545 by hand, where it stands beside it."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from api.engaged.expansion import busy_times_of

from .calendars import FIRST, LAST, busy, calendar, event

HELSINKI_LIKE = """\
BEGIN:VTIMEZONE
TZID:{name}
BEGIN:STANDARD
DTSTART:16010101T040000
TZOFFSETFROM:+0300
TZOFFSETTO:+0200
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:16010101T030000
TZOFFSETFROM:+0200
TZOFFSETTO:+0300
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=3
END:DAYLIGHT
END:VTIMEZONE"""


def test_an_event_takes_its_time() -> None:  # RFC 5545, 3.6.1
    assert busy(event("DTSTART:20270220T190000Z", "DTEND:20270220T213000Z")) == [
        ("02-20 19:00", "02-20 21:30")
    ]


def test_a_duration_stands_for_an_end() -> None:  # 3.3.6
    assert busy(event("DTSTART:20270220T190000Z", "DURATION:P1DT2H30M")) == [("02-20 19:00", "02-21 21:30")]


def test_an_event_without_end_or_duration_takes_no_time() -> None:  # 3.6.1
    assert busy(event("DTSTART:20270220T190000Z")) == []


def test_a_whole_day_is_the_local_day_of_its_owner() -> None:  # 3.6.1
    day = event("DTSTART;VALUE=DATE:20270701")
    assert busy(day) == [("06-30 23:00", "07-01 23:00")]
    assert busy(day, zone="Pacific/Auckland") == [("06-30 12:00", "07-01 12:00")]
    assert busy(day, zone="America/St_Johns") == [("07-01 02:30", "07-02 02:30")]


def test_whole_days_end_before_the_day_they_name() -> None:  # 3.6.1: DTEND is not included
    days = event("DTSTART;VALUE=DATE:20270220", "DTEND;VALUE=DATE:20270223")
    assert busy(days) == [("02-20 00:00", "02-23 00:00")]


def test_a_day_on_which_clocks_change_is_as_long_as_it_is() -> None:
    assert busy(event("DTSTART;VALUE=DATE:20270328")) == [("03-28 00:00", "03-28 23:00")]
    assert busy(event("DTSTART;VALUE=DATE:20271031")) == [("10-30 23:00", "11-01 00:00")]


def test_an_event_goes_on_over_midnight_and_a_new_year() -> None:
    over = event("DTSTART;TZID=Europe/London:20261231T220000", "DTEND;TZID=Europe/London:20270101T030000")
    assert busy(over) == [("01-01 00:00", "01-01 03:00")]


def test_a_time_without_a_zone_is_its_owners() -> None:  # 3.3.5, form 1
    floating = event("DTSTART:20270701T200000", "DURATION:PT1H")
    assert busy(floating, zone="Asia/Kolkata") == [("07-01 14:30", "07-01 15:30")]


def test_start_and_end_may_be_told_in_two_zones() -> None:
    """A flight in the night in which London's clocks go forward."""
    flight = event(
        "DTSTART;TZID=America/New_York:20270327T200000", "DTEND;TZID=Europe/London:20270328T083000"
    )
    assert busy(flight) == [("03-28 00:00", "03-28 07:30")]


def test_a_day_may_last_hours() -> None:
    assert busy(event("DTSTART;VALUE=DATE:20270105", "DURATION:PT6H")) == [("01-05 00:00", "01-05 06:00")]


def test_a_week_goes_by_the_clock_on_the_wall() -> None:
    """Wednesdays at eight stay at eight when the clocks are put forward on 28 March."""
    choir = event("DTSTART;TZID=Europe/London:20270317T200000", "DURATION:PT2H", "RRULE:FREQ=WEEKLY;COUNT=3")
    assert busy(choir) == [
        ("03-17 20:00", "03-17 22:00"), ("03-24 20:00", "03-24 22:00"), ("03-31 19:00", "03-31 21:00")
    ]  # fmt: skip


def test_exceptions_are_left_out_and_additions_put_in() -> None:  # 3.8.5.1, 3.8.5.2
    found = busy(event(
        "DTSTART:20270105T190000Z", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;UNTIL=20270126T190000Z",
        "EXDATE:20270112T190000Z,20270119T190000Z", "RDATE:20270114T190000Z",
        "RDATE;VALUE=PERIOD:20270115T200000Z/PT3H",
    ))  # fmt: skip
    assert [start for start, _ in found] == ["01-05 19:00", "01-14 19:00", "01-15 20:00", "01-26 19:00"]
    assert found[2][1] == "01-15 23:00"


def test_an_exception_can_be_a_day() -> None:  # 3.8.5.1 with VALUE=DATE
    days = event("DTSTART;VALUE=DATE:20270105", "RRULE:FREQ=DAILY;COUNT=3", "EXDATE;VALUE=DATE:20270106")
    assert busy(days) == [("01-05 00:00", "01-06 00:00"), ("01-07 00:00", "01-08 00:00")]


def test_a_moved_event_is_where_it_was_moved() -> None:  # 3.8.4.4
    series = event("DTSTART:20270105T190000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=3")
    moved = event("RECURRENCE-ID:20270106T190000Z", "DTSTART:20270106T120000Z", "DURATION:PT1H")
    assert busy(series, moved) == [
        ("01-05 19:00", "01-05 20:00"), ("01-06 12:00", "01-06 13:00"), ("01-07 19:00", "01-07 20:00")
    ]  # fmt: skip


def test_an_event_moved_here_from_an_earlier_year_counts() -> None:
    series = event("DTSTART:20261005T190000Z", "DURATION:PT1H", "RRULE:FREQ=MONTHLY;COUNT=2")
    moved = event("RECURRENCE-ID:20261105T190000Z", "DTSTART:20270506T120000Z", "DURATION:PT1H")
    assert busy(series, moved) == [("05-06 12:00", "05-06 13:00")]


def test_all_later_ones_move_along() -> None:  # 3.2.13
    series = event("DTSTART:20270105T190000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=4")
    later = event("RECURRENCE-ID;RANGE=THISANDFUTURE:20270107T190000Z", "DTSTART:20270107T210000Z",
                  "DURATION:PT2H")  # fmt: skip
    assert busy(series, later)[2:] == [("01-07 21:00", "01-07 23:00"), ("01-08 21:00", "01-08 23:00")]


@pytest.mark.parametrize(
    "said", ["TRANSP:TRANSPARENT", "STATUS:CANCELLED", "X-MICROSOFT-CDO-BUSYSTATUS:FREE",
             "transp:transparent"],
)  # fmt: skip
def test_what_leaves_time_free_does_not_count(said: str) -> None:  # 3.8.2.7, 3.8.1.11
    assert busy(event("DTSTART:20270105T190000Z", "DURATION:PT1H", said)) == []


@pytest.mark.parametrize(
    "said", ["TRANSP:OPAQUE", "STATUS:TENTATIVE", "STATUS:CONFIRMED", "X-MICROSOFT-CDO-BUSYSTATUS:BUSY",
             "X-MICROSOFT-CDO-BUSYSTATUS:OOF"],
)  # fmt: skip
def test_what_may_take_time_counts(said: str) -> None:
    assert busy(event("DTSTART:20270105T190000Z", "DURATION:PT1H", said)) == [("01-05 19:00", "01-05 20:00")]


@pytest.mark.parametrize("said", ["STATUS:CANCELLED", "TRANSP:TRANSPARENT"])
def test_one_of_a_series_can_be_called_off(said: str) -> None:
    series = event("DTSTART:20270105T190000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=3")
    off = event("RECURRENCE-ID:20270106T190000Z", "DTSTART:20270106T190000Z", "DURATION:PT1H", said)
    assert [start for start, _ in busy(series, off)] == ["01-05 19:00", "01-07 19:00"]


def test_busy_times_given_as_such_count() -> None:  # 3.6.4, 3.2.9
    given = "\n".join([
        "BEGIN:VFREEBUSY", "UID:given", "FREEBUSY;FBTYPE=FREE:20270101T080000Z/PT1H",
        "FREEBUSY;FBTYPE=BUSY-TENTATIVE:20270102T080000Z/PT1H",
        "FREEBUSY:20270103T080000Z/20270103T103000Z,20270104T080000Z/PT1H", "END:VFREEBUSY",
    ])  # fmt: skip
    assert busy(given) == [
        ("01-02 08:00", "01-02 09:00"), ("01-03 08:00", "01-03 10:30"), ("01-04 08:00", "01-04 09:00")
    ]  # fmt: skip


def test_tasks_notes_and_alarms_take_no_time() -> None:
    alarm = ("BEGIN:VALARM", "TRIGGER:-PT15M", "DURATION:PT5M", "REPEAT:3", "DTSTART:20270108T190000Z",
             "END:VALARM")  # fmt: skip
    task = "\n".join(
        ["BEGIN:VTODO", "UID:t", "DTSTART:20270103T080000Z", "DUE:20270103T090000Z", "END:VTODO"]
    )
    note = "\n".join(["BEGIN:VJOURNAL", "UID:j", "DTSTART:20270103T080000Z", "END:VJOURNAL"])
    rung = event("DTSTART:20270105T190000Z", "DURATION:PT1H", *alarm)
    assert busy(task, note, rung) == [("01-05 19:00", "01-05 20:00")]


def test_a_zone_that_the_file_explains_counts() -> None:  # 3.6.5
    zone = HELSINKI_LIKE.format(name="Our own zone")
    told = [event("DTSTART;TZID=Our own zone:20270105T190000", "DURATION:PT1H", uid="winter"),
            event("DTSTART;TZID=Our own zone:20270705T190000", "DURATION:PT1H", uid="summer")]  # fmt: skip
    assert busy(*told, zone) == [("01-05 17:00", "01-05 18:00"), ("07-05 16:00", "07-05 17:00")]


def test_a_zone_of_one_file_means_nothing_in_the_next() -> None:
    zone = HELSINKI_LIKE.format(name="Ours")
    one = event("DTSTART;TZID=Ours:20270105T190000", "DURATION:PT1H")
    assert busy(zone, one) == [("01-05 17:00", "01-05 18:00")]
    other = zone.replace("+0200", "-0500").replace("+0300", "-0400")
    assert busy(other, one) == [("01-06 00:00", "01-06 01:00")]


@pytest.mark.parametrize("explained", [True, False])
def test_windows_names_of_zones_are_known(explained: bool) -> None:
    """Names and their zones from the Unicode CLDR's windowsZones, by way of a library."""
    wrong = [HELSINKI_LIKE.format(name="W. Europe Standard Time")] if explained else []
    told = event("DTSTART;TZID=W. Europe Standard Time:20270705T190000", "DURATION:PT1H")
    india = event("DTSTART;TZID=India Standard Time:20270706T190000", "DURATION:PT1H", uid="two")
    assert busy(*wrong, told, india) == [("07-05 17:00", "07-05 18:00"), ("07-06 13:30", "07-06 14:30")]


def test_what_overlaps_or_touches_is_one() -> None:
    hours = ((8, 10), (9, 12), (12, 13), (15, 16), (15, 16))
    told = [event(f"DTSTART:20270105T{a:02}0000Z", f"DTEND:20270105T{b:02}0000Z", uid=f"{number}")
            for number, (a, b) in enumerate(hours)]  # fmt: skip
    assert busy(*told) == [("01-05 08:00", "01-05 13:00"), ("01-05 15:00", "01-05 16:00")]


def test_only_the_days_asked_for_are_told() -> None:
    daily = event("DTSTART:20260101T230000Z", "DURATION:PT2H", "RRULE:FREQ=DAILY")
    day = date(2027, 1, 5)
    found = busy(daily, first=day, last=day)
    assert found == [("01-05 00:00", "01-05 01:00"), ("01-05 23:00", "01-06 00:00")]


def test_events_are_counted_once_however_often_they_repeat() -> None:
    told = calendar(
        event("DTSTART:20270105T190000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY", uid="a"),
        event("DTSTART:20270105T190000Z", "DURATION:PT1H", "TRANSP:TRANSPARENT", uid="b"),
        event("DTSTART:20290105T190000Z", "DURATION:PT1H", uid="c"),
    )
    assert busy_times_of(told, FIRST, LAST, ZoneInfo("UTC")).events == 1


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
def test_other_encodings_and_ends_of_lines_are_read(encoding: str, end: str) -> None:
    text = calendar(event("SUMMARY:Café", "DTSTART:20270105T190000Z", "DURATION:PT1H")).decode()
    content = text.replace("\r\n", end).encode(encoding)
    assert len(busy_times_of(content, FIRST, LAST, ZoneInfo("UTC")).spans) == 1


def test_folded_lines_are_whole() -> None:  # 3.1
    whole = calendar(event("DTSTART:20270105T190000Z", "DURATION:PT1H"))
    folded = whole.replace(b"T190000Z", b"T1900\r\n 00Z").replace(b"PT1H", b"PT1\r\n\tH")
    zone = ZoneInfo("UTC")
    assert busy_times_of(folded, FIRST, LAST, zone) == busy_times_of(whole, FIRST, LAST, zone)
    assert len(busy_times_of(folded, FIRST, LAST, zone).spans) == 1


def test_several_calendars_in_one_stream_all_count() -> None:  # 3.4
    parts = [calendar(event("DTSTART:20270105T190000Z", "DURATION:PT1H")),
             calendar(event("DTSTART:20270106T190000Z", "DURATION:PT1H", uid="two"))]  # fmt: skip
    assert len(busy_times_of(b"".join(parts), FIRST, LAST, ZoneInfo("UTC")).spans) == 2
