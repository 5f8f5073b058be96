"""Feeds of the sky's dates alone: quiet events, the same to the byte in every process."""

from __future__ import annotations

import gzip
import io
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import icalendar
import pytest
from fastapi.testclient import TestClient
from ical.calendar_stream import IcsCalendarStream

from api.app import create_app
from api.settings import Settings
from api.shapes import samples
from api.skydates import SkyPages
from api.storage import NewScenario, ScenarioFiles, Storage

from .conftest import StartService
from .journeys import Answer, Service, assert_is_problem, files_of
from .stand_ins import TOML, WISH_LIST, no_work


def made(service: Service, scenario: str, **more: Any) -> Answer:
    wish = {"shows": "sky", "scenario": scenario.rpartition("/")[2], **more}
    return service.ask("POST", f"{service.club}/feeds", json=wish)


def address(service: Service, scenario: str) -> str:
    answer = made(service, scenario)
    assert answer.status_code == 201, answer.text
    return "/calendars/" + str(answer.json()["address"]).rpartition("/")[2]


def read(service: Service, at: str, **headers: str) -> Answer:
    return service.get(at, accept_encoding="identity", **headers)


def events(text: str) -> list[Any]:
    return list(icalendar.Calendar.from_ical(text).walk("VEVENT"))


def uids(text: str) -> dict[str, str]:
    return {str(one["SUMMARY"]): str(one["UID"]) for one in events(text)}


@pytest.fixture
def feed(service: Service) -> str:
    return address(service, service.kept())


def test_a_feed_of_the_sky_names_a_scenario_and_nothing_else(service: Service) -> None:
    kept = service.kept()
    shown = made(service, kept).json()
    assert (shown["shows"], shown["scenario"]) == ("sky", kept.rpartition("/")[2])
    for wish in ({"shows": "sky"}, {"shows": "sky", "observer": "Jory"}):
        problem = assert_is_problem(
            service.ask("POST", f"{service.club}/feeds", json=wish), 422, "invalid-request"
        )
        assert "a feed that shows the sky names `scenario`, and nothing else" in str(problem)
    assert made(service, kept, observer="Jory").status_code == 422
    assert_is_problem(made(service, "0" * 20), 404, "no-such-thing")


def test_its_events_are_told_as_they_stand(service: Service, feed: str) -> None:
    answer = read(service, feed)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.headers["content-disposition"] == 'inline; filename="sky-dates.ics"'
    calendar = icalendar.Calendar.from_ical(answer.content)
    assert str(calendar["NAME"]) == "A year from the allotment: sky dates"
    assert "METHOD" not in calendar
    created = datetime.fromisoformat(service.get("/clubs").json()["items"][-1]["created"])
    assert created.replace(microsecond=0) <= events(answer.text)[0]["DTSTAMP"].dt <= datetime.now(UTC)
    day, other, night = events(answer.text)
    assert (day["DTSTART"].dt, day["DTEND"].dt) == (date(2026, 9, 1), date(2026, 9, 2))
    assert type(day["DTSTART"].dt) is date
    assert other["DTSTART"].dt == date(2026, 9, 2)
    assert night["DTSTART"].dt == datetime(2026, 9, 1, 20, tzinfo=UTC)
    assert night["DTEND"].dt == datetime(2026, 9, 1, 21, 30, tzinfo=UTC)
    assert str(day["DESCRIPTION"]) == "What to see.\nAnd when; where, too."
    for one in (day, other, night):
        assert (str(one["TRANSP"]), one["SEQUENCE"]) == ("TRANSPARENT", 0)
        assert one["DTSTAMP"].dt == one["LAST-MODIFIED"].dt
        assert "Sky" in one["CATEGORIES"].cats
        assert not one.walk("VALARM")
        assert "URL" not in one


def test_another_reader_reads_the_same(service: Service, feed: str) -> None:
    text = read(service, feed).text
    other = IcsCalendarStream.calendar_from_ics(text)
    told = {str(one["UID"]): (one["DTSTART"].dt, one["DTEND"].dt, str(one["SUMMARY"]))
            for one in events(text)}  # fmt: skip
    assert {one.uid: (one.dtstart, one.dtend, one.summary) for one in other.events} == told
    assert {str(one.transparency) for one in other.events} <= {"TRANSPARENT", "None"}


def test_one_is_reminded_only_where_one_asks(service: Service, feed: str) -> None:
    alarms = [one.walk("VALARM") for one in events(read(service, f"{feed}?alarm=90").text)]
    assert [alarm["TRIGGER"].dt for (alarm,) in alarms] == [timedelta(minutes=-90)] * 3


