from __future__ import annotations

import logging
import time
from pathlib import Path

import pytest

from api.jobs import ThreadJobs, _Reporter
from api.storage import JobState, NewJob, NewScenario, ScenarioFiles, Storage
from scheduler.domain import Progress
from scheduler.errors import InvalidValue, PlanRejected

from .conftest import StartService
from .journeys import Service, assert_is_problem
from .stand_ins import TOML, WISH_LIST, StandInPlanner, read_scenario


@pytest.fixture
def storage(tmp_path: Path) -> Storage:
    return Storage(tmp_path / "jobs.sqlite3")


def kept_in(storage: Storage) -> str:
    scenario = read_scenario("winter-year", TOML, WISH_LIST)
    files = ScenarioFiles(TOML, WISH_LIST)
    season = scenario.season
    return storage.scenarios.add(NewScenario("winter-year", "", 2, season.start, season.nights, files)).id


def test_a_job_at_work_stops_soon_when_cancelled(service: Service, planner: StandInPlanner) -> None:
    planner.held = True
    scenario = service.kept()
    job = service.started(scenario)
    assert planner.began.wait(10)
    asked = service.ask("POST", f"{job}/cancel")
    assert asked.status_code == 202
    assert asked.json()["cancelling"]
    cancelled = service.ended(job, within_s=2)
    assert (cancelled["state"], cancelled["problem"]) == ("cancelled", None)
    assert "plan" not in cancelled["links"]
    assert service.get(f"{scenario}/plans").json()["items"] == []


def test_a_waiting_job_never_begins_once_cancelled(service: Service, planner: StandInPlanner) -> None:
    planner.held = True
    at_work, waiting = service.started(service.kept("first")), service.started(service.kept("second"))
    assert service.ask("POST", f"{waiting}/cancel").json()["state"] == "cancelled"
    planner.let_go.set()
    assert service.ended(at_work)["state"] == "done"
    last = service.started(service.kept("third"))
    assert service.ended(last)["state"] == "done"
    assert service.get(waiting).json()["started"] is None
    assert [asked[0] for asked in planner.asked] == ["first", "third"]


def test_nothing_is_kept_of_a_cancelled_job_whose_planner_did_not_listen(
    service: Service, planner: StandInPlanner
) -> None:
    planner.held = planner.deaf = True
    scenario = service.kept()
    job = service.started(scenario)
    assert planner.began.wait(10)
    service.ask("POST", f"{job}/cancel")
    planner.let_go.set()
    assert service.ended(job)["state"] == "cancelled"
    assert service.get(f"{scenario}/plans").json()["items"] == []


def test_cancelling_twice_is_no_fault_and_a_done_job_cannot_be(service: Service) -> None:
    scenario = service.kept()
    done = service.started(scenario)
    service.ended(done)
    problem = assert_is_problem(service.ask("POST", f"{done}/cancel"), 409, "already-ended")
    assert problem["state"] == "done"
    assert_is_problem(service.ask("POST", "/jobs/nobody/cancel"), 404, "no-such-thing")


def test_a_cancelled_job_may_be_cancelled_again(service: Service, planner: StandInPlanner) -> None:
    planner.held = True
    service.started(service.kept())
    waiting = service.started(service.kept())
    answers = [service.ask("POST", f"{waiting}/cancel") for _ in range(2)]
    assert [(a.status_code, a.json()["state"]) for a in answers] == [(202, "cancelled")] * 2


def test_a_planner_that_fails_says_why(service: Service, planner: StandInPlanner) -> None:
    planner.fails_with = PlanRejected(("two visits at once",))
    job = service.ended(service.started(service.kept()))
    assert job["state"] == "failed"
    assert job["problem"]["type"] == "/problems/plan-rejected"
    assert job["problem"]["errors"] == [{"detail": "two visits at once"}]


def test_a_planner_that_breaks_fails_its_job_and_no_other(
    service: Service, planner: StandInPlanner, caplog: pytest.LogCaptureFixture
) -> None:
    planner.fails_with = ZeroDivisionError("the secret of the cellar")
    job = service.ended(service.started(service.kept()))
    assert (job["state"], job["problem"]["type"]) == ("failed", "/problems/internal-error")
    assert "cellar" not in str(job)
    assert job["problem"]["instance"] in caplog.text
    assert "cellar" in caplog.text
    planner.fails_with = None
    assert service.ended(service.started(service.kept()))["state"] == "done"


