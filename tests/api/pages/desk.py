"""A service with a planned January, and a clock in the test's hand."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from fastapi.testclient import TestClient

from api.app import create_app
from api.door import scheduler_door
from api.settings import Settings
from api.storage import NewPlan, OutcomeRecord, Storage
from scheduler.domain import Plan

from ... import small_plan
from ..journeys import Answer, Service
from ..stand_ins import no_work

TOML = b"""title = "A January"
[site]
name = "Larkmoor"
latitude_deg = 55.2
longitude_deg = -2.4
zone = "Europe/London"
[telescope]
name = "200 mm f/6"
aperture_mm = 200
focal_length_mm = 1200
[[eyepieces]]
name = "25 mm"
focal_length_mm = 25
[season]
start = 2027-01-01
nights = 31
[[evenings]]
weekdays = "Fri"
start = "18:00"
finish = "23:59"
[clear_odds]
monthly = [0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4]
"""
WISHES = b"target,priority\r\nM 42,5\r\nM 1,3\r\nJupiter,4\r\nNGC 5139,2\r\n"
PAGE = {"Accept": "text/html"}
FRIDAY = "2027-01-08"


@dataclass
class Desk:
    """A service in this process: what a browser would ask of it."""

    service: Service
    storage: Storage
    scenario: str
    headers: dict[str, str]

    def at(self, moment: str) -> None:
        """Set the clock, by UTC as in "2027-01-09T01:30"."""
        now = datetime.fromisoformat(moment).replace(tzinfo=UTC)
        self.storage._database.now = lambda: now

    def get(self, path: str) -> Answer:
        return self.service.ask("GET", path, headers=PAGE | self.headers, follow_redirects=False)

    def page(self, evening: str = FRIDAY) -> Answer:
        return self.get(f"/log/{self.scenario}/{evening}")

    def save(self, evening: str = FRIDAY, *, by_form: bool = True, **fields: Any) -> Answer:
        """Send a form; `target__M_42="seen"` would be awkward, so marks go by name in `marks`."""
        marks = {f"target:{name}": mark for name, mark in fields.pop("marks", {}).items()}
        accept = PAGE if by_form else {"Accept": "application/json"}
        return self.service.ask(
            "POST", f"/log/{self.scenario}/{evening}", content=urlencode({**fields, **marks}),
            headers={"Content-Type": "application/x-www-form-urlencoded", **accept, **self.headers},
            follow_redirects=False,
        )  # fmt: skip

    @property
    def log(self) -> tuple[OutcomeRecord, ...]:
        return self.storage.outcomes.lines(self.scenario)

    def keep_plan(self, plan: Plan, previous: str | None = None) -> str:
        """Keep a plan as the newest."""
        from api.storage import NewJob, Work

        job = self.storage.jobs.add(NewJob(self.scenario, Work.PLAN, {}, None), 99)[0].id
        assert self.storage.jobs.begin(job) is not None
        files = scheduler_door().write_plan(plan)
        new = NewPlan(plan.version, plan.objective, plan.bound, len(plan.visits), len(plan.unplaced), files,
                      previous)  # fmt: skip
        assert self.storage.jobs.finish(job, new)
        kept = self.storage.jobs.get(job).plan
        assert kept is not None
        return kept


@contextmanager
def a_desk(folder: Path, wishes: bytes = WISHES, plan: Plan | None = None, **chosen: Any) -> Iterator[Desk]:
    """Give a desk with a scenario and a plan of it, late in January; no job is ever worked on."""
    settings = Settings(database=folder / "kept.sqlite3", requests_per_minute=0, plan_years=0,
                        **{"keys": "none", **chosen})  # fmt: skip
    app = create_app(settings, scheduler_door, no_work)
    with TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False) as client:
        service, storage = Service(client), app.state.services.storage
        headers: dict[str, str] = {}
        if settings.keys == "required":
            from api.auth import first_key

            client.headers["Authorization"] = f"Bearer {first_key(storage)}"
        kept = service.keep("larkmoor", TOML, wishes)
        assert kept.status_code == 201, kept.text
        desk = Desk(service, storage, kept.json()["id"], headers)
        desk.keep_plan(plan or small_plan.plan())
        desk.at("2027-01-28T12:00")
        yield desk


def without(plan: Plan, evening: Any, version: int = 2, **more: Any) -> Plan:
    """Return a later plan that has nothing on an evening."""
    return replace(
        plan, version=version, visits=tuple(one for one in plan.visits if one.evening != evening),
        standbys=tuple(one for one in plan.standbys if one.evening != evening), **more,
    )  # fmt: skip
