"""Members' calendars through a season of changes: just the nights that are planned, whatever was polled."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.ports import Door
from api.settings import Settings

from .journeys import Service
from .stand_ins import StandInPlanner, jobs_here
from .subscriber import Auditor, Subscriber, ask

STEPS = 50
OUTCOMES = ("clear", "part-clear", "clouded out", "could not go")


def steady_notices(plan: str, shown: str | None) -> str:
    """Tell of twenty nights of 2027 that are alike in most plans: the seed moves some, leaves some out."""
    nights, seed = [], json.loads(plan)["seed"]
    for number in range(20):
        evening, luck = date(2027, 1, 3) + timedelta(days=10 * number), Random(f"{seed} {number}").random()
        start = datetime(evening.year, evening.month, evening.day, 19, 0, tzinfo=UTC)
        start += timedelta(minutes=seed if luck > 0.8 else 0)
        nights += [{
            "evening": evening.isoformat(), "start": start.isoformat(), "place": "Allotment",
            "end": (start + timedelta(hours=3)).isoformat(), "title": f"Night out: M {number}",
            "observers": ["Jory"], "categories": ["Observing"], "lines": ["Meet at the gate, größer."],
            "care": [], "clear_odds": 0.25 + 0.05 * luck,
        }] if luck > 0.15 else []  # fmt: skip
    amends = {} if shown is None else {one["evening"]: ["the solver thought better"] for one in nights}
    return json.dumps({"nights": nights, "open_from": "2027-01-01", "amends": amends})


def steady_door(planner: StandInPlanner) -> Door:
    return replace(planner.door(), notices_json=steady_notices)


@dataclass
class Season:
    """A club through a season, and a plain model of which nights its calendar shows."""

    service: Service
    luck: Random
    scenario: str = ""
    feed: str = ""
    seeds: dict[str, int] = field(default_factory=dict)
    planned: dict[date, bool] = field(default_factory=dict)
    logged: set[date] = field(default_factory=set)
    follows: bool = False
    now: datetime = datetime(2026, 12, 28, 12, tzinfo=UTC)

    def begin(self) -> None:
        """Publish a first plan, and subscribe."""
        storage = self.service.client.app.state.services.storage
        storage._database.now = lambda: self.now
        self.scenario = self.service.kept()
        self.replan()
        self.publish(next(iter(self.seeds)))
        made = self.service.ask("POST", f"{self.service.club}/feeds", json={"shows": "club"})
        self.feed = str(made.json()["links"]["self"])

    @property
    def path(self) -> str:
        """The address of the feed, without the service's own part."""
        address = str(self.service.get(self.feed).json()["address"])
        return address.removeprefix("http://127.0.0.1:8075")

    @property
    def today(self) -> date:
        return self.now.date()

    def replan(self) -> None:
        """Plan anew after the newest plan."""
        seed = self.luck.randrange(1, 50)
        wish: dict[str, Any] = {"seed": seed} | ({"after": "newest"} if self.seeds else {})
        job = self._ended(self.service.start(self.scenario, **wish).headers["location"])
        plan = str(job["links"]["plan"])
        self.seeds[plan] = seed
        if self.follows:
            self._all_ended()
            self._now_shown(plan)

    def publish(self, plan: str) -> None:
        """Let the calendar show a plan, a newer or an older one."""
        self._ended(self.service.ask("POST", f"{plan}/publish", json={}).headers["location"])
        self._now_shown(plan)

    def publish_any(self) -> None:
        """Let the calendar show whatever plan."""
        self.publish(self.luck.choice(list(self.seeds)))

    def settle(self) -> None:
        """Tell of plans in another way."""
        self.follows = self.luck.random() < 0.6
        path = f"{self.scenario}/calendar"
        wish = {"follows": self.follows, "announce_weeks": self.luck.randrange(6)}
        tag = self.service.get(path).headers["etag"]
        assert self.service.ask("PUT", path, json=wish, headers={"If-Match": tag}).status_code == 200

    def log(self) -> None:
        """Log how a night went that the calendar told of, or correct what was logged."""
        over = [day for day, planned in self.planned.items() if planned and day <= self.today]
        if over:
            evening = self.luck.choice(over[-3:])
            line = {"evening": evening.isoformat(), "outcome": self.luck.choice(OUTCOMES)}
            assert self.service.ask("POST", f"{self.scenario}/outcomes", json=line).status_code == 201
            self.logged.add(evening)

    def wait(self) -> None:
        """Do nothing."""

    def rotate(self) -> None:
        """Give the feed another address."""
        old = self.path
        assert self.service.ask("POST", f"{self.feed}/rotate", json={}).status_code == 200
        assert ask(self.service, old).status_code == 404

    def _now_shown(self, plan: str) -> None:
        told = json.loads(steady_notices(json.dumps({"seed": self.seeds[plan]}), None))["nights"]
        nights = {date.fromisoformat(one["evening"]) for one in told}
        for evening in (nights | self.planned.keys()) - self.logged:
            if evening >= self.today:
                self.planned[evening] = evening in nights

    def _ended(self, job: str) -> dict[str, Any]:
        ended = self.service.ended(job, within_s=30.0)
        assert ended["state"] == "done", ended
        return ended

    def _all_ended(self) -> None:
        deadline = time.monotonic() + 30.0
        states = {"waiting"}
        while states - {"done"} and time.monotonic() < deadline:
            self.service.client.app.state.services.jobs._news.set()  # else its keeper looks once a second
            jobs = self.service.get(f"{self.service.club}/jobs?limit=3").json()["items"]
            states = {job["state"] for job in jobs}
        assert states == {"done"}


