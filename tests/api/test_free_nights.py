"""Free nights by members' calendars: worked out by hand, taken over into plans, and taken back again."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.free_nights import Companion, EveningAsked, away_of, evenings_asked, ranges, time_of
from api.settings import Settings
from api.storage import Known, NewEngagement, Storage
from scheduler.domain import EveningRule, Observer, Scenario, Span
from scheduler.visibility.free import coming_on

from .conftest import StartService
from .journeys import Service, assert_is_problem
from .stand_ins import StandInFetch, StandInPlanner, a_seal, jobs_here
from .test_auth import House, furnished
from .test_engagements import engaged, member_of
from .test_parts import real_reader, send

LONDON = ZoneInfo("Europe/London")
TOML = b"""\
title = "Three weeks of late winter" # a comment of the planner's

[site]
name = "Fenwold"
latitude_deg = 52.6
longitude_deg = 0.4
zone = "Europe/London"

[telescope]
aperture_mm = 150
focal_length_mm = 1200

[season]
start = 2027-03-20
nights = 14

[[evenings]]
weekdays = "Fri to Mon"
start = "20:00"
finish = "23:30"

[availability]
away = [2027-03-26]
"""
WISH_LIST = b"target,priority\r\nM 42,5\r\nM 35,3\r\n"


# one evening


def utc(text: str) -> datetime:
    return datetime.fromisoformat(f"2027-{text}:00+00:00")


@pytest.mark.parametrize(
    ("zone", "evening", "start", "finish", "expected"),
    [
        ("Europe/London", "2027-01-08", None, None, ("01-08T18:00", "01-09T02:00")),
        ("Europe/London", "2027-07-08", None, None, ("07-08T17:00", "07-09T01:00")),
        ("Europe/London", "2027-07-08", time(20), time(23, 30), ("07-08T19:00", "07-08T22:30")),
        ("Europe/London", "2027-07-08", time(22), None, ("07-08T21:00", "07-09T01:00")),
        # clocks go forward at one on 28 March, back at two on 31 October
        ("Europe/London", "2027-03-27", None, None, ("03-27T18:00", "03-28T01:00")),
        ("Europe/London", "2027-03-27", time(20), time(1, 30), ("03-27T20:00", "03-28T01:30")),
        ("Europe/London", "2027-10-30", time(20), time(1, 30), ("10-30T19:00", "10-31T01:30")),
        ("Europe/London", "2027-10-30", time(1, 30), time(3), ("10-31T00:30", "10-31T03:00")),
        ("America/St_Johns", "2027-01-08", None, None, ("01-08T21:30", "01-09T05:30")),
        ("Australia/Lord_Howe", "2027-04-03", None, time(1, 45), ("04-03T07:00", "04-03T15:15")),
        # what the rule names alone does not fit the usual hours
        ("Europe/London", "2027-01-08", time(3), None, ("01-09T03:00", "01-09T12:00")),
        ("Europe/London", "2027-01-08", None, time(17), ("01-08T12:00", "01-08T17:00")),
    ],
)  # fmt: skip
def test_an_evenings_own_time(
    zone: str, evening: str, start: time | None, finish: time | None, expected: tuple[str, str]
) -> None:
    found = time_of(EveningRule(start=start, finish=finish), date.fromisoformat(evening), ZoneInfo(zone))
    assert (found.start, found.end) == tuple(map(utc, expected))


def scenario_read(toml: bytes = TOML) -> Scenario:
    from api.door import scheduler_door
    from api.storage import ScenarioFiles

    return scheduler_door().read_scenario("fenwold", ScenarioFiles(toml, WISH_LIST))


def companion(name: str, *spans: Span, **more: Any) -> Companion:
    return Companion(name, Observer(name, **more), Known(spans, ((date(2027, 3, 20), date(2027, 3, 27)),)))


def asked(need: str, *companions: Companion) -> dict[str, EveningAsked]:
    return {f"{one.evening:%m-%d}": one for one in evenings_asked(scenario_read(), companions, need)}


def test_only_evenings_the_scenario_leaves_free_are_asked_about() -> None:
    found = asked("any", companion("Jory"))
    assert list(found) == ["03-20", "03-21", "03-22", "03-27", "03-28", "03-29", "04-02"]
    assert [one.unread for one in found.values()] == [()] * 4 + [("Jory",)] * 3


def test_what_meets_the_evening_alone_counts() -> None:
    """Evenings from 20:00 to 23:30; the clocks go forward on the 28th."""
    free = [Span(utc("03-20T15:00"), utc("03-20T20:00")), Span(utc("03-20T23:30"), utc("03-21T20:00")),
            Span(utc("03-28T17:00"), utc("03-28T19:00")),
            Span(utc("03-28T22:30"), utc("03-28T23:00"))]  # fmt: skip
    assert all(one.free for one in asked("any", companion("Jory", *free)).values())
    for start, end in (("03-20T19:00", "03-20T20:01"), ("03-20T23:29", "03-21T00:00"),
                       ("03-20T21:00", "03-20T21:01"), ("03-19T00:00", "03-23T00:00")):  # fmt: skip
        assert asked("any", companion("Jory", Span(utc(start), utc(end))))["03-20"].busy == ("Jory",)


def test_who_does_not_come_along_anyhow_is_neither_free_nor_busy() -> None:
    whole = Span(utc("03-01T00:00"), utc("04-09T00:00"))
    found = asked("any", companion("Jory", whole, weekdays=(5,), away=frozenset({date(2027, 3, 27)})))
    assert [day for day, one in found.items() if one.busy] == ["03-20"]
    assert not any(one.free for one in found.values())


@pytest.mark.parametrize(
    ("need", "enough"), [("any", "yyn"), ("1", "yyn"), ("2", "ynn"), ("all", "nnn"), ("3", "nnn")]
)
def test_how_many_are_enough(need: str, enough: str) -> None:
    nights = {day: Span(utc(f"03-{day}T20:00"), utc(f"03-{day}T21:00")) for day in (20, 21, 22)}
    three = [
        companion("A", *nights.values()),
        companion("B", nights[21], nights[22]),
        companion("C", nights[22]),
    ]
    found = asked(need, *three)
    assert "".join("y" if found[f"03-{day}"].enough else "n" for day in nights) == enough


def test_evenings_on_which_too_few_are_free_are_nobodys() -> None:
    one = companion("A", Span(utc("03-20T20:00"), utc("03-21T21:00")))
    two = companion("B", Span(utc("03-22T20:00"), utc("03-22T21:00")))
    found = evenings_asked(scenario_read(), [one, two], "all")
    both = ["2027-03-20..2027-03-22"]
    assert away_of(found, [one, two]) == {"A": both, "B": both}
    found = evenings_asked(scenario_read(), [one, two], "any")
    assert away_of(found, [one, two]) == {"A": ["2027-03-20..2027-03-21"], "B": ["2027-03-22"]}


def test_busy_times_of_several_calendars_may_lie_across_each_other() -> None:
    spans = (Span(utc("03-20T08:00"), utc("03-22T22:00")), Span(utc("03-20T09:00"), utc("03-20T10:00")),
             Span(utc("03-21T09:00"), utc("03-21T10:00")))  # fmt: skip
    assert [day for day, one in asked("any", companion("Jory", *spans)).items() if one.busy] == [
        "03-20", "03-21", "03-22"
    ]  # fmt: skip


def test_every_evening_of_a_year_against_a_plain_look_at_each_span() -> None:
    """The bisection and the merging against the definition itself, minutes drawn at random."""
    import random

    draw = random.Random(20270320)
    toml = TOML.replace(b"nights = 14", b"nights = 365")
    spans = []
    for _ in range(400):
        start = datetime(2027, 3, 1, tzinfo=UTC) + timedelta(minutes=draw.randrange(500_000))
        spans.append(Span(start, start + timedelta(minutes=draw.randint(1, 600))))
    for one in evenings_asked(scenario_read(toml), [companion("Jory", *spans)], "any"):
        assert bool(one.busy) == any(span.meet(one.time) is not None for span in spans)


def test_days_are_written_as_a_scenario_reads_them() -> None:
    days = [date(2027, 2, 28), date(2027, 3, 1), date(2027, 3, 3)]
    assert ranges(days) == ["2027-02-28..2027-03-01", "2027-03-03"]
    assert ranges([]) == []


# taken over into a scenario


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    """A service that reads with the real scheduler and plans with the stand-in."""
    door = partial(real_reader, StandInPlanner(tmp_path / "planner"))
    settings = Settings(database=tmp_path / "kept.sqlite3", keys="none", requests_per_minute=0, plan_years=0)
    app = create_app(settings, door, jobs_here, StandInFetch, a_seal)
    with TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False) as client:
        yield Service(client)


def tell_busy(service: Service, engagement: str, *evenings: str) -> None:
    """Let a calendar take up evenings of March, nine to ten."""
    storage: Storage = service.client.app.state.services.storage
    spans = tuple(Span(utc(f"{day}T20:30"), utc(f"{day}T22:00")) for day in evenings)
    told = {
        "zone": "Europe/London",
        "host": None,
        "read": "2027-01-01T00:00:00+00:00",
        "events": 1,
        "problem": None,
    }
    new = NewEngagement("work", date(2027, 1, 1), date(2027, 12, 31), told, busy=spans)
    storage.engagements.read_again(engagement, new, None)


def one_of(address: str) -> str:
    return address.rpartition("/")[2]


def kept_with(service: Service, **busy: list[str]) -> tuple[str, dict[str, str], dict[str, str]]:
    """Keep a scenario and members with a calendar each: its address, and ids of members and calendars."""
    members, calendars = {}, {}
    for name, evenings in busy.items():
        member = member_of(service, name, age=40, away=["2027-03-29"])
        members[name] = one_of(member)
        calendars[name] = one_of(engaged(service, member).headers["location"])
        tell_busy(service, calendars[name], *evenings)
    answer = service.keep("fenwold", TOML, WISH_LIST)
    assert answer.status_code == 201, answer.text
    return str(answer.headers["location"]), members, calendars


def use(service: Service, scenario: str, members: dict[str, str], **more: str) -> Any:
    return send(service, "PUT", f"{scenario}/uses", {"members": list(members.values()), **more}, if_match="*")


def observers(service: Service, scenario: str) -> dict[str, list[str]]:
    read = tomllib.loads(service.get(f"{scenario}/scenario.toml").text)
    return {one["name"]: one.get("away", []) for one in read["observers"]}


def test_members_stay_at_home_on_evenings_their_calendars_take_up(service: Service) -> None:
    scenario, members, _ = kept_with(service, Jory=["03-20", "03-21"], Ada=["03-21", "03-25"])
    assert use(service, scenario, members, need="any").status_code == 200
    by_hand = "2027-03-29"
    assert observers(service, scenario) == {
        "Jory": [by_hand, "2027-03-20..2027-03-21"], "Ada": [by_hand, "2027-03-21"]
    }  # fmt: skip
    toml = service.get(f"{scenario}/scenario.toml").content
    assert b"# a comment of the planner's" in toml
    assert b"away = [2027-03-26]\n" in toml, "what the planner set stays as it stands"
    assert service.get(f"{scenario}/uses").json()["need"] == "any"
    read = scenario_read(toml)
    found = {day: coming_on(read, date(2027, 3, day)) for day in (20, 21, 22, 29)}
    assert found == {20: ("Ada",), 21: None, 22: (), 29: None}


def test_with_all_needed_an_evening_of_one_is_nobodys(service: Service) -> None:
    scenario, members, _ = kept_with(service, Jory=["03-20"], Ada=["03-22"])
    use(service, scenario, members, need="all")
    read = scenario_read(service.get(f"{scenario}/scenario.toml").content)
    found = {day: coming_on(read, date(2027, 3, day)) for day in (20, 21, 22, 27)}
    assert found == {20: None, 21: (), 22: None, 27: ()}


def test_without_need_calendars_do_not_count(service: Service) -> None:
    scenario, members, _ = kept_with(service, Jory=["03-20"])
    use(service, scenario, members)
    assert observers(service, scenario) == {"Jory": ["2027-03-29"]}


def test_what_a_calendar_no_longer_takes_up_is_given_back_when_it_is_planned_next(service: Service) -> None:
    scenario, members, calendars = kept_with(service, Jory=["03-20", "03-21"])
    use(service, scenario, members, need="any")
    revision = service.get(scenario).json()["revision"]
    service.planned(scenario)
    assert service.get(scenario).json()["revision"] == revision, "nothing changed, so nothing new"
    tell_busy(service, calendars["Jory"], "03-22")
    service.planned(scenario)
    assert service.get(scenario).json()["revision"] == revision + 1
    assert observers(service, scenario) == {"Jory": ["2027-03-29", "2027-03-22"]}
    service.ask("DELETE", f"/engagements/{calendars['Jory']}", headers={"If-Match": "*"})
    use(service, scenario, members, need="any")
    assert observers(service, scenario) == {"Jory": ["2027-03-29"]}


def test_nothing_of_times_or_other_days_shows_in_the_scenario(service: Service) -> None:
    """Busy on a Wednesday, in the morning, outside the season: none of it is the club's business."""
    scenario, members, calendars = kept_with(service, Jory=["03-20", "03-24", "05-08"])
    use(service, scenario, members, need="any")
    toml = service.get(f"{scenario}/scenario.toml").text
    assert "2027-03-20" in toml
    assert not any(word in toml for word in ("2027-03-24", "2027-05-08", "20:30", "22:00", calendars["Jory"]))


