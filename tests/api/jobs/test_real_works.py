"""Every work with the real scheduler, in child processes: what a job leaves is what the library makes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

import scheduler
from api.deeds import deeds_behind
from api.door import scheduler_door
from api.hands import ProcessHands
from api.jobs import DurableJobs, Power
from api.storage import JobRecord, JobState, NewJob, NewOutcome, NewScenario, ScenarioFiles, Storage, Work
from scheduler.domain import Plan

from ..test_real_scheduler import TOML, WISH_LIST
from .benches import ENDED, wait_for

FILES = ScenarioFiles(TOML, WISH_LIST)
YEARS = 60


class Real:
    """A kept scenario, and jobs at work on it."""

    def __init__(self, database: Path) -> None:
        self.storage = Storage(database)
        self.read = scheduler_door().read_scenario("fenwold", FILES)
        new = NewScenario("fenwold", "", 4, self.read.season.start, self.read.season.nights, FILES)
        self.scenario = self.storage.scenarios.add(self.storage.clubs.add("Alder Reach").id, new).id
        self.jobs = DurableJobs(self.storage, ProcessHands(deeds_behind(), 2), Power(1, 2))

    def done(self, work: Work, **wish: object) -> JobRecord:
        job = self.jobs.start(NewJob(self.scenario, work, wish)).id
        wait_for(lambda: self.storage.jobs.get(job).state in ENDED, 120, lambda: self.storage.jobs.get(job))
        record = self.storage.jobs.get(job)
        assert record.state is JobState.DONE, record
        return record

    def plan(self, record: JobRecord) -> Plan:
        assert record.plan is not None
        return scheduler.plan_from_json(self.storage.plans.file(record.plan, "plan.json").text)

    def answer(self, record: JobRecord) -> object:
        return json.loads(self.storage.jobs.answer(record.id))


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Real]:
    made = Real(tmp_path_factory.mktemp("works") / "kept.sqlite3")
    yield made
    made.jobs.close()
    made.storage.close()


@pytest.fixture(scope="module")
def first(real: Real) -> JobRecord:
    return real.done(Work.PLAN, seed=3, seconds=0.3, years=YEARS)


def test_a_plan_made_in_shares_is_the_plan_made_at_once(real: Real, first: JobRecord) -> None:
    """Odds of sixty years: a share of fifty and one of ten, each in a child process."""
    at_once = scheduler.plan_year(real.read, seed=3, seconds=0.3, years=YEARS)
    assert real.plan(first) == at_once
    assert at_once.odds is not None
    assert at_once.odds.years == YEARS


def test_a_re_plan_knows_the_log_and_the_plan_before(real: Real, first: JobRecord) -> None:
    evening = real.plan(first).visits[0].evening
    real.storage.outcomes.add(real.scenario, [NewOutcome(evening, "clouded_out")], after=0)
    record = real.done(Work.REPLAN, plan=first.plan, seed=3, seconds=0.3, years=0)
    made = real.plan(record)
    assert (made.version, record.outcomes) == (2, 1)
    assert all(visit.evening > evening for visit in made.visits)
    assert made.changes


def test_questions_are_answered_by_the_scheduler_itself(real: Real, first: JobRecord) -> None:
    """The plan was made before the log had a line: it is asked about as it was then."""
    plan = real.plan(first)
    why = real.answer(real.done(Work.WHY, plan=first.plan, target="M 7"))
    expected = scheduler.plain_of(scheduler.why_not(plan, real.read, "M 7"))
    assert why == {"then": None, "not": json.loads(json.dumps(expected))}
    odds = real.answer(real.done(Work.ODDS, plan=first.plan, seed=5, years=50))
    assert isinstance(odds, dict)
    assert (odds["years"], odds["seed"]) == (50, 5)


def test_questions_about_a_scenario_need_no_plan(real: Real) -> None:
    prices = real.answer(real.done(Work.PRICES))
    assert isinstance(prices, dict)
    assert prices["nights"]
    change = {"nights_per_week": 1, "seed": 0, "seconds": 0.2, "years": 10}
    assert isinstance(real.answer(real.done(Work.WHAT_IF, **change)), dict)


def test_a_plan_of_another_scenario_is_refused(real: Real) -> None:
    record = real.jobs.start(NewJob(real.scenario, Work.WHY, {"plan": "0" * 20, "target": "M 7"}))
    wait_for(lambda: real.storage.jobs.get(record.id).state in ENDED, 60)
    problem = real.storage.jobs.get(record.id).problem
    assert problem is not None
    assert problem["type"] == "/problems/no-such-thing"
