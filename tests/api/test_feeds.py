"""Feeds over HTTP: open to whoever has the address, to nobody else, and never told to the log."""

from __future__ import annotations

import io
import json
from typing import Any

import pytest

from api.auth import first_key
from api.feeding import Feeder
from api.logs import set_up_logging
from api.settings import LONGEST_ADDRESS
from api.storage import NewOutcome

from .calendar_readers import by_icalendar, content_lines
from .conftest import StartService
from .journeys import Answer, Service, assert_is_problem
from .stand_ins import no_work
from .subscriber import ask

HERE = "http://127.0.0.1:8075"
LONG = "https://" + "plans." * 10 + "club"


def a_feed(service: Service, club: str | None = None, **wish: Any) -> tuple[str, str]:
    """Make a feed and return where it is managed and where it is read."""
    made = service.ask("POST", f"{club or service.club}/feeds", json=wish or {"shows": "club"})
    assert made.status_code == 201, made.text
    return str(made.json()["links"]["self"]), str(made.json()["address"]).removeprefix(HERE)


def published(service: Service, name: str = "winter-year", seed: int = 0) -> str:
    """Keep, plan and publish a scenario, and return its address."""
    scenario = service.kept(name)
    plan = service.planned(scenario, seed=seed)
    job = service.ask("POST", f"{plan}/publish", json={}).headers["location"]
    assert service.ended(job)["state"] == "done"
    return scenario


def told(answer: Answer) -> dict[str, Any]:
    """What a refusal says, but for the request's own number."""
    return {name: value for name, value in answer.json().items() if name not in {"request", "instance"}}


def test_a_feed_is_read_without_a_key_and_managed_with_one(start_service: StartService) -> None:
    service = start_service(jobs=no_work, keys="required")
    token = first_key(service.client.app.state.services.storage)
    service.client.headers["Authorization"] = f"Bearer {token}"
    at, path = a_feed(service)
    del service.client.headers["Authorization"]
    assert service.get(path).status_code == 200
    for method, where in (("GET", at), ("POST", f"{at}/rotate"), ("DELETE", at)):
        assert_is_problem(service.ask(method, where, json={}), 401, "key-needed")


def test_a_feed_answers_head_and_says_what_else_it_takes(start_service: StartService) -> None:
    service = start_service(jobs=no_work)
    _, path = a_feed(service)
    whole, head = ask(service, path), service.ask("HEAD", path)
    assert whole.headers["content-type"] == "text/calendar; charset=utf-8"
    assert whole.headers["content-disposition"] == 'inline; filename="nights.ics"'
    assert (head.status_code, head.headers["content-type"]) == (200, whole.headers["content-type"])
    for method in ("OPTIONS", "PUT", "PROPFIND"):
        refused = service.ask(method, path)
        assert (refused.status_code, "GET" in refused.headers["allow"]) == (405, True)


def test_what_caches_need_to_know_is_on_every_answer(start_service: StartService) -> None:
    service = start_service(jobs=no_work)
    _, path = a_feed(service)
    tags = set()
    for encoding, packed in (
        ("gzip", True),
        ("br, GZIP;q=0.5", True),
        ("gzip;q=0", False),
        ("identity", False),
    ):
        answer = service.get(path, Accept_Encoding=encoding)
        assert (answer.headers.get("content-encoding") == "gzip") == packed
        tags.add(answer.headers["etag"])
        again = service.get(path, Accept_Encoding=encoding, If_None_Match=answer.headers["etag"])
        assert (answer.status_code, again.status_code) == (200, 304)
        for one in (answer, again):
            assert one.headers["vary"] == "Accept-Encoding"
            assert one.headers["cache-control"] == "private, no-cache"
            assert one.headers["etag"] == answer.headers["etag"]
    assert len(tags) == 2
    other = service.get(
        path, Accept_Encoding="identity", If_None_Match=next(tag for tag in tags if "gzip" in tag)
    )
    assert other.status_code == 200


