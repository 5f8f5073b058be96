"""What a client does again and again, said once."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any, Protocol, TypeAlias

from .stand_ins import TOML, WISH_LIST

Parts: TypeAlias = dict[str, tuple[str, bytes]]


class Answer(Protocol):
    """As much of an HTTP answer as the tests look at."""

    @property
    def status_code(self) -> int: ...
    @property
    def headers(self) -> Any: ...
    @property
    def content(self) -> bytes: ...
    @property
    def text(self) -> str: ...
    def json(self) -> Any: ...


def files_of(toml: bytes = TOML, wish_list: bytes = WISH_LIST) -> Parts:
    return {"scenario_toml": ("scenario.toml", toml), "wish_list_csv": ("wish-list.csv", wish_list)}


@dataclass
class Service:
    """A service as a client sees it."""

    client: Any  # speaks HTTP in this process or over a socket

    def ask(self, method: str, path: str, **options: Any) -> Answer:
        answer: Answer = self.client.request(method, path, **options)
        return answer

    def get(self, path: str, **headers: str) -> Answer:
        return self.ask("GET", path, headers={name.replace("_", "-"): text for name, text in headers.items()})

    @property
    def club(self) -> str:
        """The address of the first club, made if there is none."""
        clubs = self.get("/clubs").json()["items"]
        if clubs:
            return str(clubs[-1]["links"]["self"])
        made = self.ask("POST", "/clubs", json={"name": "Hendra Stargazers"})
        assert made.status_code == 201, made.text
        return str(made.headers["location"])

    def keep(self, name: str = "winter-year", toml: bytes = TOML, wish_list: bytes = WISH_LIST) -> Answer:
        path = f"{self.club}/scenarios"
        return self.ask("POST", path, data={"name": name}, files=files_of(toml, wish_list))

    @property
    def scenarios(self) -> list[dict[str, Any]]:
        items: list[dict[str, Any]] = self.get(f"{self.club}/scenarios").json()["items"]
        return items

    def kept(self, name: str = "winter-year") -> str:
        """Keep a scenario and return its address."""
        answer = self.keep(name)
        assert answer.status_code == 201, answer.text
        return str(answer.headers["location"])

    def replace(self, scenario: str, name: str, if_match: str | None) -> Answer:
        headers = {} if if_match is None else {"If-Match": if_match}
        return self.ask("PUT", scenario, data={"name": name}, files=files_of(), headers=headers)

    def start(self, scenario: str, key: str | None = None, **wish: Any) -> Answer:
        headers = {} if key is None else {"Idempotency-Key": key}
        body = {"json": wish} if wish else {}
        return self.ask("POST", f"{scenario}/plans", headers=headers, **body)

    def started(self, scenario: str, **wish: Any) -> str:
        """Start a plan and return its job's address."""
        answer = self.start(scenario, **wish)
        assert answer.status_code == 202, answer.text
        return str(answer.headers["location"])

    def ended(self, job: str, within_s: float = 60.0) -> dict[str, Any]:
        """Follow a job to its end."""
        return self.followed(job, {"done", "failed", "cancelled"}, within_s)

    def followed(self, job: str, states: set[str], within_s: float = 60.0) -> dict[str, Any]:
        """Follow a job until it is in one of `states`."""
        deadline = time.monotonic() + within_s
        while True:
            seen: dict[str, Any] = self.get(job).json()
            if seen["state"] in states:
                return seen
            assert time.monotonic() < deadline, f"job still {seen['state']}"
            time.sleep(0.01)

    def planned(self, scenario: str, **wish: Any) -> str:
        """Plan a scenario and return the plan's address."""
        job = self.ended(self.started(scenario, **wish))
        assert job["state"] == "done", job
        return str(job["links"]["plan"])


def assert_is_problem(answer: Answer, status: int, kind: str) -> dict[str, Any]:
    """Assert that `answer` is a whole problem of this kind, with the standing headers, and return it."""
    problem: dict[str, Any] = answer.json()
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert problem["type"] == f"/problems/{kind}"
    assert problem["status"] == status
    assert problem["title"]
    assert problem["detail"]
    return problem
