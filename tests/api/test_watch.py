from __future__ import annotations

import asyncio
import io
import logging
import re
from collections.abc import Iterator
from contextlib import nullcontext
from typing import Any

import pytest
from fastapi import Request

from api.logs import set_up_logging
from api.metrics import Metrics
from api.watch import Watch

from .conftest import StartService
from .journeys import Service, assert_is_problem, files_of
from .stand_ins import StandInPlanner
from .test_logs import SECRET, lines

ID = re.compile(r"[0-9a-f]{16}")


@pytest.fixture
def log(stream: io.StringIO) -> Iterator[io.StringIO]:
    set_up_logging("json", stream)
    yield stream
    logging.root.handlers[:] = []


def break_storage(service: Service, monkeypatch: pytest.MonkeyPatch, words: str = SECRET) -> None:
    def breaks(*_: object) -> None:
        raise RuntimeError(words)

    monkeypatch.setattr(service.client.app.state.services.storage.scenarios, "page", breaks)
    monkeypatch.setattr(service.client.app.state.services.storage.scenarios, "add", breaks)


def test_every_answer_names_its_request_and_no_two_alike(service: Service) -> None:
    named = [service.get(address).headers["request-id"] for address in ("/livez", "/docs", "/nowhere") * 3]
    assert all(ID.fullmatch(name) for name in named)
    assert len(set(named)) == len(named)


@pytest.mark.parametrize(
    ("method", "address", "headers", "status"),
    [
        ("GET", "/nowhere", {}, 404),
        ("GET", "/jobs/nobody", {}, 404),
        ("PATCH", "/clubs", {}, 405),
        ("GET", "/clubs?limit=x", {}, 422),
        ("GET", "/livez", {"Host": "rebound.example"}, 421),
        ("POST", "/scenarios", {"Origin": "https://elsewhere.example"}, 403),
        ("POST", "/scenarios", {"Content-Length": "999999999"}, 413),
        ("GET", "CLUB/scenarios", {}, 500),
    ],
)
def test_every_problem_names_its_request_on_every_road(
    service: Service,
    monkeypatch: pytest.MonkeyPatch,
    method: str,
    address: str,
    headers: dict[str, str],
    status: int,
) -> None:
    address = address.replace("CLUB", service.club)
    if status == 500:
        break_storage(service, monkeypatch)
    answer = service.ask(method, address, headers={**headers, "X-Request-ID": "mine"})
    assert answer.status_code == status
    assert answer.json()["request"] == answer.headers["request-id"] != "mine"


def test_a_problem_kept_with_a_job_names_no_request(service: Service, planner: StandInPlanner) -> None:
    planner.fails_with = RuntimeError(SECRET)
    job = service.ended(service.started(service.kept()))
    assert job["state"] == "failed"
    assert "request" not in job["problem"]


def test_the_log_tells_what_a_request_was(service: Service, log: io.StringIO) -> None:
    answer = service.get("/jobs/nobody", X_Request_ID="my-own.id_1")
    (told,) = lines(log)
    assert told.pop("duration_ms") >= 0
    told.pop("time")
    assert told == {
        "level": "info", "event": "request", "request": answer.headers["request-id"],
        "client_request": "my-own.id_1", "method": "GET", "route": "/jobs/{job}", "status": 404,
        "bytes": len(answer.content),
    }  # fmt: skip


def test_the_key_a_request_came_with_is_told_by_its_id(service: Service, log: io.StringIO) -> None:
    def with_key(request: Request) -> str:
        request.state.key_id = "k1"
        return "welcome"

    service.client.app.add_api_route("/keyed", with_key)
    assert service.get("/keyed").status_code == 200
    assert lines(log)[-1]["key"] == "k1"


@pytest.mark.parametrize("theirs", ["", "a" * 65, "a b", "a\tb", "é", '"', "{}"])
def test_an_odd_name_from_outside_is_not_kept(service: Service, log: io.StringIO, theirs: str) -> None:
    service.ask("GET", "/livez", headers={"X-Request-ID": theirs.encode()})
    assert "client_request" not in lines(log)[0]