def test_unknown_former_revoked_and_odd_secrets_are_refused_alike(start_service: StartService) -> None:
    service = start_service(jobs=no_work)
    rotated, former = a_feed(service)
    revoked, gone = a_feed(service)
    fresh = service.ask("POST", f"{rotated}/rotate", json={}).json()["address"].removeprefix(HERE)
    assert service.ask("DELETE", revoked).status_code == 204
    unknown = "/calendars/" + "x" * 27 + ".ics"
    said = told(service.get(unknown))
    for path in (
        former,
        gone,
        unknown,
        "/calendars/%00.ics",
        "/calendars/" + "x" * 99 + ".ics",
        "/calendars/a%20b.ics",
    ):
        night = path.replace("/calendars/", "/nights/").replace(".ics", "/2027-01-08")
        for where in (path, night):
            answer = service.get(where)
            assert_is_problem(answer, 404, "no-such-thing")
            assert told(answer) == said
    assert service.get(fresh).status_code == 200


def test_addresses_stay_short_enough_for_every_calendar_program(start_service: StartService) -> None:
    assert len(LONG) <= LONGEST_ADDRESS < len(LONG) + 3
    service = start_service(jobs=no_work, address=LONG)
    made = service.ask("POST", f"{service.club}/feeds", json={"shows": "club"})
    assert made.json()["address"].startswith(f"{LONG}/calendars/")
    assert len(made.json()["address"]) <= 116 - (LONGEST_ADDRESS - len(LONG))


def test_reminders_are_asked_for_within_bounds(service: Service) -> None:
    published(service)
    _, path = a_feed(service)
    tags = {service.get(path).headers["etag"]}
    for alarm in ("0", "90", "10080"):
        answer = service.get(f"{path}?alarm={alarm}")
        assert {seen.alarms for seen in by_icalendar(answer.text)} == {1}
        tags.add(answer.headers["etag"])
    assert len(tags) == 4
    for alarm in ("-1", "10081", "1.5", "soon", ""):
        assert_is_problem(service.get(f"{path}?alarm={alarm}"), 422, "invalid-request")


@pytest.mark.parametrize("name", ["Hendra, Star; \\Gazers", "END:VCALENDAR", "größer \N{HORSE} " + "ж" * 80])
def test_odd_names_are_told_as_they_are(start_service: StartService, name: str) -> None:
    service = start_service(jobs=no_work)
    club = service.ask("POST", "/clubs", json={"name": name}).headers["location"]
    _, path = a_feed(service, club, shows="observer", observer=name)
    lines = content_lines(service.get(path).content)
    escaped = name.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    assert f"X-WR-CALNAME:{escaped}: nights out of {escaped}" in lines
    for wish in ({"name": f"{name}\r\nX-EVIL:1"}, {"name": f"{name}\x00"}):
        assert service.ask("POST", "/clubs", json=wish).status_code == 422
    for odd in ("\r\nX-EVIL:1", "\ud800"):
        asked = json.dumps({"shows": "observer", "observer": f"{name}{odd}"})
        sent = service.ask(
            "POST", f"{club}/feeds", content=asked, headers={"Content-Type": "application/json"}
        )
        assert sent.status_code == 422


def test_each_event_links_to_the_page_of_its_night(service: Service) -> None:
    published(service)
    _, path = a_feed(service)
    text = service.get(path).text
    for seen in by_icalendar(text)[:3]:
        link = f"{path.replace('/calendars/', '/nights/').removesuffix('.ics')}/{seen.start:%Y-%m-%d}"
        assert f"URL:{HERE}{link}" in content_lines(text.encode())
        page = service.get(link)
        assert (page.status_code, page.headers["content-type"]) == (200, "text/plain; charset=utf-8")
        assert page.text == f"{seen.title}\n\n{seen.text}\n\nMind the owl.\n"
        assert page.headers["cache-control"] == "private, no-cache"
    secret = link.rpartition("/")[0]
    assert_is_problem(service.get(f"{secret}/2028-01-08"), 404, "no-such-thing")
    assert_is_problem(service.get(f"{secret}/tonight"), 422, "invalid-request")


