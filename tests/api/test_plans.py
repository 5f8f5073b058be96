from __future__ import annotations

import csv
import io
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from .conftest import StartService
from .journeys import Service, assert_is_problem
from .stand_ins import StandInPlanner


def test_the_whole_journey_from_wish_list_to_schedule(service: Service, planner: StandInPlanner) -> None:
    planner.held = True
    scenario = service.kept()
    started = service.start(scenario, seed=7, seconds=2.5)
    assert started.status_code == 202
    assert started.headers["retry-after"] == "1"
    job = str(started.headers["location"])

    assert planner.began.wait(60)
    at_work = service.get(job)
    shown = at_work.json()
    assert (shown["state"], shown["cancelling"], shown["revision"]) == ("at work", False, 1)
    assert (shown["wish"]["seed"], shown["wish"]["seconds"]) == (7, 2.5)
    assert shown["progress"] == {
        "stage": "assigning targets to nights", "fraction": 0.5, "objective": 3.0, "bound": 4.5,
    }  # fmt: skip
    assert at_work.headers["retry-after"] == "1"
    assert "plan" not in shown["links"]

    planner.let_go.set()
    done = service.ended(job)
    assert done["state"] == "done"
    assert done["progress"] == {"stage": "done", "fraction": 1.0, "objective": 3.5, "bound": 4.0}
    assert done["created"] <= done["started"] <= done["ended"]
    assert "cancel" not in done["links"]
    assert "retry-after" not in service.get(job).headers

    plan = service.get(done["links"]["plan"])
    assert plan.json() == {
        "scenario": "winter-year", "version": 1, "seed": 7, "visits": [["M 13", "2026-09-12"]],
        "targets": [["M 13", 5], ["M 57", 3]], "odds": None,
    }  # fmt: skip
    assert planner.asked == [("winter-year", 1, 7, 2.5)]
    listed = service.get(f"{scenario}/plans").json()["items"]
    assert [(p["links"]["self"], p["objective"], p["bound"], p["visits"], p["unplaced"]) for p in listed] == [
        (done["links"]["plan"], 3.5, 4.0, 1, 1)
    ]


