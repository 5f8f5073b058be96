"""What a feed writes is read back the same by three readers, for every text and every night of a year."""

from __future__ import annotations

import gzip
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events
from hypothesis import given, settings
from hypothesis import strategies as st

from api.ics import Pages, clean, lines_of, single, title_of, whole
from api.storage import EntryRecord, EntryState
from scheduler.notices import notices_of
from tests.small_plan import FIRST, ORION, night, visit, with_nights

from .calendar_readers import READERS, Seen, content_lines

STAMP = datetime(2026, 9, 1, 12, 0, tzinfo=UTC)
ZONES = ("Europe/London", "Australia/Lord_Howe", "America/St_Johns", "Pacific/Apia", "Africa/Nairobi")
NEW_YEAR = date(2027, 1, 1)
HOSTILE = (
    "a, b; c \\ d \\n \\N \\, \\\\", "BEGIN:VEVENT\r\nUID:else\nEND:VCALENDAR",
    "\x00\x07\x1b[31m\x7f\x85\x9f",
    "größer \N{HORSE} \N{WOMAN}\u200d\N{ROCKET}", "Zoe\u0308 e\u0301\u0327\u0323", "مرحبا \u202eשלום\u202c",
    "x" * 400, "ж" * 200, "\N{HORSE}" * 100, "one\u2028two\u2029three", '"quoted"; X=1:', "  \t spaced \t ",
    "\ufeff\ufffe\U0010ffff", "\r\r\n\n",
)  # fmt: skip


def entry(number: int = 0, told: dict[str, Any] | None = None, **other: Any) -> EntryRecord:
    evening = NEW_YEAR + timedelta(days=number)
    start = datetime.combine(evening, time(20), UTC)
    notice = {
        "start": start.isoformat(), "end": (start + timedelta(hours=4)).isoformat(),
        "title": "Night out: M 42", "place": "Far Carn", "observers": ["Jory"],
        "categories": ["Observing", "Trip"], "lines": ["Meet at 20:00.", "", "M 42"],
        "care": ["Mind the owl."], "clear_odds": 0.25,
    }  # fmt: skip
    values: dict[str, Any] = {
        "number": number, "calendar": "c", "uid": str(UUID(int=number)), "evening": evening,
        "told": notice | (told or {}), "state": EntryState.PLANNED, "sequence": number, "created": STAMP,
        "changed": STAMP + timedelta(seconds=number), "announced": None, "carried": False, "amends": [],
        "outcome": None,
    }  # fmt: skip
    return EntryRecord(**(values | other))


def feed(
    entries: Iterable[EntryRecord],
    name: str = "Hendra",
    alarm_min: int | None = None,
    pages: Pages | None = None,
) -> str:
    events = (pages or Pages()).events(entries, lambda day: f"https://p.example/nights/s/{day}", alarm_min)
    return whole(name, "feed01", events)


def read(text: str) -> dict[str, list[Seen]]:
    """What each reader finds; they must all find the same."""
    found = {name: reader(text) for name, reader in READERS.items()}
    assert found["icalendar"] == found["ical"] == found["vobject"]
    return found


def test_a_feed_says_what_it_is_and_invites_nobody() -> None:
    lines = content_lines(feed([entry()], "Hendra, stars; \\o/\r\nEND:VCALENDAR").encode())
    head = lines[: lines.index("BEGIN:VEVENT")]
    name = "Hendra\\, stars\\; \\\\o/\\nEND:VCALENDAR"
    assert head == [
        "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Duskwright//Duskwright//EN", "CALSCALE:GREGORIAN",
        f"NAME:{name}", f"X-WR-CALNAME:{name}", "REFRESH-INTERVAL;VALUE=DURATION:PT1H", "UID:feed01",
        "X-PUBLISHED-TTL:PT1H",
    ]  # fmt: skip
    assert not [line for line in lines if line.startswith("METHOD")]