def test_no_feed_shows_another_clubs_nights(service: Service) -> None:
    first = service.club
    published(service, seed=1)
    other = service.ask("POST", "/clubs", json={"name": "Other"}).headers["location"]
    paths = [a_feed(service, other)[1], a_feed(service, other, shows="observer", observer="Jory")[1]]
    for path in paths:
        assert by_icalendar(service.get(path).text) == []
        page = path.replace("/calendars/", "/nights/").removesuffix(".ics")
        mine = by_icalendar(service.get(a_feed(service, first)[1]).text)
        assert len(mine) == 20
        assert {service.get(f"{page}/{seen.start:%Y-%m-%d}").status_code for seen in mine[:3]} == {404}


def test_a_scenario_takes_its_feed_and_its_nights_with_it(service: Service) -> None:
    kept, gone = published(service, "kept", 1), published(service, "gone", 2)
    paths = {
        name: a_feed(service, None, shows="scenario", scenario=one.rpartition("/")[2])[1]
        for name, one in (("kept", kept), ("gone", gone))
    }
    _, club = a_feed(service)
    assert len(by_icalendar(service.get(club).text)) == 40
    tag = service.get(gone).headers["etag"]
    assert service.ask("DELETE", gone, headers={"If-Match": tag}).status_code == 204
    assert [service.get(paths[name]).status_code for name in ("kept", "gone")] == [200, 404]
    assert service.get(club).text.count("BEGIN:VEVENT") == 20
    assert {seen.uid for seen in by_icalendar(service.get(club).text)} == {
        seen.uid for seen in by_icalendar(service.get(paths["kept"]).text)
    }


def test_a_feed_that_changes_while_it_is_written_has_the_tag_of_what_was_written(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    scenario = published(service).rpartition("/")[2]
    _, path = a_feed(service)
    before = service.get(path)
    storage = service.client.app.state.services.storage
    feed = storage.feeds.by_secret(path.split("/")[2].removesuffix(".ics"))
    feeder = service.client.app.state.services.feeder
    evening = storage.entries.shown_by(feed)[0].evening
    really = storage.entries.shown_by

    def meanwhile(shown: Any) -> Any:
        storage.outcomes.add(scenario, [NewOutcome(evening, "clear")], None)
        return really(shown)

    monkeypatch.setattr(storage.entries, "shown_by", meanwhile)
    tag, body = feeder.body_of(feed, HERE, None, compressed=False)
    assert "How it went: clear." in body.decode()
    assert tag == feeder.tag_of(feed, HERE, None, compressed=False) != before.headers["etag"]


@pytest.mark.parametrize("form", ["text", "json"])
def test_no_secret_of_a_feed_is_logged(
    start_service: StartService, monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, form: str
) -> None:
    service = start_service(jobs=no_work)
    at, path = a_feed(service)
    paths = [path]
    set_up_logging(form, stream)
    ask(service, path, ask(service, path).headers["etag"])
    service.ask("POST", path)
    service.get(path.replace("/calendars/", "/nights/").replace(".ics", "/2027-01-08"))
    paths.append(service.ask("POST", f"{at}/rotate", json={}).json()["address"].removeprefix(HERE))
    for one in paths:
        service.get(one)
    secrets = [one.split("/")[2].removesuffix(".ics") for one in paths]

    def fail(*_: object, **__: object) -> None:
        raise RuntimeError(f"cannot read {secrets}")

    monkeypatch.setattr(Feeder, "tag_of", fail)
    assert service.get(paths[1]).status_code == 500
    assert "/calendars/{secret}.ics" in stream.getvalue()
    assert "RuntimeError" in stream.getvalue()
    for secret in secrets:
        assert secret not in stream.getvalue()
