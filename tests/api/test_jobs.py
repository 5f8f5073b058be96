from __future__ import annotations

from pathlib import Path

import pytest

from scheduler.errors import PlanRejected

from .conftest import StartService
from .journeys import Service, assert_is_problem
from .stand_ins import StandInPlanner


def test_a_job_at_work_stops_soon_when_cancelled(service: Service, planner: StandInPlanner) -> None:
    planner.held = True
    scenario = service.kept()
    job = service.started(scenario)
    assert planner.began.wait(60)
    asked = service.ask("POST", f"{job}/cancel")
    assert asked.status_code == 202
    assert asked.json()["cancelling"]
    cancelled = service.ended(job, within_s=30)
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
    assert planner.began.wait(60)
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
    assert (job["state"], job["problem"]["type"]) == ("failed", "/problems/work-failed")
    assert "cellar" not in str(job)
    told = [entry.__dict__["told"] for entry in caplog.records if "reference" in getattr(entry, "told", {})]
    assert [entry["reference"] for entry in told] == [job["problem"]["reference"]]
    planner.fails_with = None
    assert service.ended(service.started(service.kept()))["state"] == "done"


def test_only_its_owner_reads_what_the_service_keeps(service: Service, tmp_path: Path) -> None:
    service.planned(service.kept())
    files = {path.name: path.stat().st_mode & 0o777 for path in tmp_path.glob("kept.sqlite3*")}
    assert set(files.values()) == {0o600}, files
    assert {"kept.sqlite3", "kept.sqlite3-work"} <= files.keys()


def test_stopping_the_service_hands_its_jobs_to_the_next_start(
    start_service: StartService, planner: StandInPlanner
) -> None:
    planner.held = True
    first = start_service()
    scenario = first.kept()
    at_work, waiting = first.started(scenario), first.started(scenario)
    assert planner.began.wait(60)
    first.client.__exit__(None, None, None)
    planner.held = False
    second = start_service()
    assert [second.ended(job)["state"] for job in (at_work, waiting)] == ["done", "done"]
