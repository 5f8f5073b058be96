from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI, Request

from api.guards import Guards
from api.limits import Limits
from api.problems import answer_with_problems

from .conftest import StartService
from .journeys import Service, assert_is_problem
from .stand_ins import TOML, WISH_LIST, StandInPlanner, no_work

ADDRESSES = ["/livez", "/readyz", "/clubs", "/docs", "/openapi.json", "/nowhere", "/jobs/nobody"]


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_answer_carries_the_standing_headers(service: Service, address: str) -> None:
    headers = service.get(address).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert headers["cross-origin-embedder-policy"] == "require-corp"
    assert "geolocation=()" in headers["permissions-policy"]
    assert headers["x-frame-options"] == "DENY"
    assert headers["x-permitted-cross-domain-policies"] == "none"
    assert "strict-transport-security" not in headers


def test_a_failure_carries_them_too(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_: object) -> None:
        raise RuntimeError("the secret of the cellar")

    monkeypatch.setattr(service.client.app.state.services.storage.scenarios, "page", breaks)
    answer = service.get(f"{service.club}/scenarios")
    assert_is_problem(answer, 500, "internal-error")
    assert answer.headers["cache-control"] == "no-store"
    assert "cellar" not in answer.text


@pytest.mark.parametrize("address", ADDRESSES)
def test_head_is_get_without_a_body(service: Service, address: str) -> None:
    got, headed = service.get(address), service.ask("HEAD", address)
    assert headed.content == b""
    assert headed.status_code == got.status_code
    theirs, ours = ({**dict(one.headers), "request-id": ""} for one in (headed, got))
    assert theirs == ours


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:9", "localhost:8075", "LOCALHOST", "[::1]:8075"])
def test_our_own_names_are_answered(service: Service, host: str) -> None:
    assert service.get("/livez", Host=host).status_code == 200


@pytest.mark.parametrize(
    "host", ["rebound.example", "rebound.example:8075", "127.0.0.1.example", "", "x@127.0.0.1"]
)
def test_another_hosts_name_is_refused(service: Service, host: str) -> None:
    assert_is_problem(service.get(f"{service.club}/scenarios", Host=host), 421, "wrong-host")


def test_pages_may_change_things_through_the_proxy_the_service_is_told_of(
    start_service: StartService,
) -> None:
    service = start_service(address="https://plans.example.org/sky", keys="required")
    known, other = (
        service.ask("POST", "/clubs", json={"name": "x"}, headers={"Origin": origin})
        for origin in ("https://plans.example.org", "https://plans.example.org.elsewhere.example")
    )
    assert_is_problem(known, 401, "key-needed")
    assert_is_problem(other, 403, "foreign-origin")


@pytest.mark.parametrize(
    "origin", ["https://elsewhere.example", "http://127.0.0.1:9999", "null", "https://127.0.0.1:8075"]
)
def test_a_page_from_elsewhere_changes_nothing(
    service: Service, planner: StandInPlanner, origin: str
) -> None:
    scenario = service.kept()
    answer = service.ask("POST", f"{scenario}/plans", headers={"Origin": origin})
    assert assert_is_problem(answer, 403, "foreign-origin")["origin"] == origin
    assert planner.asked == []


def test_our_own_pages_may_change_things(service: Service) -> None:
    answer = service.ask("POST", f"{service.kept()}/plans", headers={"Origin": "http://127.0.0.1:8075"})
    assert answer.status_code == 202


@pytest.mark.parametrize(
    ("method", "address", "allowed"),
    [
        ("PATCH", "/clubs", "GET, HEAD, POST"),
        ("POST", "/scenarios/x", "DELETE, GET, HEAD, PUT"),
        ("DELETE", "/jobs/x", "GET, HEAD"),
        ("GET", "/jobs/x/cancel", "POST"),
        ("PUT", "/openapi.json", "GET, HEAD"),
        ("OPTIONS", "/livez", "GET, HEAD"),
        ("BREW", "/livez", "GET, HEAD"),
    ],
)
def test_a_wrong_method_is_told_the_right_ones(
    service: Service, method: str, address: str, allowed: str
) -> None:
    answer = service.ask(method, address)
    assert_is_problem(answer, 405, "wrong-method")
    assert answer.headers["allow"] == allowed


