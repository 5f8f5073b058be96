from __future__ import annotations

from datetime import datetime
from typing import TypeAlias

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families as open_metrics_of
from prometheus_client.parser import text_string_to_metric_families as families_of

from api.metrics import Metrics
from api.storage import JobState, JobTally, Work

from .conftest import StartService
from .journeys import Answer, Service
from .stand_ins import StandInPlanner, no_work

Counted: TypeAlias = dict[tuple[str, tuple[tuple[str, str], ...]], float]


def counted(page: str) -> Counted:
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in families_of(page) for sample in family.samples
    }  # fmt: skip


def value_of(page: str, name: str, **labels: str) -> float:
    return counted(page).get((f"duskwright_{name}", tuple(sorted(labels.items()))), 0.0)


def test_requests_are_counted_by_method_route_and_class_of_status(service: Service) -> None:
    for address in ("/livez", "/livez", "/jobs/a", "/jobs/b", "/nowhere", "/elsewhere"):
        service.get(address)
    page = service.get("/metrics").text
    assert value_of(page, "requests_total", method="GET", route="/livez", status="2xx") == 2
    assert value_of(page, "requests_total", method="GET", route="/jobs/{job}", status="4xx") == 2
    assert value_of(page, "requests_total", method="GET", route="none", status="4xx") == 2
    labels = {"method": "GET", "route": "/livez", "status": "2xx"}
    assert value_of(page, "request_duration_seconds_count", **labels) == 2
    assert value_of(page, "request_duration_seconds_bucket", le="+Inf", **labels) == 2


def test_no_caller_makes_the_page_grow(service: Service) -> None:
    service.get("/jobs/x"), service.get("/x"), service.ask("BREW", "/x")
    before = counted(service.get("/metrics").text).keys()
    for turn in range(50):
        service.get(f"/jobs/{turn}"), service.get(f"/{turn}"), service.ask(f"BREW{turn}", f"/{turn}")
    grown = counted(service.get("/metrics").text).keys() - before
    assert {dict(labels)["route"] for _, labels in grown} <= {"/metrics"}


def test_refused_requests_are_counted_by_their_reason(start_service: StartService) -> None:
    service = start_service(body_bytes=1000)
    service.get("/livez", Host="rebound.example")
    service.ask("POST", "/scenarios", headers={"Origin": "https://elsewhere.example"})
    service.ask("POST", "/scenarios", content=b"x" * 1001)
    service.ask("POST", "/scenarios/x/plans", content=iter([b"x" * 600, b"x" * 600]),
                headers={"Content-Type": "application/json"})  # fmt: skip
    page = service.get("/metrics").text
    for reason, count in {"wrong-host": 1, "foreign-origin": 1, "body-too-large": 2}.items():
        assert value_of(page, "requests_refused_total", reason=reason) == count


def test_jobs_are_counted_as_they_stand_when_asked(service: Service, planner: StandInPlanner) -> None:
    assert value_of(service.get("/metrics").text, "jobs", work="plan", state="done") == 0
    service.planned(service.kept())
    planner.held = True
    job = service.started(service.kept())
    service.followed(job, {"at work"})
    page = service.get("/metrics").text
    states = {
        state: value_of(page, "jobs", work="plan", state=state) for state in ("done", "at work", "waiting")
    }
    assert states == {"done": 1, "at work": 1, "waiting": 0}
    planner.let_go.set()


def test_jobs_that_cannot_be_counted_hide_nothing_else(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks() -> tuple[JobTally, ...]:
        raise RuntimeError

    service.client.app.state.metrics.count_jobs(breaks)
    answer = service.get("/metrics")
    assert answer.status_code == 200
    assert "duskwright_info" in answer.text
    assert "duskwright_jobs{" not in answer.text


def test_jobs_are_counted_by_work_and_state_with_their_time(service: Service) -> None:
    job = service.ended(service.started(service.kept()))
    took_s = (datetime.fromisoformat(job["ended"]) - datetime.fromisoformat(job["started"])).total_seconds()
    page = service.get("/metrics").text
    assert value_of(page, "jobs", work="plan", state="done") == 1
    assert value_of(page, "jobs_seconds", work="plan", state="done") == pytest.approx(took_s, abs=0.01)


def test_odd_methods_count_as_one() -> None:
    metrics = Metrics("1")
    metrics.request_answered("BREW", "/x", 200, 0.1)
    page = metrics.page(None)[0].decode()
    assert value_of(page, "requests_total", method="other", route="/x", status="2xx") == 1


def media_type_of(answer: Answer) -> str:
    return str(answer.headers["content-type"]).partition(";")[0]


def test_who_accepts_open_metrics_gets_it(service: Service) -> None:
    service.get("/livez")
    plain = service.get("/metrics", Accept="text/plain")
    assert media_type_of(plain) == "text/plain"
    assert len(list(families_of(plain.text))) >= 6
    asked = service.get("/metrics", Accept="application/openmetrics-text; version=1.0.0")
    assert media_type_of(asked) == "application/openmetrics-text"
    assert "duskwright_requests" in {family.name for family in open_metrics_of(asked.text)}  # type: ignore[no-untyped-call]
    assert asked.text.endswith("# EOF\n")


def test_process_and_version_are_told_and_every_app_counts_for_itself(start_service: StartService) -> None:
    first, second = start_service(no_work), start_service(no_work)
    first.get("/livez")
    page = second.get("/metrics").text
    assert "process_resident_memory_bytes" in page
    assert "duskwright_info{version=" in page
    assert value_of(page, "requests_total", method="GET", route="/livez", status="2xx") == 0


def test_an_app_can_be_started_again(service: Service) -> None:
    app = service.client.app
    for count in (3, 4):
        tally = JobTally(Work.PLAN, JobState.DONE, count, 1.0)
        app.state.metrics.count_jobs(lambda tally=tally: (tally,))
    assert value_of(service.get("/metrics").text, "jobs", work="plan", state="done") == 4
