from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256
from html.parser import HTMLParser
from typing import Any

import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from api.pages import PAGES

from .journeys import Service, assert_is_problem
from .test_auth import NEEDED, operations

OPERATIONS = set(NEEDED) - set(operations(PAGES)) - {"GET /docs"}


@pytest.fixture
def described(service: Service) -> dict[str, Any]:
    found: dict[str, Any] = service.get("/openapi.json").json()
    return found


def operations_of(described: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {
        f"{method.upper()} {path}": operation
        for path, methods in described["paths"].items()
        for method, operation in methods.items()
    }


def test_the_description_is_valid_openapi_3_1(described: dict[str, Any]) -> None:
    assert described["openapi"].startswith("3.1.")
    assert list(OpenAPIV31SpecValidator(described).iter_errors()) == []


def test_every_operation_is_described_once_in_words(described: dict[str, Any]) -> None:
    operations = operations_of(described)
    assert set(operations) == OPERATIONS
    ids = [operation["operationId"] for operation in operations.values()]
    assert len(set(ids)) == len(ids)
    assert all(operation["description"].endswith((".", "`")) for operation in operations.values())


def test_every_refusal_is_described_as_a_problem(described: dict[str, Any]) -> None:
    for name, operation in operations_of(described).items():
        for status, answer in operation["responses"].items():
            if status[0] in "45d":
                assert list(answer["content"]) == ["application/problem+json"], (name, status)
    assert "HTTPValidationError" not in described["components"]["schemas"]


def test_the_shapes_hold_examples(described: dict[str, Any]) -> None:
    for name in ("ScenarioShape", "PlanWish", "JobShape", "PlanShape", "Problem"):
        members = described["components"]["schemas"][name]["properties"]
        assert any("examples" in member for member in members.values()), name


class Links(HTMLParser):
    """Collects everything a page may make a browser fetch or run."""

    def __init__(self) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.addresses += [
            value or "" for name, value in attrs if name in {"src", "href", "action", "srcset"}
        ]


def test_the_page_asks_nothing_of_the_outside(service: Service) -> None:
    page = service.get("/docs")
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    links = Links()
    links.feed(page.text)
    assert {address for address in links.addresses if address[0] != "#"} == {"/openapi.json"}
    assert {address[1:] for address in links.addresses if address[0] == "#"} <= set(
        re.findall(r'id="([^"]+)"', page.text)
    )
    assert not links.tags & {"script", "link", "img", "iframe", "object", "embed", "base", "form"}
    assert not any(name.startswith("on") or name == "style" for name in links.attributes)
    style = page.text.partition("<style>")[2].partition("</style>")[0]
    assert not re.search(r"(?i)https?:|//[a-z]|url\(|@import", style)


def test_the_pages_own_style_is_the_only_one_allowed(service: Service) -> None:
    page = service.get("/docs")
    style = page.text.partition("<style>")[2].partition("</style>")[0]
    digest = b64encode(sha256(style.encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in page.headers["content-security-policy"]


def test_the_page_names_every_operation_and_every_problem(
    service: Service, described: dict[str, Any]
) -> None:
    page = service.get("/docs").text
    for name in OPERATIONS:
        method, path = name.split()
        assert f"{method} <code>{path}</code>" in page
    assert page.count("<section") == len(OPERATIONS) + 1
    assert "scenario-faults" in page
    assert "no-such-address" in page


def test_livez_and_readyz_tell_how_the_service_is(service: Service) -> None:
    assert service.get("/livez").json() == {"status": "alive"}
    assert service.get("/readyz").json() == {"status": "ready"}
    service.client.app.state.services.jobs._closing.set()
    stopping = service.get("/readyz")
    assert assert_is_problem(stopping, 503, "not-ready")["reason"] == "the service is stopping"
    assert service.get("/livez").status_code == 200


def test_the_bare_address_shows_a_page_that_leads_there(service: Service) -> None:
    front = service.ask("GET", "/", follow_redirects=False)
    assert front.status_code == 200
    assert 'href="/docs"' in front.text
