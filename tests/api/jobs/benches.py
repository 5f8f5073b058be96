"""Jobs on a database with the stand-in planner behind them, as the tests of jobs need them."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from api.deeds import deeds_behind
from api.hands import InlineHands, Limits, ProcessHands
from api.jobs import DurableJobs, Power
from api.ports import Hands, Outside
from api.storage import JobRecord, JobState, NewJob, NewScenario, ScenarioFiles, Storage, Work

from ..databases import Where
from ..stand_ins import TOML, WISH_LIST, StandInPlanner, read_scenario

ENDED = {state for state in JobState if state.ended}


@dataclass
class Bench:
    """Storage, and jobs at work on it."""

    storage: Storage
    jobs: DurableJobs
    planner: StandInPlanner

    def scenario(self, name: str = "winter-year") -> str:
        """Keep a scenario and return its id."""
        return kept_in(self.storage, name)

    def start(self, scenario: str | None = None, work: Work = Work.PLAN, **wish: Any) -> str:
        """Start a job and return its id."""
        given = {"seed": 0, "seconds": 1.0, "years": 0, **wish}
        return self.jobs.start(NewJob(scenario or self.scenario(), work, given)).id

    def get(self, job: str) -> JobRecord:
        return self.storage.jobs.get(job)

    def followed(self, job: str, states: set[JobState], within_s: float = 60.0) -> JobRecord:
        """Follow a job until it is in one of `states`."""
        wait_for(lambda: self.get(job).state in states, within_s, lambda: self.get(job))
        return self.get(job)

    def ended(self, job: str, within_s: float = 60.0) -> JobRecord:
        return self.followed(job, ENDED, within_s)

    def planned(self, scenario: str | None = None, **wish: Any) -> str:
        """Plan a scenario and return the plan's id."""
        record = self.ended(self.start(scenario, **wish))
        assert record.state is JobState.DONE, record
        assert record.plan is not None
        return record.plan

    def plans(self, scenario: str) -> int:
        return len(self.storage.plans.page(scenario, None, 200).items)

    def close(self) -> None:
        self.jobs.close()
        self.storage.close()


def bench_on(
    database: Where, planner: StandInPlanner, *, hands: Hands | None = None, outside: Outside | None = None,
    **power: int,
) -> Bench:  # fmt: skip
    """Open jobs on a database, as a service would."""
    storage = Storage(database)
    given = hands or InlineHands(deeds_behind(planner.door))
    return Bench(storage, DurableJobs(storage, given, Power(**power), outside), planner)


def child_hands(planner: StandInPlanner, most: int = 2) -> ProcessHands:
    return ProcessHands(deeds_behind(planner.door), most, Limits())


def kept_in(storage: Storage, name: str = "winter-year") -> str:
    """Keep a club and a scenario of it, and return the scenario's id."""
    files = ScenarioFiles(TOML, WISH_LIST)
    scenario = read_scenario(name, files)
    season = scenario.season
    new = NewScenario(name, "", 2, season.start, season.nights, files)
    return storage.scenarios.add(storage.clubs.add("Alder Reach").id, new).id


def wait_for(
    holds: Callable[[], bool], within_s: float = 60.0, told: Callable[[], object] = lambda: ""
) -> None:
    deadline = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < deadline, f"waited in vain: {told()}"
        time.sleep(0.01)
