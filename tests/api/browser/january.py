"""A club with a planned January, long past, so that its nights can be logged whenever the tests run."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from api.door import scheduler_door
from api.storage import NewJob, NewPlan, NewScenario, ScenarioFiles, Storage, Work
from scheduler.domain import Kind, Plan, Target

from ... import small_plan
from ..pages.desk import TOML

BACK = timedelta(days=364)
"""A year, and the same weekdays."""
FIRST, SECOND = str(small_plan.FIRST - BACK), str(small_plan.SECOND - BACK)
NAMES = ("M 42", "M 1", "M 35", "M 36", "M 37", "M 38", "M 45", "M 79")
HOSTILE = '"><img src=x onerror=alert(1)>; last'


def earlier(noun: Any) -> Any:
    """Return a noun with every date in it a year earlier."""
    if isinstance(noun, date):
        return noun - BACK
    if isinstance(noun, tuple):
        return tuple(earlier(one) for one in noun)
    if is_dataclass(noun) and not isinstance(noun, type):
        moved = {one.name: earlier(getattr(noun, one.name)) for one in fields(noun) if one.init}
        return type(noun)(**moved)
    return noun


def a_plan(*more: str) -> Plan:
    """Return a plan whose first night has eight visits, M 42 the first; `more` targets have none."""
    plan = small_plan.plan()
    targets = tuple(Target(name, Kind.DEEP_SKY, 83.8, -5.4) for name in (*NAMES, *more))
    visits = [small_plan.visit(name, small_plan.FIRST, place, 18, 20 + 25 * place, 20)
              for place, name in enumerate(NAMES, 1)]  # fmt: skip
    kept = replace(plan, targets=targets, visits=(*visits, plan.visits[2]), unplaced=())
    moved: Plan = earlier(kept)
    return moved


def a_club(folder: Path, *more: str) -> tuple[str, str]:
    """Return a club's file, to be taken in by a running service, and the id of its scenario."""
    rows = "".join(f'"{name.replace(chr(34), chr(34) * 2)}",3,83.8,-5.4\r\n' for name in (*NAMES, *more))
    wishes = f"target,priority,ra_deg,dec_deg\r\n{rows}".encode()
    toml = TOML.replace(b"2027-01-01", b"2026-01-02")
    storage = Storage(folder / "made.sqlite3")
    club = storage.clubs.add("Hendra Stargazers").id
    new = NewScenario("january", "A January", len(NAMES) + len(more), date(2026, 1, 2), 31,
                      ScenarioFiles(toml, wishes))  # fmt: skip
    scenario = storage.scenarios.add(club, new).id
    previous = None
    for version in (1, 2):
        plan = replace(a_plan(*more), version=version)
        job = storage.jobs.add(NewJob(scenario, Work.PLAN, {}, None), 99)[0].id
        storage.jobs.begin(job)
        written = scheduler_door().write_plan(plan)
        made = NewPlan(version, plan.objective, plan.bound, len(plan.visits), 0, written, previous)
        assert storage.jobs.finish(job, made)
        previous = storage.jobs.get(job).plan
    told = storage.transfer.club(club)
    storage.close()
    return told, scenario
