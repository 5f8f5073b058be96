"""A member's own calendar comes in by upload or from an address; times come out, and nothing else does."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from api.calendar_errors import AddressRefused, CalendarTooHard, NotFetched
from api.calendar_reading import LIMITS, CalendarReading
from api.engaged import calendar_deeds
from api.hands import Limits, ProcessHands
from api.seal import SEAL_KEY, Seal, made_seal_key
from api.settings import Settings
from api.storage import Storage

from .conftest import StartService
from .engaged.calendars import calendar, event
from .journeys import Service, assert_is_problem
from .stand_ins import StandInFetch, StandInPlanner, jobs_here

ADDRESS = "https://calendars.example.org/private-7c1fe2/basic.ics"
WORDS = ("Quillfeather", "Ottoline", "Tregarthen")
"""A title, somebody invited, and a place: none of them may be found anywhere."""


def in_days(days: int, hour: int = 19) -> datetime:
    """Return a moment some days from now, for a calendar is read from yesterday on."""
    today = datetime.now(UTC).replace(hour=hour, minute=0, second=0, microsecond=0)
    return today + timedelta(days=days)


def private(*days: int, more: str = "") -> bytes:
    """Return a calendar with an event of two hours on each of these days."""
    return calendar(*(
        event(
            f"DTSTART:{in_days(day):%Y%m%dT%H%M%SZ}", "DURATION:PT2H", f"SUMMARY:{WORDS[0]}{more}",
            f"ATTENDEE;CN={WORDS[1]}:mailto:{WORDS[1]}@example.org", f"LOCATION:{WORDS[2]}", uid=f"{day}",
        )
        for day in days
    ))  # fmt: skip


def member_of(service: Service, name: str = "Jory", **settings: Any) -> str:
    """Keep a member and return its address."""
    made = service.ask("POST", f"{service.club}/members", json={"name": name, "settings": settings})
    assert made.status_code == 201, made.text
    return str(made.headers["location"])


def engaged(service: Service, member: str, **wish: Any) -> Any:
    return service.ask(
        "POST", f"{member}/engagements", json={"name": "work", "zone": "Europe/London", **wish}
    )


def upload(service: Service, engagement: str, content: bytes, if_match: str = "*") -> Any:
    headers = {"Content-Type": "text/calendar; charset=utf-8", "If-Match": if_match}
    return service.ask("PUT", f"{engagement}/calendar.ics", content=content, headers=headers)


def busy(service: Service, engagement: str) -> list[datetime]:
    items = service.get(f"{engagement}/busy").json()["items"]
    return [datetime.fromisoformat(one["start"]) for one in items]


def test_a_calendar_with_an_address_is_read_at_once(service: Service, fetch: StandInFetch) -> None:
    fetch.calendars[ADDRESS] = private(3, 5)
    made = engaged(service, member_of(service), address=ADDRESS)
    assert made.status_code == 201
    assert made.headers["etag"] == '"r1"'
    told = made.json()
    assert (told["host"], told["events"], told["problem"]) == ("calendars.example.org", 2, None)
    assert date.fromisoformat(told["last"]) - date.fromisoformat(told["first"]) == timedelta(days=732)
    assert busy(service, made.headers["location"]) == [in_days(3), in_days(5)]
    assert fetch.asked == [ADDRESS]


def test_an_uploaded_calendar_takes_the_place_of_the_one_before(service: Service) -> None:
    made = engaged(service, member_of(service))
    here = made.headers["location"]
    assert (made.json()["read"], made.json()["host"], busy(service, here)) == (None, None, [])
    first = upload(service, here, private(3), made.headers["etag"])
    assert (first.status_code, first.headers["etag"]) == (200, '"r2"')
    assert busy(service, here) == [in_days(3)]
    assert_is_problem(upload(service, here, private(4), made.headers["etag"]), 412, "stale")
    assert busy(service, here) == [in_days(3)]
    assert upload(service, here, private(4)).json()["events"] == 1
    assert busy(service, here) == [in_days(4)]


def test_an_unreadable_calendar_is_told_place_by_place_and_changes_nothing(service: Service) -> None:
    here = engaged(service, member_of(service)).headers["location"]
    upload(service, here, private(3))
    wrong = private(3).replace(b"DURATION:PT2H", b"DURATION:" + WORDS[0].encode())
    problem = assert_is_problem(upload(service, here, wrong), 422, "calendar-faults")
    assert problem["detail"] == "1 fault in the calendar"
    assert [(one["component"], one["property"]) for one in problem["errors"]] == [(2, "DURATION")]
    assert WORDS[0] not in json.dumps(problem)
    assert busy(service, here) == [in_days(3)]
    assert_is_problem(upload(service, here, b"<html>"), 422, "calendar-faults")
    other = service.ask("PUT", f"{here}/calendar.ics", content=b"x", headers={"If-Match": "*"})
    assert_is_problem(other, 415, "wrong-media-type")


def test_a_wrong_address_is_told_at_once_and_nothing_is_kept(service: Service, fetch: StandInFetch) -> None:
    member = member_of(service)
    fetch.calendars[ADDRESS] = NotFetched("calendars.example.org", "it answered with status 404")
    answer = engaged(service, member, address=ADDRESS)
    problem = assert_is_problem(answer, 502, "not-fetched")
    assert (problem["host"], problem["reason"]) == ("calendars.example.org", "it answered with status 404")
    assert "7c1fe2" not in answer.text
    fetch.calendars[ADDRESS] = AddressRefused("calendars.example.org", "it is no host of the public network")
    assert_is_problem(engaged(service, member, address=ADDRESS), 422, "address-refused")
    fetch.calendars[ADDRESS] = b"<html>Sign in</html>"
    assert_is_problem(engaged(service, member, address=ADDRESS), 422, "calendar-faults")
    assert service.get(f"{member}/engagements").json()["items"] == []


@pytest.mark.parametrize("address", ["http://calendars.example.org/a", "https://u:p@calendars.example.org/a",
                                     "https://calendars.example.org:25/a"])  # fmt: skip
def test_an_address_of_another_sort_is_never_asked(
    service: Service, fetch: StandInFetch, address: str
) -> None:
    assert engaged(service, member_of(service), address=address).status_code == 422
    assert fetch.asked == []


def test_a_fetch_that_fails_later_is_told_and_what_was_known_stays(
    service: Service, fetch: StandInFetch
) -> None:
    fetch.calendars[ADDRESS] = private(3)
    here = engaged(service, member_of(service), address=ADDRESS).headers["location"]
    fetch.calendars[ADDRESS] = NotFetched("calendars.example.org", "it cannot be reached")
    assert_is_problem(service.ask("POST", f"{here}/refresh"), 502, "not-fetched")
    told = service.get(here).json()
    assert told["problem"]["type"] == "/problems/not-fetched"
    assert told["problem"]["detail"] == "no calendar came from 'calendars.example.org': it cannot be reached"
    assert busy(service, here) == [in_days(3)]
    fetch.calendars[ADDRESS] = private(6)
    assert service.ask("POST", f"{here}/refresh").json()["problem"] is None
    assert busy(service, here) == [in_days(6)]


def test_without_an_address_nothing_is_fetched_again(service: Service, fetch: StandInFetch) -> None:
    here = engaged(service, member_of(service)).headers["location"]
    assert_is_problem(service.ask("POST", f"{here}/refresh"), 409, "no-address")
    assert fetch.asked == []


def test_without_a_key_to_seal_with_addresses_are_refused_and_uploads_work(
    tmp_path: Path, planner: StandInPlanner, fetch: StandInFetch
) -> None:
    from fastapi.testclient import TestClient

    from api.app import create_app

    settings = Settings(database=tmp_path / "kept.sqlite3", keys="none", requests_per_minute=0)
    app = create_app(settings, planner.door, jobs_here, lambda: fetch, lambda: Seal({}))
    with TestClient(app, base_url="http://127.0.0.1:8075") as client:
        service = Service(client)
        member = member_of(service)
        assert_is_problem(engaged(service, member, address=ADDRESS), 503, "no-seal-key")
        assert fetch.asked == [], "nothing is fetched that cannot be kept"
        here = engaged(service, member).headers["location"]
        assert upload(service, here, private(3)).status_code == 200


def test_a_key_that_is_none_hinders_addresses_alone(
    service: Service, fetch: StandInFetch, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = engaged(service, member_of(service), address=ADDRESS).headers["location"]
    services = service.client.app.state.services
    service.client.app.state.services = replace(services, seal=lambda: Seal({SEAL_KEY: "no key at all"}))
    assert_is_problem(service.ask("POST", f"{here}/refresh"), 503, "no-seal-key")
    other = Seal({SEAL_KEY: made_seal_key()})
    service.client.app.state.services = replace(services, seal=lambda: other)
    assert_is_problem(service.ask("POST", f"{here}/refresh"), 409, "seal-broken")
    assert upload(service, here, private(3)).status_code == 200


def test_a_zone_nobody_knows_is_refused(service: Service) -> None:
    answer = engaged(service, member_of(service), zone="Europe/Londn")
    assert [one["pointer"] for one in assert_is_problem(answer, 422, "invalid-value")["errors"]] == ["#/zone"]


def test_a_calendar_goes_when_it_is_deleted(service: Service) -> None:
    made = engaged(service, member_of(service))
    here = made.headers["location"]
    assert_is_problem(service.ask("DELETE", here), 428, "precondition-missing")
    headers = {"If-Match": made.headers["etag"]}
    assert service.ask("DELETE", here, headers=headers).status_code == 204
    assert_is_problem(service.get(f"{here}/busy"), 404, "no-such-thing")


def test_no_private_word_and_no_address_is_found_anywhere(
    service: Service, fetch: StandInFetch, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Not in the files of the database, not in the log, not in any answer."""
    fetch.calendars[ADDRESS] = private(3, 5)
    answers = []
    with caplog.at_level(logging.INFO):
        member = member_of(service)
        made = engaged(service, member, address=ADDRESS)
        here = made.headers["location"]
        answers += [made, upload(service, here, private(4)), service.ask("POST", f"{here}/refresh")]
        broken = private(4).replace(b"DTSTART:2", b"DTSTART:" + WORDS[0].encode())
        answers += [upload(service, here, broken)]
        fetch.calendars[ADDRESS] = broken
        answers += [service.ask("POST", f"{here}/refresh"), service.get(here), service.get(f"{here}/busy")]
        answers += [service.get(f"{member}/engagements"), service.get(f"{service.club}/export")]
        engaged(service, member, name="again", address=ADDRESS + "\u00e9")
    assert {one.status_code for one in answers} == {200, 201, 422}
    secrets = (*WORDS, "7c1fe2", "basic.ics")
    told = "".join([*(one.text for one in answers), caplog.text, *(str(vars(r)) for r in caplog.records)])
    assert [one for one in secrets if one in told] == []
    files = list(tmp_path.rglob("kept.sqlite3*"))
    assert files
    kept = b"".join(file.read_bytes() for file in files)
    assert b"calendars.example.org" in kept
    assert [one for one in secrets if one.encode() in kept] == []