@pytest.mark.parametrize("address", ["/nowhere", "/scenarios/", "/plans", "/jobs/a/b/c", "/redoc"])
def test_an_unknown_address_is_a_problem(service: Service, address: str) -> None:
    assert_is_problem(service.get(address), 404, "no-such-address")


def test_a_body_that_says_it_is_too_large_is_refused_unread(start_service: StartService) -> None:
    service = start_service(body_bytes=2000)
    problem = assert_is_problem(service.keep("x", TOML, WISH_LIST + b"x" * 2000), 413, "body-too-large")
    assert problem["detail"] == "a body may hold at most 2000 bytes"
    assert service.keep("x").status_code == 201


def test_a_body_that_hides_its_length_is_stopped_at_the_limit(start_service: StartService) -> None:
    service = start_service(body_bytes=2000)
    for kind, address in [
        ("application/json", "/scenarios/x/plans"),
        ("multipart/form-data; boundary=b", "/clubs"),
    ]:

        def pieces() -> Iterator[bytes]:
            yield b'--b\r\nContent-Disposition: form-data; name="name"\r\n\r\n'
            for _ in range(100):
                yield b"x" * 100

        answer = service.ask("POST", address, content=pieces(), headers={"Content-Type": kind})
        assert_is_problem(answer, 413, "body-too-large")


@pytest.mark.parametrize("length", [[], [(b"content-length", b"900")]])
def test_a_body_that_does_not_end_is_not_waited_for(length: list[tuple[bytes, bytes]]) -> None:
    """A stand-in for the server hands out a piece of the body and then nothing, for ever."""
    app = FastAPI()
    answer_with_problems(app, [])

    @app.post("/kept")
    async def kept(request: Request) -> int:
        return len(await request.body())

    answered: list[Any] = []
    pieces = [{"type": "http.request", "body": b"x", "more_body": True}]

    async def receive() -> Any:
        return pieces.pop() if pieces else await asyncio.Event().wait()

    async def send(message: Any) -> None:
        answered.append(message)

    guards = Guards(app, {"127.0.0.1"}, 1000, Limits(0), body_s=0.01)
    scope = {"type": "http", "method": "POST", "path": "/kept", "raw_path": b"/kept", "query_string": b"",
             "headers": [(b"host", b"127.0.0.1"), *length], "scheme": "http", "root_path": ""}  # fmt: skip
    asyncio.run(asyncio.wait_for(guards(scope, receive, send), 10))
    assert answered[0]["status"] == 408
    assert json.loads(answered[1]["body"])["type"] == "/problems/body-too-slow"


def test_a_name_from_the_settings_is_answered(start_service: StartService) -> None:
    service = start_service(host="192.0.2.7", hosts=("plans.example.org",), keys="required")
    for host in ("plans.example.org", "PLANS.example.org:443", "192.0.2.7:8075", "localhost"):
        assert service.get("/livez", Host=host).status_code == 200
    assert service.get("/livez", Host="other.example.org").status_code == 421
    v6 = start_service(no_work, host="2001:db8::1", keys="required")
    assert v6.get("/livez", Host="[2001:db8::1]:8075").status_code == 200


@pytest.mark.parametrize("stated", ["99999999999999999999999999", "9" * 5000])
def test_an_absurd_length_is_too_large(service: Service, stated: str) -> None:
    answer = service.ask("POST", f"{service.club}/scenarios", content=b"", headers={"Content-Length": stated})
    assert_is_problem(answer, 413, "body-too-large")