@pytest.fixture
def service(tmp_path: Path, planner: StandInPlanner) -> Iterator[Service]:
    settings = Settings(database=tmp_path / "kept.sqlite3", keys="none", requests_per_minute=0, plan_years=0)
    app = create_app(settings, partial(steady_door, planner), jobs_here)
    with TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False) as client:
        yield Service(client)


def test_a_subscriber_ends_with_exactly_the_nights_that_are_planned(service: Service) -> None:
    luck = Random("a season of changes")
    season = Season(service, luck)
    season.begin()
    auditor, steady, merging = Auditor(service, season.scenario), Subscriber(), Subscriber()
    polled = season.now
    deeds = [season.replan, season.replan, season.settle, season.log, season.rotate, season.wait,
             season.publish_any]  # fmt: skip
    for _ in range(STEPS):
        season.now += timedelta(days=luck.choice((0, 1, 4, 9)), minutes=luck.randrange(-30, 600))
        luck.choice(deeds)()
        path = season.path
        auditor.look(path)
        steady.poll(service, path, asks_plainly=False, compressed=False)
        if luck.random() < 0.6 or season.now - polled > timedelta(days=18):  # of 30 that tell what is gone
            polled = season.now
            merging.poll(service, path, asks_plainly=luck.random() < 0.3, compressed=luck.random() < 0.5)
        if luck.random() < 0.3:
            merging.take(luck.choice(steady.answers))  # an answer that was long on its way

    merging.poll(service, season.path, asks_plainly=False, compressed=False)
    kept = service.get(f"{season.scenario}/calendar/nights").json()["items"]
    planned = {one["evening"]: one for one in kept if one["state"] == "planned"}
    assert planned.keys() == {str(day) for day, stands in season.planned.items() if stands}
    for subscriber in (steady, merging):
        assert subscriber.nights.keys() == {one["uid"] for one in planned.values()}
        for one in planned.values():
            seen = subscriber.nights[one["uid"]]
            assert (seen.sequence, seen.start.date().isoformat()) == (one["sequence"], one["evening"])
    assert len(season.seeds) > 5, "the season was eventful"
    assert auditor.unchanged > 200
    assert len([one for one in kept if one["state"] == "withdrawn"]) > 1
    assert season.today > date(2027, 6, 1)
    assert len(season.logged) > 2
    assert len([one for one in kept if one["announced"]]) > 5
