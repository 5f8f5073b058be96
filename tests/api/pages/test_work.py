"""The page of a job at work: how far it is, how to stop it, where its end leads."""

from __future__ import annotations

from pathlib import Path

import pytest

from api.auth import made_key
from api.kinds import kind_of
from api.storage import NewJob, NewKey, Role, Work
from scheduler.errors import PlanRejected

from ..conftest import StartService
from ..journeys import Service
from ..stand_ins import StandInPlanner
from .desk import a_desk
from .test_front import HTML, storage_of


@pytest.fixture
def service(start_service: StartService) -> Service:
    return start_service()


def shown(service: Service, job: str) -> str:
    answer = service.ask("GET", job.replace("/jobs/", "/progress/"), headers=HTML, follow_redirects=False)
    assert answer.status_code == 200
    return answer.text


def begun(service: Service, planner: StandInPlanner) -> str:
    """Start a plan that waits, and return its job's address."""
    planner.held = True
    job = service.started(service.kept())
    assert planner.began.wait(60)
    return job


def test_a_job_at_work_tells_its_stage_and_how_far_it_is(service: Service, planner: StandInPlanner) -> None:
    job = begun(service, planner)
    service.followed(job, {"at work"})
    text = shown(service, job)
    assert "Planning the year" in text
    assert '<progress id="done" max="1" value="' in text
    assert 'role="status"' in text
    assert '<noscript><meta http-equiv="refresh" content="10"></noscript>' in text
    assert f'action="{job.replace("/jobs/", "/progress/")}/cancel"' in text


def test_cancelling_leads_back_to_the_page_which_tells_its_end(
    service: Service, planner: StandInPlanner
) -> None:
    job = begun(service, planner)
    page = job.replace("/jobs/", "/progress/")
    pressed = service.ask("POST", f"{page}/cancel", headers=HTML, follow_redirects=False)
    assert (pressed.status_code, pressed.headers["location"]) == (303, page)
    assert service.ended(job)["state"] == "cancelled"
    text = shown(service, job)
    assert "Cancelled. Nothing of it was kept." in text
    assert "Plan again" in text
    assert "refresh" not in text


def test_a_failed_job_tells_the_problem_and_its_remedy(service: Service, planner: StandInPlanner) -> None:
    planner.fails_with = PlanRejected(("<b>two visits</b> at once",))
    job = service.started(service.kept())
    assert service.ended(job)["state"] == "failed"
    text = shown(service, job)
    problem = storage_of(service).jobs.get(job.rpartition("/")[2]).problem
    assert problem is not None
    assert problem["title"] in text
    assert "<b>two" not in text
    assert kind_of(PlanRejected(())).advice in text.replace("&#39;", "'")


def test_a_done_job_leads_to_its_year_also_when_it_is_cancelled_too_late(service: Service) -> None:
    scenario = service.kept()
    job = service.started(scenario)
    service.ended(job)
    page, year = job.replace("/jobs/", "/progress/"), scenario.replace("/scenarios/", "/year/")
    led = service.ask("GET", page, headers=HTML, follow_redirects=False)
    assert (led.status_code, led.headers["location"]) == (303, year)
    late = service.ask("POST", f"{page}/cancel", headers=HTML, follow_redirects=False)
    assert (late.status_code, late.headers["location"]) == (303, page)


def test_a_plan_made_anew_leads_to_what_it_changed(service: Service) -> None:
    scenario = service.kept()
    service.planned(scenario)
    job = service.started(scenario, after="newest")
    plan = service.ended(job)["links"]["plan"]
    led = service.ask("GET", job.replace("/jobs/", "/progress/"), headers=HTML, follow_redirects=False)
    assert led.headers["location"] == plan.replace("/plans/", "/changes/")


def test_a_question_has_a_page_of_its_own(service: Service) -> None:
    scenario = service.kept()
    service.planned(scenario)
    asked = service.ask("POST", f"{scenario}/prices", json={})
    assert asked.status_code == 202, asked.text
    job = asked.headers["location"]
    led = service.ask("GET", job.replace("/jobs/", "/progress/"), headers=HTML, follow_redirects=False)
    assert led.headers["location"] == job.replace("/jobs/", "/answer/")


def test_a_hostile_name_is_only_a_name(service: Service, planner: StandInPlanner) -> None:
    planner.held = True
    job = service.started(
        service.kept(
            "<script>alert(1)</script>",
        )
    )
    storage = storage_of(service)
    record = storage.jobs.get(job.rpartition("/")[2])
    assert storage.scenarios.get(record.scenario).name == "<script>alert(1)</script>"
    assert "<script>alert" not in shown(service, job)


def test_there_is_no_page_of_no_job(service: Service) -> None:
    assert service.ask("GET", f"/progress/{'0' * 20}", headers=HTML).status_code == 404
    assert service.ask("POST", f"/progress/{'0' * 20}/cancel", headers=HTML).status_code == 404


def test_nobody_is_offered_what_is_refused_to_them(tmp_path: Path) -> None:
    with a_desk(tmp_path, keys="required") as desk:
        club = desk.storage.scenarios.get(desk.scenario).club
        waits, ended = (desk.storage.jobs.add(NewJob(desk.scenario, Work.PLAN, {}), 9)[0].id for _ in "ab")
        desk.storage.jobs.stop(ended, {"type": "/problems/plan-rejected"})
        offered = {}
        for role in (Role.READER, Role.MEMBER, Role.PLANNER):
            token = made_key(desk.storage, NewKey(club, role, "a phone"))[1]
            desk.headers = {"Authorization": f"Bearer {token}"}
            shown = [desk.get(f"/progress/{job}").text for job in (waits, ended)]
            offered[role.value] = ">Cancel<" in shown[0], ">Plan again<" in shown[1]
        assert offered == {"reader": (False, False), "member": (True, False), "planner": (True, True)}
