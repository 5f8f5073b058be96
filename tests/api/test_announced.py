"""From announcing a night to what its event says after an outcome, with the real scheduler behind it all."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.door import scheduler_door
from api.settings import Settings
from api.shapes import samples
from scheduler.domain import Plan
from scheduler.export import plan_from_json

from .calendar_readers import content_lines
from .client import Client
from .journeys import Service
from .stand_ins import jobs_here
from .subscriber import Auditor, Subscriber, ask

TOML = (
    samples.SCENARIO_TOML.encode()
    + b"""
[availability]
nights_per_week = 2
[[evenings]]
weekdays = "Tue, Sat"
start = 19:30:00
finish = 20:45:00
"""
)
WISH_LIST = b"target,priority\r\n" + b"".join(
    b"%s,%d\r\n" % (name, priority)
    for name, priority in [
        (b"M 42", 5), (b"M 35", 3), (b"M 44", 2), (b"M 37", 3), (b"M 67", 2), (b"M 81", 4), (b"M 1", 3),
        (b"M 79", 4),
    ]
)  # fmt: skip


class Members:
    """A club whose members subscribe to one scenario's calendar."""

    def __init__(self, service: Service) -> None:
        self.service, self.client = service, Client(service.client)
        self.now = datetime(2027, 2, 18, 12, tzinfo=UTC)
        service.client.app.state.services.storage._database.now = lambda: self.now
        self.scenario = str(service.keep("fenwold", TOML, WISH_LIST).headers["location"])
        self.id = self.scenario.rpartition("/")[2]
        wish = {"shows": "scenario", "scenario": self.id}
        address = service.ask("POST", f"{service.club}/feeds", json=wish).json()["address"]
        self.path = str(address).removeprefix("http://127.0.0.1:8075")
        self.auditor, self.program = Auditor(service, self.scenario), Subscriber()

    def planned(self, seed: int, **wish: Any) -> Plan:
        """Plan, publish where the calendar does not follow, and look at what the members get."""
        plan = self.client.plan(self.id, seed=seed, seconds=0.2, **wish)
        if "after" not in wish:
            self.client.publish(plan)
        self.ended()
        self.auditor.look(self.path)
        self.program.poll(self.service, self.path, asks_plainly=False, compressed=True)
        assert self.service.get(f"{self.scenario}/calendar").json()["plan"] == plan
        return plan_from_json(self.client.plan_json(plan))

    def ended(self) -> None:
        club = self.service.club
        while any(job["state"] != "done" for job in self.service.get(f"{club}/jobs?limit=2").json()["items"]):
            self.service.client.app.state.services.jobs._news.set()

    def settle(self, **wish: Any) -> None:
        """Decide how the calendar tells of plans."""
        path = f"{self.scenario}/calendar"
        tag = self.service.get(path).headers["etag"]
        assert self.service.ask("PUT", path, json=wish, headers={"If-Match": tag}).status_code == 200

    def take_back(self, evening: str) -> None:
        """Take an evening off what the scenario has announced, as its planner may."""
        kept = self.client.scenario(self.id)
        availability = self.service.get(f"{self.scenario}/availability").json()
        availability["announced"].remove(evening)
        self.client.set_availability(kept, availability)

    @property
    def announced_by_scenario(self) -> list[str]:
        announced: list[str] = self.service.get(f"{self.scenario}/availability").json()["announced"]
        return announced

    @property
    def nights(self) -> dict[str, Any]:
        items = self.service.get(f"{self.scenario}/calendar/nights").json()["items"]
        return {one["evening"]: one for one in items if one["state"] == "planned"}

    @property
    def announced(self) -> set[str]:
        return {evening for evening, one in self.nights.items() if one["announced"]}

    def event(self, evening: str) -> list[str]:
        """The content lines of an evening's event."""
        lines = content_lines(ask(self.service, self.path).content)
        at = lines.index(f"UID:{self.nights[evening]['uid']}")
        begin = max(n for n in range(at) if lines[n] == "BEGIN:VEVENT")
        return lines[begin : lines.index("END:VEVENT", at)]


@pytest.fixture
def members(tmp_path: Path) -> Iterator[Members]:
    settings = Settings(database=tmp_path / "kept.sqlite3", keys="none", requests_per_minute=0, plan_years=0)
    app = create_app(settings, scheduler_door, jobs_here)
    with TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False) as client:
        yield Members(Service(client))


def on(plan: Plan, evening: str) -> list[tuple[str, datetime]]:
    return [(one.target, one.time.start) for one in plan.visits if str(one.evening) == evening]


def test_what_was_announced_stands_until_an_outcome_or_the_planner_takes_it_away(members: Members) -> None:
    first = members.planned(1)
    assert members.announced == set()
    members.settle(follows=True, announce_weeks=2)
    near = sorted(evening for evening in members.nights if evening < "2027-03-04")
    assert near == sorted(members.announced)
    tonight, second, third, fourth = near

    after = members.planned(2, after="newest")
    assert members.announced_by_scenario == [str(evening) for evening in after.announced] == near
    for evening in near:
        assert on(after, evening) == on(first, evening)
        assert (members.nights[evening]["sequence"], "STATUS:CONFIRMED" in members.event(evening)) == (
            1,
            True,
        )

    members.now = datetime(2027, 2, 20, 22, tzinfo=UTC)
    ((seen, _),) = on(after, second)
    members.client.add_outcome(members.id, tonight, "clear", seen=[seen])
    after = members.planned(3, after="newest")
    assert members.nights[tonight]["outcome"] == "clear"
    (words,) = (
        line for line in members.event(second) if line.startswith("DESCRIPTION:Changed on 2027-02-20: ")
    )
    assert f"{seen} taken off: seen on 2027-02-20" in words
    assert "STATUS:CONFIRMED" in members.event(second), "it is another programme, and stands all the same"
    assert [on(after, evening) for evening in (third, fourth)] == [on(first, third), on(first, fourth)]

    members.now += timedelta(days=1)
    ((unwanted, _),) = on(after, third)
    kept = members.client.scenario(members.id)
    wishes = b"".join(line for line in WISH_LIST.splitlines(True) if not line.startswith(unwanted.encode()))
    members.client.replace_part(kept, "wish-list.csv", wishes)
    fifth = "2027-03-06"
    assert members.nights[fifth]["announced"] is None
    after = members.planned(4, after="newest")
    assert fifth in [str(evening) for evening in after.announced], (
        "it has come near, and so it stands already"
    )
    assert on(after, fifth) == on(first, fifth)
    (words,) = (line for line in members.event(third) if line.startswith("DESCRIPTION:"))
    assert words.startswith("DESCRIPTION:Changed on 2027-02-21: ")
    assert f"{unwanted} taken off: no longer on the wish-list" in words
    assert members.nights.get(fourth, {}).get("sequence") == 1

    members.take_back(fourth)
    for seed in (5, 6):
        members.planned(seed, after="newest")
        assert members.nights[fourth]["announced"] is None
        assert "STATUS:TENTATIVE" in members.event(fourth)
        assert fourth not in members.announced_by_scenario, "announced again over the planner's head"
    assert members.program.nights.keys() == {one["uid"] for one in members.nights.values()}