# the child process


@pytest.fixture
def reading() -> Iterator[CalendarReading]:
    """Reads calendars in a child, each in 15 s at most: on a busy machine a child's first takes several."""
    reading = CalendarReading(
        ProcessHands(calendar_deeds, 1, Limits(minutes=15 / 60, memory_mb=LIMITS.memory_mb))
    )
    yield reading
    reading.close()


def barren(count: int) -> bytes:
    """Return a calendar of rules that never hit: finding that out takes seconds each."""
    rule = "RRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30"
    return calendar(
        *(event("DTSTART:20270101T000000Z", "DURATION:PT1H", rule, uid=f"{n}") for n in range(count))
    )


def test_a_hostile_calendar_costs_one_child_and_the_next_is_read(reading: CalendarReading) -> None:
    days = (date(2027, 1, 1), date(2027, 12, 31))
    with pytest.raises(CalendarTooHard, match="was not done after 15 s"):
        reading.read(barren(50), *days, "UTC")
    good = calendar(event("DTSTART:20270105T190000Z", "DURATION:PT1H"))
    found = reading.read(good, *days, "UTC")
    assert [one.start for one in found.spans] == [datetime(2027, 1, 5, 19, tzinfo=UTC)]


def test_a_child_that_wants_too_much_memory_is_told_of() -> None:
    reading = CalendarReading(ProcessHands(calendar_deeds, 1, Limits(minutes=1, memory_mb=90)))
    task = "BEGIN:VTODO\nEND:VTODO\n" * 9
    large = calendar(*(event("DTSTART:20270105T190000Z", f"EXDATE:{'20270105,' * 4000}20270105", uid=f"{n}")
                       for n in range(12)), task.strip())  # fmt: skip
    try:
        with pytest.raises(CalendarTooHard, match=r"90 MB|died of it"):
            reading.read(large, date(2027, 1, 1), date(2027, 12, 31), "UTC")
    finally:
        reading.close()