@pytest.mark.parametrize("method", ["GET", "HEAD"])
@pytest.mark.parametrize(
    ("address", "route"),
    [("/livez", "/livez"), ("/openapi.json", "/openapi.json"), ("/nowhere", "none"),
     ("/plans/x", "/plans/{plan}"),
     ("/plans/x/odds.csv", "/plans/{plan}/odds.csv")],
)  # fmt: skip
def test_a_route_is_told_by_its_template(
    service: Service, log: io.StringIO, method: str, address: str, route: str
) -> None:
    service.ask(method, address)
    assert [(line["method"], line["route"]) for line in lines(log)] == [(method, route)]


@pytest.mark.parametrize("form", ["text", "json"])
def test_no_secret_reaches_the_log_on_any_road(
    start_service: StartService, planner: StandInPlanner, stream: io.StringIO, form: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    service = start_service(body_bytes=3000)
    set_up_logging(form, stream)
    club, scenario, toml = service.club, service.kept(), SECRET.encode() * 3
    everywhere: dict[str, Any] = {
        "params": {"token": SECRET, "limit": SECRET},
        "headers": {"Authorization": f"Bearer {SECRET}", "Idempotency-Key": SECRET, "Referer": SECRET,
                    "User-Agent": SECRET, "If-Match": f'"{SECRET}"', "X-Request-ID": f"{SECRET} !"},
    }  # fmt: skip
    service.client.cookies.set("kept", SECRET)

    def sent_everywhere() -> None:
        for path in (f"{club}/scenarios", scenario, f"{scenario}/plans", f"/plans/{SECRET}",
                     f"/{SECRET}/{SECRET}", f"/jobs/{SECRET}/cancel", "/livez", "/metrics",
                     f"/problems/{SECRET}", f"/docs;{SECRET}"):  # fmt: skip
            for method in ("GET", "HEAD", "POST", "PUT", "DELETE", SECRET.replace("-", "").upper()):
                service.ask(method, path, **everywhere)
                service.ask(method, path, content=SECRET, **everywhere)
                service.ask(method, path, data={"name": SECRET}, files=files_of(toml, toml), **everywhere)
            for name in ("Host", "Origin"):
                service.ask("POST", path, headers={name: f"http://{SECRET}"})
            service.ask("POST", path, content=SECRET * 999)
            service.ask("GET", path, headers=everywhere["headers"])
            service.keep(SECRET)

    sent_everywhere()
    service.ask("POST", f"{service.kept(SECRET)}/plans", headers={"Idempotency-Key": SECRET})
    planner.fails_with = RuntimeError(f"{SECRET} broke")
    assert service.ended(service.started(service.kept()))["state"] == "failed"
    break_storage(service, monkeypatch)
    monkeypatch.setattr(service.client.app.state.services.jobs, "cancel", lambda job: 1 / len(job[99:]))
    sent_everywhere()
    logged = stream.getvalue()
    assert logged.count("unforeseen error") > 10  # lists, additions, a cancelling, a job
    assert len(logged.splitlines()) > 300
    for secret in (SECRET, SECRET.replace("-", "").upper(), scenario.rpartition("/")[2]):
        assert secret not in logged


def test_an_answered_failure_is_logged_once_and_an_unanswered_one_goes_on(
    service: Service, log: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    club = service.club
    log.seek(0)
    log.truncate()
    break_storage(service, monkeypatch)
    problem = assert_is_problem(service.get(f"{club}/scenarios"), 500, "internal-error")
    assert [line["event"].startswith(problem["instance"]) for line in lines(log)] == [True, False]
    assert {line["request"] for line in lines(log)} == {problem["request"]}
    assert lines(log)[-1]["status"] == 500


@pytest.mark.parametrize("whole", [True, False])
def test_a_failure_goes_on_to_the_server_only_where_the_answer_is_not_whole(whole: bool) -> None:
    async def app(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 500, "headers": []})
        await send({"type": "http.response.body", "body": b"sorry", "more_body": not whole})
        raise RuntimeError

    async def nothing(*_: Any) -> Any:
        return None

    scope = {"type": "http", "method": "GET", "path": "/", "headers": []}
    answer = Watch(app, Metrics("1"))(scope, nothing, nothing)
    with nullcontext() if whole else pytest.raises(RuntimeError):
        asyncio.run(asyncio.wait_for(answer, 10))