def test_the_same_sky_is_the_same_text_also_after_a_restart(
    start_service: StartService, service: Service, feed: str
) -> None:
    first, second = read(service, feed), read(service, feed)
    again = read(start_service(no_work), feed)
    for one in (second, again):
        assert (one.content, one.headers["etag"]) == (first.content, first.headers["etag"])
    packed = service.get(feed, accept_encoding="gzip")
    assert packed.content == first.content  # as the client unpacks it
    assert packed.headers["etag"] != first.headers["etag"]


def test_who_has_it_already_waits_for_no_sky(
    start_service: StartService, service: Service, feed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    tag = read(service, feed).headers["etag"]
    renewed = start_service(no_work)
    assert read(renewed, feed, if_none_match=tag).status_code == 304
    for one in (service, renewed):
        monkeypatch.setattr(one.client.app.state.services.asking, "_hands", None)  # asking would fail now
    for one in (service, renewed):
        assert read(one, feed, if_none_match=tag).status_code == 304
        assert read(one, feed).status_code == 200
        assert read(one, f"{feed}?alarm=30").status_code == 200


def test_a_changed_scenario_tells_its_new_dates_and_leaves_the_others(service: Service) -> None:
    kept = service.kept()
    feed = address(service, kept)
    before = read(service, feed)
    answer = service.ask(
        "PUT", kept, data={"name": "winter-year"}, files=files_of(TOML, WISH_LIST + b"M 31,2\r\n"),
        headers={"If-Match": "*"},
    )  # fmt: skip
    assert answer.status_code == 200, answer.text
    after = read(service, feed, if_none_match=before.headers["etag"])
    assert after.status_code == 200
    old, new = uids(before.text), uids(after.text)
    assert {title: uid for title, uid in new.items() if title != "A day for M 31"} == old
    stamps = {str(one["DTSTAMP"].dt) for text in (before.text, after.text) for one in events(text)}
    assert len(stamps) == 1


def test_the_log_changes_no_date(service: Service) -> None:
    kept = service.kept()
    feed = address(service, kept)
    tag = read(service, feed).headers["etag"]
    logged = {"evening": "2026-09-02", "outcome": "clear"}
    assert service.ask("POST", f"{kept}/outcomes", json=logged).status_code == 201
    assert read(service, feed, if_none_match=tag).status_code == 304


def test_a_changed_date_is_another_event(storage: Storage) -> None:
    scenario = kept_in(storage, TOML)
    told = Told(["first words", "other words"])
    names = []
    for toml in (TOML, TOML + b"# again\n"):
        storage.scenarios.replace(scenario, new_of(toml), None)
        (event,) = SkyPages(storage, told).told_of(scenario).events(None)
        names.append(str(events(f"BEGIN:VCALENDAR\r\n{event}END:VCALENDAR\r\n")[0]["UID"]))
    assert names[0] != names[1]


def test_scenarios_do_not_share_names_of_events(service: Service) -> None:
    one, other = (read(service, address(service, service.kept(name))).text for name in ("one", "other"))
    assert not set(uids(one).values()) & set(uids(other).values())


def test_a_feed_of_the_sky_shows_nobodys_nights(service: Service) -> None:
    kept = service.kept()
    at = address(service, kept)
    plan = service.planned(kept)
    job = service.ended(str(service.ask("POST", f"{plan}/publish").headers["location"]))
    assert job["state"] == "done", job
    nights = service.get(f"{kept}/calendar/nights").json()["items"]
    assert nights
    secret = at.rpartition("/")[2].removesuffix(".ics")
    for night in nights:
        assert_is_problem(service.get(f"/nights/{secret}/{night['evening']}"), 404, "no-such-thing")
    told = read(service, at).text
    assert "Night out" not in told
    assert len(events(told)) == 3


def test_a_feed_goes_with_its_scenario(service: Service) -> None:
    kept = service.kept()
    feed = address(service, kept)
    assert read(service, feed).status_code == 200
    assert service.ask("DELETE", kept, headers={"If-Match": "*"}).status_code == 204
    assert_is_problem(read(service, feed), 404, "no-such-thing")


def test_a_club_takes_its_feeds_of_the_sky_along(service: Service, feed: str) -> None:
    before = read(service, feed)
    text = service.get(f"{service.club}/export").text
    assert service.ask("DELETE", service.club, headers={"If-Match": "*"}).status_code == 204
    answer = service.ask(
        "POST", "/clubs/import", content=text.encode(), headers={"Content-Type": "application/json"}
    )
    assert answer.status_code == 201, answer.text
    assert read(service, feed).content == before.content


class Told:
    """Answers for the sky: a date with the next words each time."""

    def __init__(self, words: list[str]) -> None:
        self.asked: list[dict[str, Any]] = []
        self._words = words

    def __call__(self, question: str, given: dict[str, Any]) -> str:
        assert question == "dates"
        words = self._words[len(self.asked) % len(self._words)]
        self.asked.append(given)
        return (
            '{"dates": [{"sort": "new Moon", "day": "2027-01-07", "whole_day": true, "title": "New Moon",'
            f' "start": "2027-01-07T00:00:00Z", "end": "2027-01-08T00:00:00Z", "lines": ["{words}"],'
            ' "categories": ["Sky", "Moon"]}]}'
        )


def new_of(toml: bytes) -> NewScenario:
    return NewScenario("winter-year", "Winter", 2, date(2027, 1, 1), 365, ScenarioFiles(toml, WISH_LIST, b""))


def kept_in(storage: Storage, toml: bytes) -> str:
    return storage.scenarios.add(storage.clubs.add("Hendra Stargazers").id, new_of(toml)).id


@pytest.mark.parametrize(
    ("toml", "asked"),
    [
        (b'[site]\nzone = "Pacific/Auckland"\n', [date(2027, 1, 9), date(2027, 1, 10)]),
        (b"[season]\nstart = 2027-01-01\n", [date(2027, 1, 1)]),
    ],
    ids=["today", "a day of its own"],
)
def test_a_season_that_begins_today_is_told_anew_each_day(
    storage: Storage, toml: bytes, asked: list[date]
) -> None:
    scenario, told = kept_in(storage, toml), Told(["words"])
    clock: list[datetime] = []
    pages = SkyPages(storage, told, lambda: clock[-1])
    digests = set()
    for hour in (12, 20, 25, 36, 40):  # New Zealand's summer is 13 hours ahead: its midnights are 11 and 35
        clock.append(datetime(2027, 1, 8, tzinfo=UTC) + timedelta(hours=hour))
        digests.add(pages.told_of(scenario).digest)
    assert [given["today"] for given in told.asked] == asked
    assert len(digests) == 1  # the same dates are the same calendar, whichever day they were asked on


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Any:
    database: Path = tmp_path_factory.mktemp("real") / "kept.sqlite3"
    app = create_app(Settings(database=database, keys="none", requests_per_minute=0), jobs=no_work)
    with TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False) as client:
        yield Service(client)


