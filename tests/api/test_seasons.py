"""Seasons without a start of their own, with the real scheduler."""

from __future__ import annotations

import json
import time
from datetime import UTC, date, datetime
from pathlib import Path

from api.door import scheduler_door
from api.settings import Settings
from api.storage import (
    JobRecord,
    JobState,
    NewJob,
    NewScenario,
    ScenarioFiles,
    Storage,
    Work,
)
from api.worker import jobs_of

from .test_real_scheduler import TOML, WISH_LIST


def test_a_season_without_a_start_is_the_plans_own_when_asked_about_later(tmp_path: Path) -> None:
    """Asked for on one day, worked on and asked about on another: the season does not slide meanwhile."""
    toml = TOML.replace(b"start = 2027-02-20\n", b"")
    asked, later = datetime(2027, 2, 20, 18, tzinfo=UTC), datetime(2027, 3, 1, 18, tzinfo=UTC)
    clock = [asked]
    storage = Storage(tmp_path / "kept.sqlite3", lambda: clock[0])
    door = scheduler_door()
    files = ScenarioFiles(toml, WISH_LIST)
    club = storage.clubs.add("Ours").id
    scenario = storage.scenarios.add(club, NewScenario("open", "", 4, date(2027, 2, 20), 21, files)).id
    settings = Settings(database=tmp_path / "kept.sqlite3", keys="none")
    jobs = jobs_of(settings, storage, scheduler_door, in_children=False)
    try:
        wish = {"seed": 0, "seconds": 0.5, "years": 10}
        made = _ended(storage, jobs.start(NewJob(scenario, Work.PLAN, wish)).id)
        plan = door.read_plan(storage.plans.file(str(made.plan), "plan.json").text)
        assert plan.season.start == date(2027, 2, 20)
        clock[0] = later
        more = {"plan": made.plan, "seed": 0, "years": 20}
        told = _ended(storage, jobs.start(NewJob(scenario, Work.ODDS, more)).id)
        assert json.loads(storage.jobs.answer(told.id))["years"] == 20
        anew = {"plan": made.plan, "seed": 0, "seconds": 0.5, "years": 0}
        again = _ended(storage, jobs.start(NewJob(scenario, Work.REPLAN, anew)).id)
        after = door.read_plan(storage.plans.file(str(again.plan), "plan.json").text)
        assert after.season.start == date(2027, 3, 1)
    finally:
        jobs.close()
        storage.close()


def _ended(storage: Storage, job: str) -> JobRecord:
    deadline = time.monotonic() + 120
    while not (record := storage.jobs.get(job)).state.ended and time.monotonic() < deadline:
        time.sleep(0.05)
    assert record.state is JobState.DONE, record
    return record
