from __future__ import annotations

import re

import pytest

from ..conftest import StartService
from ..journeys import Service
from .test_front import HTML, storage_of


@pytest.fixture
def service(start_service: StartService) -> Service:
    """A service whose plans a stand-in makes, reads and publishes."""
    return start_service()


@pytest.fixture
def scenario(service: Service) -> str:
    """The id of a scenario with a plan."""
    scenario = service.kept().rpartition("/")[2]
    service.planned(f"/scenarios/{scenario}")
    return scenario


def shown(service: Service, scenario: str) -> str:
    answer = service.ask("GET", f"/calendar/{scenario}", headers=HTML)
    assert answer.status_code == 200, answer.text
    return answer.text


def sent(service: Service, scenario: str, path: str = "", **fields: str) -> int:
    answer = service.ask("POST", f"/calendar/{scenario}{path}", data=fields, follow_redirects=False)
    return answer.status_code


def addresses(text: str) -> list[str]:
    return re.findall(r'<code class="once">(http[^<]*\.ics)</code>', text)


def test_an_address_is_made_opens_the_nights_and_is_revoked(service: Service, scenario: str) -> None:
    assert addresses(shown(service, scenario)) == []
    assert "only this machine" not in shown(service, scenario)
    for shows in ("scenario", "club"):
        assert sent(service, scenario, "/address", shows=shows) == 303
    made = addresses(shown(service, scenario))
    assert len(made) == 2
    assert "only this machine can open it" in shown(service, scenario)
    for one in made:
        assert service.get(one.removeprefix("http://127.0.0.1:8075")).text.startswith("BEGIN:VCALENDAR")
    feed = re.findall(r'name="feed" value="([0-9a-f]{20})"', shown(service, scenario))[0]
    assert sent(service, scenario, "/revoke", feed=feed) == 303
    left = addresses(shown(service, scenario))
    assert len(left) == 1
    (gone,) = {*made} - {*left}
    assert service.get(gone.removeprefix("http://127.0.0.1:8075")).status_code == 404


def test_publishing_shows_the_newest_version_and_how_it_is_told(service: Service, scenario: str) -> None:
    before = shown(service, scenario)
    assert "Nothing is published yet" in before
    assert "announce_weeks" not in before
    led = service.ask("POST", f"/calendar/{scenario}/publish", follow_redirects=False)
    job = led.headers["location"].rpartition("/")[2]
    assert service.ended(f"/jobs/{job}")["state"] == "done"
    done = service.ask("GET", f"/progress/{job}", follow_redirects=False)
    assert done.headers["location"] == f"/calendar/{scenario}"
    assert "It shows version 1, the newest" in shown(service, scenario)
    assert sent(service, scenario, follows="yes", announce_weeks="3") == 303
    calendar = storage_of(service).calendars.of(scenario)
    assert (calendar.follows, calendar.announce_weeks) == (True, 3)
    service.planned(f"/scenarios/{scenario}")
    assert "Publish version 2" in shown(service, scenario)


@pytest.mark.parametrize("weeks", ["-1", "61", "two", "1e1", "٣"])
def test_weeks_that_are_none_are_told_and_nothing_changes(
    service: Service, scenario: str, weeks: str
) -> None:
    job = service.ask("POST", f"/calendar/{scenario}/publish", follow_redirects=False).headers["location"]
    service.ended(f"/jobs/{job.rpartition('/')[2]}")
    answer = service.ask("POST", f"/calendar/{scenario}", data={"announce_weeks": weeks}, headers=HTML)
    assert answer.status_code == 422
    assert "a whole number from 0 to 60" in answer.text
    assert storage_of(service).calendars.of(scenario).announce_weeks == 0


def test_another_scenarios_address_is_not_revoked_here(service: Service, scenario: str) -> None:
    other = service.kept("another").rpartition("/")[2]
    service.planned(f"/scenarios/{other}")
    sent(service, other, "/address", shows="scenario")
    feed = storage_of(service).feeds.page(storage_of(service).scenarios.get(other).club, None, 9).items[0]
    assert sent(service, scenario, "/revoke", feed=feed.id) == 404
    assert storage_of(service).feeds.get(feed.id) == feed