def test_a_service_tells_of_a_calendar_that_takes_too_much(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = engaged(service, member_of(service)).headers["location"]
    services = service.client.app.state.services

    def too_hard(*args: object) -> None:
        raise CalendarTooHard("reading it was not done after 20 s")

    monkeypatch.setattr(services.reading, "read", too_hard)
    assert_is_problem(upload(service, here, private(3)), 422, "calendar-too-hard")


# free nights


def ids(*addresses: str) -> str:
    return ",".join(one.rpartition("/")[2] for one in addresses)


def test_two_members_and_the_nights_their_calendars_leave(start_service: StartService) -> None:
    """The stand-in's season is a year from 1 September 2026, every night of it, in Berlin."""
    service = start_service()
    storage: Storage = service.client.app.state.services.storage
    jory, ada = member_of(service), member_of(service, "Ada")
    start = datetime(2026, 12, 5, 19, tzinfo=ZoneInfo("Europe/Berlin"))
    told = {
        jory: [(start, 2), (start + timedelta(days=1), 2), (start.replace(hour=9), 3)],
        ada: [(start + timedelta(days=1), 2), (start.replace(hour=23) + timedelta(days=3), 30)],
    }
    for member, times in told.items():
        here = engaged(service, member, zone="Europe/Berlin").headers["location"]
        content = calendar(*(
            event(f"DTSTART:{one.astimezone(UTC):%Y%m%dT%H%M%SZ}", f"DURATION:PT{hours}H", uid=f"{number}")
            for number, (one, hours) in enumerate(times)
        ))  # fmt: skip
        assert upload(service, here, content).status_code == 200
        assert storage.engagements.busy(here.rpartition("/")[2])[1]
    scenario = service.kept()

    def free(need: str, evening: str) -> tuple[int, int, bool]:
        found = service.get(f"{scenario}/free-nights?members={ids(jory, ada)}&need={need}").json()["items"]
        (one,) = [each for each in found if each["evening"] == evening]
        return len(one["free"]), len(one["busy"]), one["enough"]

    assert [free(need, "2026-12-05") for need in ("any", "all", "2")] == [
        (1, 1, True),
        (1, 1, False),
        (1, 1, False),
    ]
    assert [free(need, "2026-12-06") for need in ("any", "all")] == [(0, 2, False), (0, 2, False)]
    assert free("all", "2026-12-07") == (2, 0, True)
    assert [free("all", f"2026-12-{day:02}")[1] for day in (8, 9, 10)] == [1, 1, 0]
    answer = service.get(f"{scenario}/free-nights?members={ids(jory)}&need=3")
    assert_is_problem(answer, 422, "invalid-value")
    assert_is_problem(service.get(f"{scenario}/free-nights"), 422, "invalid-value")
    assert_is_problem(service.get(f"{scenario}/free-nights?members={'0' * 20}"), 404, "no-such-thing")
