from __future__ import annotations

from collections.abc import Iterator

import pytest

from .conftest import StartService
from .journeys import Service, assert_is_problem
from .stand_ins import TOML, WISH_LIST, StandInPlanner

ADDRESSES = ["/livez", "/readyz", "/scenarios", "/docs", "/openapi.json", "/nowhere", "/jobs/nobody"]


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_answer_carries_the_standing_headers(service: Service, address: str) -> None:
    headers = service.get(address).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"


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
    assert headed.headers == got.headers


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:9", "localhost:8075", "LOCALHOST", "[::1]:8075"])
def test_our_own_names_are_answered(service: Service, host: str) -> None:
    assert service.get("/livez", Host=host).status_code == 200


@pytest.mark.parametrize(
    "host", ["rebound.example", "rebound.example:8075", "127.0.0.1.example", "", "x@127.0.0.1"]
)
def test_another_hosts_name_is_refused(service: Service, host: str) -> None:
    assert_is_problem(service.get(f"{service.club}/scenarios", Host=host), 421, "wrong-host")


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
        ("PATCH", "/scenarios", "GET, HEAD, POST"),
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
        ("multipart/form-data; boundary=b", "/scenarios"),
    ]:

        def pieces() -> Iterator[bytes]:
            yield b'--b\r\nContent-Disposition: form-data; name="name"\r\n\r\n'
            for _ in range(100):
                yield b"x" * 100

        answer = service.ask("POST", address, content=pieces(), headers={"Content-Type": kind})
        assert_is_problem(answer, 413, "body-too-large")


@pytest.mark.parametrize("stated", ["99999999999999999999999999", "9" * 5000])
def test_an_absurd_length_is_too_large(service: Service, stated: str) -> None:
    answer = service.ask("POST", f"{service.club}/scenarios", content=b"", headers={"Content-Length": stated})
    assert_is_problem(answer, 413, "body-too-large")