@pytest.mark.parametrize(
    ("name", "rows"),
    [
        ("schedule", [["target", "evening"], ["M 13", "2026-09-12"]]),
        ("nights", [["evening"], ["2026-09-12"]]),
        ("unplaced", [["target", "reason"], ["M 57", "every suitable night is full"]]),
    ],
)
def test_a_plan_is_read_as_csv(service: Service, name: str, rows: list[list[str]]) -> None:
    links = service.get(f"{service.kept()}/plans").json()
    assert links["items"] == []
    plan = service.planned(service.kept())
    answer = service.get(f"{plan}/{name}.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.headers["content-disposition"] == f'attachment; filename="{name}.csv"'
    # RFC 4180: every line, the header too, ends in CR LF.
    assert answer.content.count(b"\r\n") == answer.content.count(b"\n") == len(rows)
    assert list(csv.reader(io.StringIO(answer.text, newline=""))) == rows
    assert f'<{plan}/{name}.csv>; rel="alternate"; type="text/csv"' in service.get(plan).headers["link"]


def test_a_plan_is_not_sent_twice_to_who_has_it(service: Service) -> None:
    scenario = service.kept()
    first, second = service.planned(scenario), service.planned(scenario)
    for file in (
        "",
        "/schedule.csv",
        "/nights.csv",
        "/unplaced.csv",
        "/moon.csv",
        "/odds.csv",
        "/changes.csv",
    ):
        tag = str(service.get(first + file).headers["etag"])
        again = service.get(first + file, If_None_Match=tag)
        assert (again.status_code, again.content) == (304, b"")
        assert service.get(first + file, If_None_Match='"else"').status_code == 200
    assert service.get(second, If_None_Match=str(service.get(first).headers["etag"])).status_code == 200


def test_reading_a_plan_asks_no_planner(service: Service, planner: StandInPlanner) -> None:
    plan = service.planned(service.kept())
    asked = len(planner.asked)
    for file in (
        "",
        "/schedule.csv",
        "/nights.csv",
        "/unplaced.csv",
        "/moon.csv",
        "/odds.csv",
        "/changes.csv",
    ):
        assert service.get(plan + file).status_code == 200
    assert len(planner.asked) == asked == 1


def test_versions_count_the_plans_of_one_scenario(service: Service) -> None:
    one, other = service.kept("one"), service.kept("other")
    plans = [service.planned(scenario) for scenario in (one, other, one)]
    assert [service.get(plan).json()["version"] for plan in plans] == [1, 1, 2]


def test_plans_made_at_the_same_time_get_versions_of_their_own(
    start_service: StartService, planner: StandInPlanner
) -> None:
    service = start_service(workers=3)
    planner.held = True
    scenario = service.kept()
    jobs = [service.started(scenario, seed=seed) for seed in range(3)]
    for job in jobs:
        service.followed(job, {"at work"})
    planner.let_go.set()
    plans = [service.ended(job)["links"]["plan"] for job in jobs]
    assert sorted(service.get(plan).json()["version"] for plan in plans) == [1, 2, 3]
    assert [item["version"] for item in service.get(f"{scenario}/plans").json()["items"]] == [3, 2, 1]


def test_a_job_plans_the_scenario_as_it_stood_when_asked(service: Service, planner: StandInPlanner) -> None:
    planner.held = True
    blocker = service.started(service.kept("blocker"))
    scenario = service.kept()
    waiting = service.started(scenario)
    files = {"scenario_toml": ("s", b"title"), "wish_list_csv": ("w", b"target,priority\r\nM 101,1\r\n")}
    service.ask("PUT", scenario, data={"name": "new"}, files=files, headers={"If-Match": '"r1"'})
    planner.let_go.set()
    service.ended(blocker)
    job = service.ended(waiting)
    assert job["revision"] == 1
    assert service.get(job["links"]["plan"]).json()["visits"] == [["M 13", "2026-09-12"]]
    newer = service.planned(scenario)
    assert service.get(newer).json()["visits"] == [["M 101", "2026-09-12"]]
    assert [p["revision"] for p in service.get(f"{scenario}/plans").json()["items"]] == [2, 1]


def test_plans_come_in_pages(service: Service) -> None:
    scenario = service.kept()
    plans = [service.planned(scenario) for _ in range(3)]
    first = service.get(f"{scenario}/plans?limit=2").json()
    second = service.get(first["next"]).json()
    assert [p["links"]["self"] for p in first["items"] + second["items"]] == plans[::-1]
    assert second["next"] is None


def test_a_repeated_request_with_its_key_starts_nothing_new(
    service: Service, planner: StandInPlanner
) -> None:
    scenario = service.kept()
    first = service.start(scenario, key="try-1", seed=3)
    done = service.ended(str(first.headers["location"]))
    again = service.start(scenario, key="try-1", seed=3)
    assert (again.status_code, again.headers["location"]) == (202, first.headers["location"])
    assert again.json() == done
    other = service.start(scenario, key="try-2", seed=3)
    assert other.headers["location"] != first.headers["location"]
    service.ended(str(other.headers["location"]))
    assert len(planner.asked) == 2


def test_a_repeated_request_to_follow_the_newest_starts_nothing_new(
    service: Service, planner: StandInPlanner
) -> None:
    scenario = service.kept()
    for key in ("when there was none", "when there was one"):
        first = service.start(scenario, key=key, after="newest")
        done = service.ended(str(first.headers["location"]))
        again = service.start(scenario, key=key, after="newest")
        assert (again.status_code, again.json()) == (202, done)
    assert len(planner.asked) == 2
    other = service.start(scenario, key=key, after=done["links"]["plan"].rpartition("/")[2])
    assert_is_problem(other, 422, "key-reused")


@pytest.mark.parametrize("wish", [{"seed": 4}, {"seed": 3, "seconds": 1}])
def test_a_key_cannot_be_used_for_another_request(service: Service, wish: dict[str, float]) -> None:
    scenario = service.kept()
    service.start(scenario, key="k", seed=3)
    problem = assert_is_problem(service.start(scenario, key="k", **wish), 422, "key-reused")
    assert problem["key"] == "k"
    assert_is_problem(service.start(service.kept(), key="k", seed=3), 422, "key-reused")


def test_simultaneous_requests_with_one_key_start_one_job(service: Service, planner: StandInPlanner) -> None:
    scenario = service.kept()
    with ThreadPoolExecutor(8) as pool:
        started = list(pool.map(lambda _: service.start(scenario, key="same"), range(8)))
    assert {answer.status_code for answer in started} == {202}
    locations = {str(answer.headers["location"]) for answer in started}
    assert len(locations) == 1
    service.ended(locations.pop())
    assert len(planner.asked) == 1


@pytest.mark.parametrize("key", ["", "k" * 201])
def test_a_key_of_no_use_is_refused(service: Service, key: str) -> None:
    problem = assert_is_problem(service.start(service.kept(), key=key), 422, "invalid-request")
    assert problem["errors"][0]["parameter"].lower() == "idempotency-key"


def test_the_server_grants_the_solver_no_more_than_its_limit(
    start_service: StartService, planner: StandInPlanner
) -> None:
    service = start_service(plan_seconds=5)
    job = service.ended(service.started(service.kept(), seconds=900))
    assert job["wish"]["seconds"] == planner.asked[0][3] == 5.0


@pytest.mark.parametrize(
    ("wish", "pointers"),
    [
        ({"seed": -1}, {"#/seed"}),
        ({"seed": "one", "seconds": 0}, {"#/seed", "#/seconds"}),
        ({"sead": 1}, {"#/sead"}),
        ({"seconds": "NaN"}, {"#/seconds"}),
        ({"seed": 1.5}, {"#/seed"}),
    ],
)
def test_a_wish_that_cannot_be_is_refused_with_pointers(
    service: Service, wish: dict[str, Any], pointers: set[str]
) -> None:
    problem = assert_is_problem(service.start(service.kept(), **wish), 422, "invalid-request")
    assert {entry["pointer"] for entry in problem["errors"]} == pointers


@pytest.mark.parametrize("body", [b"{", b'{"seed": 1', b"\xff", b'"seed', b"{'seed': 1}"])
def test_a_body_that_is_no_json_is_refused(service: Service, body: bytes) -> None:
    headers = {"Content-Type": "application/json"}
    answer = service.ask("POST", f"{service.kept()}/plans", content=body, headers=headers)
    assert_is_problem(answer, 400, "malformed-request")


@pytest.mark.parametrize("options", [{"content": b'{"seed": 1}'}, {"data": {"seed": "1"}}])
def test_a_wish_of_another_type_is_refused(service: Service, options: dict[str, object]) -> None:
    answer = service.ask("POST", f"{service.kept()}/plans", **options)
    assert assert_is_problem(answer, 415, "wrong-media-type")["expected"] == "application/json"


def test_a_scenario_nobody_keeps_cannot_be_planned(service: Service) -> None:
    assert_is_problem(service.start("/scenarios/nowhere"), 404, "no-such-thing")
    assert_is_problem(service.get("/scenarios/nowhere/plans"), 404, "no-such-thing")


def test_a_full_queue_refuses_more_until_there_is_room(
    start_service: StartService, planner: StandInPlanner
) -> None:
    service = start_service(waiting_jobs=2)
    planner.held = True
    scenario = service.kept()
    jobs = [service.started(scenario), service.started(scenario)]
    refused = service.start(scenario)
    assert assert_is_problem(refused, 429, "too-many-jobs")["limit"] == 2
    assert int(refused.headers["retry-after"]) > 0
    planner.let_go.set()
    for job in jobs:
        service.ended(job)
    assert service.start(scenario).status_code == 202


def test_jobs_asked_for_by_many_threads_are_all_done(start_service: StartService) -> None:
    service, scenarios = start_service(workers=2), 6
    kept = [service.kept(f"year-{number}") for number in range(scenarios)]
    with ThreadPoolExecutor(8) as pool:
        jobs = list(pool.map(service.started, kept * 4))
    plans = {service.ended(job)["links"]["plan"] for job in jobs}
    assert len(set(jobs)) == len(plans) == scenarios * 4
    for scenario in kept:
        items = service.get(f"{scenario}/plans").json()["items"]
        assert [item["version"] for item in items] == [4, 3, 2, 1]
