"""A small year that the real scheduler planned, and questions it really answered, kept without a service."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

import scheduler
from api.app import create_app
from api.door import scheduler_door
from api.settings import Settings
from api.storage import JobRecord, NewOutcome, ScenarioFiles, Storage, Work
from scheduler.domain import Plan, Scenario, ignore_progress, never_cancelled

from ..journeys import Service
from ..stand_ins import StandInFetch, a_seal, no_work
from .stored import logged, stored

HOSTILE = '<img src=x onerror=alert(1)> & "Co" {{ 7 * 7 }}'
TOML = """\
title = "Four weeks of late winter"

[site]
name = "Fenwold"
latitude_deg = 52.6
longitude_deg = 0.4
elevation_m = 12
zone = "Europe/London"
sky_brightness = 20.9

[telescope]
name = "150 mm f/8"
aperture_mm = 150
focal_length_mm = 1200

[[eyepieces]]
name = "25 mm"
focal_length_mm = 25

[season]
start = 2031-02-14
nights = 28

[[evenings]]
weekdays = "Fri, Sat"
start = "19:00"
finish = "21:30"

[availability]
nights_per_week = 1

[clear_odds]
monthly = [0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4]
"""
# From 52.6 degrees north M 7, 35 degrees south of the equator, never rises above 3 degrees; M 79, 24.5
# degrees south of it, culminates at 13: a lower limit would place it.
# The season lies far ahead, so that its nights are still to come whenever this runs.
WISH_LIST = (
    "target,priority,visits,spacing_days,kind,ra_deg,dec_deg,magnitude,size_arcmin,what\r\n"
    "M 42,5,2,7,,,,,,\r\nM 35,3,,,,,,,,\r\nM 44,2,,,,,,,,\r\nM 1,4,,,,,,,,\r\n"
    "M 7,4,,,,,,,,\r\nM 79,4,,,,,,,,\r\nRigel,3,,,,,,,,\r\n"
    '"' + HOSTILE.replace('"', '""') + '",1,,,deep-sky object,100.0,10.0,6.0,10,open cluster\r\n'
)
FILES = ScenarioFiles(TOML.encode(), WISH_LIST.encode())


@cache
def planned() -> tuple[Scenario, Plan]:
    """Return the scenario as the scheduler reads it, and its plan."""
    read = scheduler_door().read_scenario("fenwold", FILES)
    return read, scheduler.plan_year(read, seed=1, seconds=0.3, years=30)


@cache
def answered(work: Work, **wish: Any) -> str:
    """Return what the scheduler answers to a question, as a job would keep it."""
    read, plan = planned()
    told = {name: list(value) if isinstance(value, tuple) else value for name, value in wish.items()}
    return scheduler_door().answers[work.value](plan, read, told, ignore_progress, never_cancelled)


@dataclass
class Year:
    """A kept year and a service that shows it; nobody works on its jobs but the test."""

    storage: Storage
    service: Service
    scenario: str
    plan: str

    def get(self, path: str, **more: Any) -> Any:
        return self.service.ask("GET", path, follow_redirects=False, **more)

    def post(self, path: str, **fields: Any) -> Any:
        return self.service.ask("POST", path, data=fields, follow_redirects=False)

    def jobs(self, *works: Work) -> tuple[JobRecord, ...]:
        return self.storage.jobs.of_scenario(self.scenario, works or tuple(Work), 99)

    def job_at(self, answer: Any) -> JobRecord:
        """Return the job that a form led to."""
        assert answer.status_code == 303, answer.text
        where = answer.headers["location"]
        assert where.startswith("/answer/"), where
        return self.storage.jobs.get(where.rpartition("/")[2])

    def work_out(self, job: JobRecord) -> None:
        """Let the scheduler answer a job's question, and keep the answer."""
        wish = {name: tuple(value) if isinstance(value, list) else value for name, value in job.wish.items()}
        self.end(job, answered(job.work, **wish))

    def end(self, job: JobRecord, answer: str) -> None:
        """Keep an answer of a job, whatever it is."""
        assert self.storage.jobs.begin(job.id)
        assert self.storage.jobs.finish_with_answer(job.id, answer)

    def log(self, evening: Any, outcome: str = "clear", **told: Any) -> None:
        logged(self.storage, self.scenario, NewOutcome(evening, outcome, **told))


def kept_year(folder: Path, plan: Plan | None = None, **settings: Any) -> tuple[TestClient, Year]:
    """Keep the small year in a database and return a client to open, with what is kept."""
    database = folder / "kept.sqlite3"
    chosen = {"keys": "none", "requests_per_minute": 0, **settings}
    app = create_app(Settings(database=database, **chosen), scheduler_door, no_work, StandInFetch, a_seal)
    client = TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False)
    storage = Storage(database)
    of = stored(storage, plan or planned()[1], "fenwold", FILES)
    return client, Year(storage, Service(client), of.scenario, of.plan)