def sample(**instead: str) -> bytes:
    text = samples.SCENARIO_TOML
    lines = [line for line in text.splitlines() if line.split(" = ")[0] not in instead]
    at = lines.index("[site]") + 1
    told = [f"{name} = {value}" for name, value in instead.items() if name not in {"start", "nights"}]
    lines[at:at] = told
    season = lines.index("[season]") + 1
    lines[season:season] = [f"{name} = {instead[name]}" for name in ("start", "nights") if name in instead]
    return "\n".join(lines).encode()


@pytest.mark.parametrize(
    ("zone", "latitude", "longitude", "april", "mars"),
    [
        # New Moon on 2027-04-06 at 23:51 UTC, Mars opposite the Sun on 2027-02-19 at about 16 UTC (Espenak,
        # tests/published/sky_dates.csv), by clocks of +13 and of -2:30 and -3:30 hours (tz database).
        ("Pacific/Apia", "-13.8", "-171.8", date(2027, 4, 7), date(2027, 2, 20)),
        ("America/St_Johns", "47.6", "-52.7", date(2027, 4, 6), date(2027, 2, 19)),
    ],
)
def test_whole_days_are_those_of_the_site(
    real: Service, zone: str, latitude: str, longitude: str, april: date, mars: date
) -> None:
    toml = sample(
        zone=f'"{zone}"', latitude_deg=latitude, longitude_deg=longitude, start="2027-02-01", nights="90"
    )
    kept = real.keep(zone.partition("/")[2], toml, samples.WISH_LIST_CSV.encode())
    assert kept.status_code == 201, kept.text
    scenario = str(kept.headers["location"])
    text = read(real, address(real, scenario)).text
    found = events(text)
    days = {str(one["SUMMARY"]): one["DTSTART"].dt for one in found if type(one["DTSTART"].dt) is date}
    assert (days["New Moon"], days["Mars at opposition"]) == (april, mars)
    assert all("VALUE=DATE" in line for line in text.splitlines() if line.startswith("DTSTART")
               and "T" not in line.partition(":")[2])  # fmt: skip
    answer = real.get(f"{scenario}/dates")
    told = answer.json()["dates"]
    assert [one["title"] for one in told] == [str(one["SUMMARY"]) for one in found]
    assert real.get(f"{scenario}/dates", if_none_match=answer.headers["etag"]).status_code == 304
    assert read(real, address(real, scenario)).text.count("BEGIN:VEVENT") == len(told)


def test_a_gzipped_feed_is_the_same_text(real: Service, service: Service, feed: str) -> None:
    with service.client.stream("GET", feed, headers={"Accept-Encoding": "gzip"}) as answer:
        raw = b"".join(answer.iter_raw())
        assert answer.headers["content-encoding"] == "gzip"
    assert gzip.GzipFile(fileobj=io.BytesIO(raw)).read() == read(service, feed).content