def test_a_file_the_reader_no_longer_accepts_fails_the_job(tmp_path: Path, storage: Storage) -> None:
    """A newer version may read more strictly than the one that kept the scenario."""
    planner = StandInPlanner()
    scenario = kept_in(storage)
    jobs = ThreadJobs(storage, planner.door)
    season = read_scenario("x", TOML, WISH_LIST).season
    emptied = NewScenario("x", "", 0, season.start, 1, ScenarioFiles(b"", b"target,priority\r\n"))
    storage.scenarios.replace(scenario, emptied, None)
    job = jobs.start(NewJob(scenario, 0, 1.0))
    deadline = time.monotonic() + 10
    while not storage.jobs.get(job.id).state.ended and time.monotonic() < deadline:
        time.sleep(0.01)
    jobs.close()
    record = storage.jobs.get(job.id)
    storage.close()
    assert record.state is JobState.FAILED
    assert record.problem is not None
    assert record.problem["type"] == "/problems/scenario-faults"


def test_stopping_the_service_ends_its_jobs_as_interrupted(
    start_service: StartService, planner: StandInPlanner
) -> None:
    planner.held = True
    first = start_service()
    scenario = first.kept()
    at_work, waiting = first.started(scenario), first.started(scenario)
    assert planner.began.wait(10)
    first.client.__exit__(None, None, None)
    second = start_service()
    for job in (at_work, waiting):
        seen = second.get(job).json()
        assert seen["state"] == "failed"
        assert seen["problem"]["type"] == "/problems/interrupted"
        assert seen["ended"] is not None
    planner.held = False
    assert second.ended(second.started(scenario))["state"] == "done"


def test_closing_waits_for_nothing_but_the_job_at_work(storage: Storage) -> None:
    planner = StandInPlanner(held=True)
    jobs = ThreadJobs(storage, planner.door)
    scenario = kept_in(storage)
    started = [jobs.start(NewJob(scenario, 0, 1.0)).id for _ in range(3)]
    assert planner.began.wait(10)
    jobs.close()
    records = [storage.jobs.get(job) for job in started]
    storage.close()
    assert len(planner.asked) == 1
    assert [record.started is not None for record in records] == [True, False, False]
    assert [record.state for record in records] == [JobState.FAILED] * 3
    assert {record.problem["type"] for record in records if record.problem} == {"/problems/interrupted"}


@pytest.mark.parametrize("begun", [False, True])
def test_a_job_left_by_a_dead_process_is_marked_interrupted(tmp_path: Path, begun: bool) -> None:
    dead = Storage(tmp_path / "kept.sqlite3")
    scenario = kept_in(dead)
    job, _ = dead.jobs.add(NewJob(scenario, 0, 1.0), 9)
    if begun:
        dead.jobs.begin(job.id)
        dead.jobs.report(job.id, "assigning", 0.4, 1.0, 2.0)
    dead.close()
    storage = Storage(tmp_path / "kept.sqlite3")
    jobs = ThreadJobs(storage, StandInPlanner().door)
    record = storage.jobs.get(job.id)
    jobs.close()
    storage.close()
    assert record.state is JobState.FAILED
    assert record.problem is not None
    assert record.problem["type"] == "/problems/interrupted"
    assert record.ended is not None
    assert record.fraction == (0.4 if begun else 0.0)


def test_a_job_asked_to_stop_by_a_dead_process_is_cancelled(storage: Storage) -> None:
    job, _ = storage.jobs.add(NewJob(kept_in(storage), 0, 1.0), 9)
    storage.jobs.begin(job.id)
    storage.jobs.ask_cancel(job.id)
    ThreadJobs(storage, StandInPlanner().door).close()
    record = storage.jobs.get(job.id)
    storage.close()
    assert (record.state, record.problem) == (JobState.CANCELLED, None)


def test_a_new_stage_is_told_at_once_and_small_steps_a_few_times_a_second(storage: Storage) -> None:
    job, _ = storage.jobs.add(NewJob(kept_in(storage), 0, 1.0), 9)
    storage.jobs.begin(job.id)
    report = _Reporter(storage, job.id)
    seen = []
    for stage, fraction in [
        ("one", 0.1),
        ("one", 0.2),
        ("one", 0.3),
        ("two", 0.4),
        ("two", 7.0),
        ("three", 7.0),
    ]:
        report(Progress(stage, fraction))
        record = storage.jobs.get(job.id)
        seen.append((record.stage, record.fraction))
    storage.close()
    assert seen == [("one", 0.1)] * 3 + [("two", 0.4)] * 2 + [("three", 1.0)]


def test_an_end_that_cannot_be_kept_is_logged(
    storage: Storage, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    planner = StandInPlanner(fails_with=InvalidValue("x", 1, "2"))
    jobs = ThreadJobs(storage, planner.door)

    def full_disk(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(storage.jobs, "stop", full_disk)
    jobs.start(NewJob(kept_in(storage), 0, 1.0))
    assert planner.began.wait(10)
    with caplog.at_level(logging.ERROR):
        jobs.close()
    storage.close()
    assert "the end of a job could not be kept" in caplog.text