@pytest.mark.parametrize(
    ("other", "status", "shown"),
    [
        ({}, "TENTATIVE", "OPAQUE"),
        ({"announced": STAMP}, "CONFIRMED", "OPAQUE"),
        ({"outcome": "clear"}, "CONFIRMED", "OPAQUE"),
        ({"state": EntryState.WITHDRAWN, "announced": STAMP}, "CANCELLED", "TRANSPARENT"),
    ],
)
def test_an_event_says_how_sure_it_is(other: dict[str, Any], status: str, shown: str) -> None:
    text = feed([entry(3, **other)], alarm_min=90)
    (seen,) = read(text)["ical"]
    assert (seen.status, seen.sequence, seen.uid) == (status, 3, str(UUID(int=3)))
    assert seen.stamp == seen.modified == STAMP + timedelta(seconds=3)
    assert ("TRANSP:TRANSPARENT" in text.split("\r\n")) == (shown == "TRANSPARENT")
    assert seen.alarms == (other.get("outcome") is None and status != "CANCELLED")


def test_nobody_is_reminded_who_did_not_ask() -> None:
    assert "VALARM" not in feed([entry()])
    lines = content_lines(feed([entry()], alarm_min=90).encode())
    begin = lines.index("BEGIN:VALARM")
    assert lines[begin + 1 : begin + 4] == [
        "ACTION:DISPLAY",
        "DESCRIPTION:Night out: M 42",
        "TRIGGER:-PT1H30M",
    ]


def test_what_a_night_tells_follows_what_became_of_it() -> None:
    amends = [{"on": "2026-12-20", "words": ["M 1 added", "M 35 taken off: made room"]}]
    changed = "Changed on 2026-12-20: M 1 added; M 35 taken off: made room."
    told = ["Meet at 20:00.", "", "M 42"]
    odds = "Clear odds 25 %."
    assert lines_of(entry()) == ["Provisional: it may still move until it is announced.", odds, *told]
    assert lines_of(entry(announced=STAMP, amends=amends)) == [changed, odds, *told]
    assert "Clear odds under 1 %." in lines_of(entry(told={"clear_odds": 0.004}))
    withdrawn = entry(announced=STAMP, amends=amends, state=EntryState.WITHDRAWN)
    assert lines_of(withdrawn) == ["This night is no longer planned.", changed], "nobody is to meet there"
    over = entry(announced=STAMP, outcome="clouded out")
    assert lines_of(over) == ["How it went: clouded out.", *told]
    assert title_of(over) == "Night out: M 42 (clouded out)"


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.lists(st.one_of(st.text(st.characters(exclude_categories=["Cs"])), st.sampled_from(HOSTILE)),
                min_size=4, max_size=4))  # fmt: skip
def test_every_text_comes_out_of_every_reader_as_it_went_in(texts: list[str]) -> None:
    title, place, *lines = texts
    one = entry(told={"title": title, "place": place, "lines": lines})
    text = feed([one], title)
    content_lines(text.encode())
    (seen,) = read(text)["vobject"]
    assert seen.title == clean(title)
    assert seen.place == clean(place)
    assert seen.text == clean("\n".join(lines_of(one)))


def test_the_same_nights_are_the_same_bytes_and_events_do_not_depend_on_their_neighbours() -> None:
    entries = [entry(number) for number in range(5)]
    pages = Pages()
    twice = [feed(entries, pages=pages) for _ in range(2)]
    assert twice[0] == twice[1] == feed(entries)
    feed(entries, alarm_min=90, pages=pages)
    assert feed(entries, pages=pages) == twice[0]
    fewer = feed(entries[:4], pages=pages)
    assert twice[0].startswith(fewer.removesuffix("END:VCALENDAR\r\n"))


def test_a_night_brought_back_with_an_older_state_of_its_club_is_not_taken_for_the_newer_one() -> None:
    pages = Pages()
    newer = entry(1, {"title": "Newer"}, changed=STAMP + timedelta(days=1))
    older = entry(1, {"title": "Older"})
    assert "Newer" in feed([newer], pages=pages)
    assert "Older" in feed([older], pages=pages)


def test_a_single_night_is_a_calendar_of_its_own_without_a_name() -> None:
    text = single(entry(2))
    content_lines(text.encode())
    assert "NAME" not in text
    assert [seen.uid for seen in read(text)["ical"]] == [str(UUID(int=2))]


