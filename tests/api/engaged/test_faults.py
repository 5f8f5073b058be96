"""What cannot be read is refused with its place and its remedy, and never with its words."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from api.calendar_errors import CalendarFaults
from api.engaged.expansion import MOST_FAULTS, busy_times_of
from api.engaged.rules import MOST_OCCURRENCES, MOST_STEPS
from api.engaged.sieve import (
    LONGEST_LINE,
    MOST_BYTES,
    MOST_COMPONENTS,
    MOST_DATES,
    MOST_DEEP,
    sieved,
)

from .calendars import FIRST, LAST, busy, calendar, event
from .test_expansion import HELSINKI_LIKE

WORD = "Quillfeather"


def faults_of(content: bytes) -> list[tuple[int | None, str | None, str]]:
    with pytest.raises(CalendarFaults) as found:
        busy_times_of(content, FIRST, LAST, ZoneInfo("Europe/London"))
    assert WORD not in str(found.value)
    return [(one.component, one.property, one.expected) for one in found.value.faults]


@pytest.mark.parametrize("content", [
    b"", b"\r\n\r\n", b"hello", b"<html><body>Sign in</body></html>", b"BEGIN:VCARD\r\nEND:VCARD\r\n",
    bytes([0, 1, 2]), b"\xff\xfeB", b"BEGIN:VEVENT\r\nEND:VEVENT\r\n",
])  # fmt: skip
def test_what_is_no_calendar_is_refused(content: bytes) -> None:
    assert [(one, name) for one, name, _ in faults_of(content)] == [(None, None)]


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("DTSTART:2027-01-05", "DTSTART"), ("DTSTART:99990105T000000Z", "DTSTART"),
        ("DTSTART:00010105T000000Z", "DTSTART"), (f"DTSTART;TZID={WORD}:20270105T190000", "DTSTART"),
        ("DTSTART:20270105T190000Z\nDTSTART:20270106T190000Z", "DTSTART"),
        ("DTSTART:20270105T190000Z\nDTEND:20270105T180000Z", "DTEND"),
        ("DTSTART:20270105T190000Z\nDTEND;VALUE=DATE:20270106", "DTEND"),
        ("DTSTART:20270105T190000Z\nDTEND:20270105T200000", "DTEND"),
        (f"DTSTART:20270105T190000Z\nDTEND:{WORD}", "DTEND"),
        ("DTSTART:20270105T190000Z\nDURATION:-PT1H", "DURATION"),
        (f"DTSTART:20270105T190000Z\nDURATION:{WORD}", "DURATION"),
        ("DTSTART:20270105T190000Z\nDURATION:P99999999W", "DURATION"),
        (f"DTSTART:20270105T190000Z\nEXDATE:{WORD}", "EXDATE"),
        (f"DTSTART:20270105T190000Z\nRDATE;TZID={WORD}:20270105T190000", "RDATE"),
        (f"DTSTART:20270105T190000Z\nRECURRENCE-ID:{WORD}", "RECURRENCE-ID"),
        (f"DTSTART:20270105T190000Z\nRRULE:{WORD}", "RRULE"),
        ("DTSTART:20270105T190000Z\nRRULE:FREQ=SECONDLY;COUNT=2", "RRULE"),
        ("DTSTART:20270105T190000Z\nRRULE:FREQ=WEEKLY;BYDAY=XX", "RRULE"),
        ("DTSTART:20270105T190000Z\nRRULE:FREQ=DAILY;INTERVAL=0", "RRULE"),
        ("DTSTART:20270105T190000Z\nRRULE:FREQ=DAILY;COUNT=0", "RRULE"),
        ("DTSTART:20270105T190000Z\nRRULE:FREQ=DAILY;COUNT=-1", "RRULE"),
        ("DTSTART:20270105T190000Z\nRRULE:FREQ=DAILY;UNTIL=15000101", "RRULE"),
        ("DURATION:PT1H", "DTSTART"),
    ],
)  # fmt: skip
def test_each_fault_names_its_component_and_property(line: str, name: str) -> None:
    sound = event("DTSTART:20270105T190000Z", "DURATION:PT1H", uid="sound")
    found = faults_of(calendar(sound, event(*line.split("\n"), f"SUMMARY:{WORD}")))
    assert {(one, which) for one, which, _ in found} == {(3, name)}
    assert all(expected for _, _, expected in found)


def test_all_faults_are_told_at_once_up_to_a_point() -> None:
    wrong = [event("DTSTART:never", uid=str(number)) for number in range(3)]
    assert [one for one, _, _ in faults_of(calendar(*wrong))] == [2, 3, 4]
    many = [event("DTSTART:never", uid=str(number)) for number in range(2 * MOST_FAULTS)]
    assert len(faults_of(calendar(*many))) == MOST_FAULTS


@pytest.mark.parametrize("spoil", [
    lambda text: text.replace("END:VEVENT\r\n", ""),
    lambda text: text.replace("END:VCALENDAR\r\n", ""),
    lambda text: text + "END:VCALENDAR\r\n",
    lambda text: text.replace("END:VEVENT", "END:VTODO"),
    lambda text: text + text.replace("BEGIN:VCALENDAR\r\n", ""),
])  # fmt: skip
def test_a_damaged_file_is_refused(spoil: object) -> None:
    assert callable(spoil)
    text = calendar(event("DTSTART:20270105T190000Z", "DURATION:PT1H")).decode()
    assert len(faults_of(spoil(text).encode())) == 1


def test_a_zone_with_a_rule_that_is_not_yearly_is_refused() -> None:
    zone = HELSINKI_LIKE.format(name="Ours").replace("FREQ=YEARLY;BYDAY=-1SU;BYMONTH=3", "FREQ=MINUTELY")
    assert [(one, name) for one, name, _ in faults_of(calendar(zone))] == [(2, "RRULE")]


def test_too_large_a_file_is_refused() -> None:
    text = calendar(event("DTSTART:20270105T190000Z", "DURATION:PT1H")).decode()
    filler = "X-NOTE:" + "a" * 70 + "\r\n"
    full = text.replace("VERSION:2.0\r\n", "VERSION:2.0\r\n" + filler * 63_280)
    assert MOST_BYTES - 10_000 < len(full) < MOST_BYTES
    assert len(sieved(full.encode())) == 1
    assert faults_of((full + filler * 200).encode()) == [(None, None, f"at most {MOST_BYTES} bytes")]


def test_too_many_components_are_refused() -> None:
    task = "BEGIN:VTODO\nEND:VTODO"
    assert sieved(calendar(*[task] * (MOST_COMPONENTS - 1))) == []
    assert "components" in faults_of(calendar(*[task] * MOST_COMPONENTS))[0][2]


def test_components_too_deep_in_each_other_are_refused() -> None:
    def nested(deep: int) -> bytes:
        return calendar("\n".join(["BEGIN:X-BOX"] * deep + ["END:X-BOX"] * deep))

    assert sieved(nested(MOST_DEEP - 1)) == []
    assert "deep" in faults_of(nested(MOST_DEEP))[0][2]


def test_too_many_dates_and_too_long_a_line_are_refused() -> None:
    start = ("DTSTART:20270105T190000Z", "DURATION:PT1H")
    listed = "EXDATE:" + ",".join(["20270105"] * 1000)
    many = faults_of(calendar(event(*start, *[listed] * (MOST_DATES // 1000 + 1))))
    assert [(one, name) for one, name, _ in many] == [(2, "EXDATE")]
    long = faults_of(calendar(event(*start, "EXDATE:" + "2" * LONGEST_LINE)))
    assert long == [(2, "EXDATE", f"at most {LONGEST_LINE} signs")]


@pytest.mark.parametrize("rule", [
    "FREQ=MINUTELY", "FREQ=DAILY;BYHOUR=0,1,2,3,4,5,6,7,8,9,10,11;BYMINUTE=0,10,20,30,40,50;BYSECOND=0,30",
    "FREQ=HOURLY;BYMINUTE=0,10,20,30,40,50", "FREQ=YEARLY;BYHOUR=1,2,3,4,5,6;BYMINUTE=0,1,2,3,4,5;"
    "BYSECOND=0,10,20,30;BYDAY=MO,TU,WE,TH,FR,SA,SU",
])  # fmt: skip
def test_rules_that_bring_too_much_are_refused_before_they_are_followed(rule: str) -> None:
    found = faults_of(calendar(event("DTSTART:20270101T000000Z", "DURATION:PT1S", f"RRULE:{rule}")))
    assert [(one, name) for one, name, _ in found] == [(2, "RRULE")]
    assert str(MOST_OCCURRENCES) in found[0][2]


def test_a_rule_every_few_hours_is_read() -> None:
    taken = event("DTSTART:20270101T000000Z", "DURATION:PT1M", "RRULE:FREQ=HOURLY;INTERVAL=6")
    assert len(busy(taken)) == 4 * 365


def test_rules_that_bring_too_much_together_are_refused() -> None:
    each = [event("DTSTART:20270101T000000Z", "DURATION:PT1M", "RRULE:FREQ=DAILY", uid=str(number))
            for number in range(MOST_OCCURRENCES // 365 + 2)]  # fmt: skip
    found = faults_of(calendar(*each))
    assert found[0][0] is not None
    assert found[0][0] > 100


def test_rules_from_long_ago_that_bring_little_are_read_and_too_many_of_them_refused() -> None:
    old = event("DTSTART:16040301T190000", "DURATION:PT1H", "RRULE:FREQ=YEARLY")
    assert busy(old) == [("03-01 19:00", "03-01 20:00")]
    ancient = event("DTSTART:16010105T190000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;BYMONTH=2")
    assert len(busy(ancient)) == 28
    many = [ancient.replace("UID:one", f"UID:{number}") for number in range(MOST_STEPS // 150_000 + 1)]
    assert "began later" in faults_of(calendar(*many))[0][2]


def test_an_end_of_a_rule_in_the_far_future_is_as_good_as_none() -> None:
    lasting = event("DTSTART:20261228T190000Z", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;UNTIL=99991231T235959Z")
    assert len(busy(lasting, zone="Pacific/Apia")) == 52


def test_nothing_but_times_gets_through_the_sieve() -> None:
    full = calendar(event(
        "DTSTART:20270105T190000Z", "DURATION:PT1H", f"SUMMARY:{WORD}", f"DESCRIPTION:{WORD}",
        f"LOCATION:{WORD}", f"ATTENDEE;CN={WORD}:mailto:{WORD}@example.org", f"ORGANIZER:mailto:{WORD}@x.org",
        f"CATEGORIES:{WORD}", f"COMMENT:{WORD}", f"URL:https://example.org/{WORD}", f"X-NOTE:{WORD}",
        "BEGIN:VALARM", f"DESCRIPTION:{WORD}", "END:VALARM",
    ))  # fmt: skip
    through = "".join(block.text for block in sieved(full))
    assert WORD not in through
    assert "DTSTART:20270105T190000Z" in through