def test_what_is_free_is_told_before_it_is_taken_over(service: Service) -> None:
    scenario, members, _ = kept_with(service, Jory=["03-20"], Ada=["03-20", "03-22"])
    listed = ",".join(members.values())
    items = service.get(f"{scenario}/free-nights?members={listed}&need=all").json()["items"]
    assert [one["evening"] for one in items if not one["enough"]] == [
        "2027-03-20",
        "2027-03-22",
        "2027-03-29",
    ]
    assert items[0]["start"] == "2027-03-20T20:00:00Z"
    assert (items[2]["free"], items[2]["busy"]) == ([members["Jory"]], [members["Ada"]])
    assert service.get(scenario).json()["revision"] == 1
    use(service, scenario, members, need="all")
    again = service.get(f"{scenario}/free-nights").json()["items"]
    assert again == items, "asked of the members it uses, and what was taken over changes nothing of it"


@pytest.mark.parametrize(("need", "names"), [("2", ["Jory"]), ("any", [])])
def test_more_than_there_are_cannot_be_needed(service: Service, need: str, names: list[str]) -> None:
    scenario, members, _ = kept_with(service, Jory=["03-20"])
    wanted = {name: members[name] for name in names}
    assert_is_problem(use(service, scenario, wanted, need=need), 422, "invalid-value")
    assert service.get(scenario).json()["revision"] == 1


def test_readers_see_neither_calendars_nor_who_is_free(start_service: StartService) -> None:
    house: House = furnished(start_service(keys="required", requests_per_minute=0))
    for operation in ("GET /members/{member}/engagements", "GET /engagements/{engagement}",
                      "GET /engagements/{engagement}/busy",
                      "GET /scenarios/{scenario}/free-nights"):  # fmt: skip
        assert house.ask("reader", operation).status_code == 403, operation
        assert house.ask("other club's owner", operation).status_code == 404, operation