def test_four_hundred_nights_of_twenty_targets_stay_below_a_million_bytes() -> None:
    """As the scheduler tells a crowded night; some programs stop there (common practice, no source)."""
    crowd = tuple(replace(ORION, name=f"NGC {7000 + n}") for n in range(20))
    visits = tuple(visit(one.name, FIRST, n + 1, 18, 12 * n, 12) for n, one in enumerate(crowd))
    (night_told,) = notices_of(with_nights(night(FIRST), targets=crowd, visits=visits, standbys=())).nights
    told = {
        "title": night_told.title, "lines": list(night_told.lines), "care": list(night_told.care),
        "categories": list(night_told.categories),
    }  # fmt: skip
    amends = [{"on": "2027-01-03", "words": ["NGC 7001 moved here from 24 Dec: made room for M 42"]}]
    entries = [entry(number, told, announced=STAMP, amends=amends) for number in range(400)]
    text = feed(entries, alarm_min=90)
    assert text.replace("\r\n ", "").count("48x") == 8000  # long lines are folded, RFC 5545, section 3.1
    assert 850_000 < len(text.encode()) < 1_000_000
    assert len(gzip.compress(text.encode())) < 30_000


def test_each_night_is_found_on_its_day_and_none_twice() -> None:
    """recurring-ical-events is yet another hand's reading of when an event is."""
    nights = [entry(number) for number in range(0, 365, 3)]
    query = recurring_ical_events.of(icalendar.Calendar.from_ical(feed(nights)))
    for number in range(365):
        noon = datetime.combine(NEW_YEAR + timedelta(days=number), time(12), UTC)
        found = [str(event["uid"]) for event in query.between(noon, noon + timedelta(days=1))]
        assert found == ([] if number % 3 else [str(UUID(int=number))])
    assert len(list(query.all())) == len(nights)


def changes_of(zone: ZoneInfo) -> Iterator[datetime]:
    """The quarters of an hour of 2027 at which the clocks of a zone change, in UTC."""
    begin = datetime(2027, 1, 1, tzinfo=UTC)
    quarters = (begin + timedelta(minutes=15 * count) for count in range(365 * 96))
    for before, after in pairwise(quarters):
        if before.astimezone(zone).utcoffset() != after.astimezone(zone).utcoffset():
            yield after


def nights_of(zone: ZoneInfo) -> list[tuple[datetime, datetime]]:
    """Every night of 2027 by its local clock, and ends all around and inside each change of the clocks."""
    nights = []
    for number in range(365):
        start = datetime.combine(NEW_YEAR + timedelta(days=number), time(17 + number % 6, number % 60), zone)
        end = datetime.combine(start + timedelta(days=1), time(number % 7, number * 7 % 60), zone)
        nights.append((start, end))
    for change in changes_of(zone):
        start = (change - timedelta(hours=5)).astimezone(zone)
        nights += [
            (start, (change + timedelta(minutes=15 * step)).astimezone(zone)) for step in range(-9, 10)
        ]
        wall = change.astimezone(zone).replace(tzinfo=None)
        for step in range(
            -9, 10
        ):  # read off a clock: in a gap there is no such time, in a fold it is there twice
            read_off = (wall + timedelta(minutes=15 * step)).replace(tzinfo=zone)
            nights += [(start, read_off.replace(fold=fold)) for fold in (0, 1)]
    return nights


@pytest.mark.parametrize("name", ZONES)
def test_every_night_of_a_year_keeps_its_instant_and_its_wall_clock(name: str) -> None:
    zone = ZoneInfo(name)
    nights = nights_of(zone)
    told = [{"start": start.isoformat(), "end": end.isoformat()} for start, end in nights]
    text = feed(entry(number, one) for number, one in enumerate(told))
    counted: Counter[str] = Counter()
    for reader in READERS.values():
        for (start, end), seen in zip(nights, reader(text), strict=True):
            for meant, found in ((start, seen.start), (end, seen.end)):
                here = meant.astimezone(UTC).astimezone(zone)
                there = found.astimezone(zone)
                same = found == meant.astimezone(UTC) and (here.replace(tzinfo=None), here.fold) == (
                    there.replace(tzinfo=None), there.fold)  # fmt: skip
                counted["same" if same else "mismatch"] += 1
    clocks_change = name not in ("Pacific/Apia", "Africa/Nairobi")
    moments = 3 * 2 * (365 + clocks_change * 2 * 3 * 19)
    assert counted == {"same": moments}, f"{name}: {counted} of {moments} moments"
