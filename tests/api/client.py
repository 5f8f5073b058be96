"""A small client of the service, kept by hand: what a member's own script would do. Not shipped."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol, TypeAlias

from .journeys import Answer

Json: TypeAlias = dict[str, Any]


class Speaks(Protocol):
    """Speaks HTTP: over a socket, or to an app in this process."""

    @property
    def request(self) -> Callable[..., Any]: ...


@dataclass(frozen=True)
class Refused(Exception):
    """The service refused; `problem` says why."""

    status: int
    problem: Json

    def __str__(self) -> str:
        return f"{self.status} {self.problem.get('type')}: {self.problem.get('detail')}"

    @property
    def kind(self) -> str:
        """The kind of problem, as in "stale"."""
        return str(self.problem["type"]).rpartition("/")[2]


@dataclass(frozen=True)
class Tagged:
    """Something read, with the entity tag that a change of it must send."""

    body: Json
    tag: str

    @property
    def id(self) -> str:
        return str(self.body["id"])


@dataclass(frozen=True)
class Client:
    """What one key may do; every method raises `Refused` with the service's problem."""

    http: Speaks
    token: str | None = None

    def with_key(self, token: str) -> Client:
        """The same service asked with another key."""
        return Client(self.http, token)

    # clubs and keys

    def clubs(self) -> list[Json]:
        return self._listed("/clubs")

    def make_club(self, name: str) -> Tagged:
        return self._tagged("POST", "/clubs", json={"name": name})

    def club(self, club: str) -> Tagged:
        return self._tagged("GET", f"/clubs/{club}")

    def rename_club(self, club: Tagged, name: str) -> Tagged:
        return self._tagged("PUT", f"/clubs/{club.id}", json={"name": name}, tag=club.tag)

    def delete_club(self, club: Tagged) -> None:
        self._sent("DELETE", f"/clubs/{club.id}", tag=club.tag)

    def export_club(self, club: str) -> bytes:
        return self._sent("GET", f"/clubs/{club}/export").content

    def import_club(self, exported: bytes) -> Tagged:
        return self._tagged("POST", "/clubs/import", content=exported, kind="application/json")

    def make_key(self, club: str, role: str, name: str) -> tuple[str, str]:
        """Make a key and return its id and its token."""
        made = self._json("POST", f"/clubs/{club}/keys", json={"role": role, "name": name})
        return str(made["id"]), str(made["token"])

    def keys(self, club: str) -> list[Json]:
        return self._listed(f"/clubs/{club}/keys")

    def revoke(self, key: str) -> Json:
        return self._json("POST", f"/keys/{key}/revoke")

    # scenarios and their parts

    def scenarios(self, club: str) -> list[Json]:
        return self._listed(f"/clubs/{club}/scenarios")

    def keep_scenario(self, club: str, name: str, toml: bytes, wish_list: bytes) -> Tagged:
        files = {"scenario_toml": ("scenario.toml", toml), "wish_list_csv": ("wish-list.csv", wish_list)}
        return self._tagged("POST", f"/clubs/{club}/scenarios", data={"name": name}, files=files)

    def scenario(self, scenario: str) -> Tagged:
        return self._tagged("GET", f"/scenarios/{scenario}")

    def delete_scenario(self, scenario: Tagged) -> None:
        self._sent("DELETE", f"/scenarios/{scenario.id}", tag=scenario.tag)

    def part(self, scenario: str, part: str) -> bytes:
        """A file of a scenario, as in "wish-list.csv"."""
        return self._sent("GET", f"/scenarios/{scenario}/{part}").content

    def replace_part(self, scenario: Tagged, part: str, content: bytes) -> Tagged:
        kind = "application/toml" if part.endswith(".toml") else "text/csv"
        return self._tagged(
            "PUT", f"/scenarios/{scenario.id}/{part}", content=content, kind=kind, tag=scenario.tag
        )

    def add_targets(self, scenario: Tagged, rows: bytes) -> Tagged:
        return self._tagged(
            "POST", f"/scenarios/{scenario.id}/targets", content=rows, kind="text/csv", tag=scenario.tag
        )

    def set_availability(self, scenario: Tagged, availability: Json) -> Tagged:
        path = f"/scenarios/{scenario.id}/availability"
        return self._tagged("PUT", path, json=availability, tag=scenario.tag)

    def log(self, scenario: str) -> list[Json]:
        return self._listed(f"/scenarios/{scenario}/outcomes")

    def add_outcome(self, scenario: str, evening: str, outcome: str, **more: Any) -> list[Json]:
        line = {"evening": evening, "outcome": outcome, **more}
        added: list[Json] = self._json("POST", f"/scenarios/{scenario}/outcomes", json=line)["items"]
        return added

    # plans, and what may be asked of them

    def plan(self, scenario: str, within_s: float = 120.0, **wish: Any) -> str:
        """Plan a scenario and return the plan's id once it is there."""
        return self._plan_of(self.follow(self._job(f"/scenarios/{scenario}/plans", wish), within_s))

    def plans(self, scenario: str) -> list[Json]:
        return self._listed(f"/scenarios/{scenario}/plans")

    def plan_json(self, plan: str) -> str:
        return self._sent("GET", f"/plans/{plan}").text

    def table(self, plan: str, name: str) -> str:
        """A table of a plan, as in "schedule"."""
        return self._sent("GET", f"/plans/{plan}/{name}.csv").text

    def differences(self, plan: str, since: str) -> Json:
        return self._json("GET", f"/plans/{plan}/changes?since={since}")

    def publish(self, plan: str, within_s: float = 30.0) -> None:
        self.follow(self._job(f"/plans/{plan}/publish", None), within_s)

    def calendar(self, scenario: str) -> Json:
        return self._json("GET", f"/scenarios/{scenario}/calendar")

    def nights(self, scenario: str) -> list[Json]:
        """The nights a scenario's calendar tells of, withdrawn ones too."""
        return list(self._json("GET", f"/scenarios/{scenario}/calendar/nights")["items"])

    def feed(self, club: str, **wish: Any) -> str:
        """Make a feed, of the whole club if nothing else is said, and return the path of its address."""
        made = self._sent("POST", f"/clubs/{club}/feeds", json={"shows": "club", **wish}).json()
        return "/calendars/" + str(made["address"]).rpartition("/calendars/")[2]

    def odds(self, plan: str, within_s: float = 120.0, **wish: Any) -> Json:
        return self._answer(self._job(f"/plans/{plan}/odds", wish), within_s)

    def why(self, plan: str, within_s: float = 120.0, **wish: Any) -> Json:
        return self._answer(self._job(f"/plans/{plan}/reasons", wish), within_s)

    def prices(self, scenario: str, within_s: float = 120.0) -> Json:
        return self._answer(self._job(f"/scenarios/{scenario}/prices", {}), within_s)

    def what_if(self, scenario: str, within_s: float = 300.0, **wish: Any) -> Json:
        return self._answer(self._job(f"/scenarios/{scenario}/what-ifs", wish), within_s)

    def follow(self, job: str, within_s: float) -> Json:
        """Follow a job to its end and return it; raise `Refused` with its problem where it failed."""
        deadline_s = time.monotonic() + within_s
        while True:
            seen = self._json("GET", job)
            if seen["state"] == "failed":
                raise Refused(seen["problem"]["status"], seen["problem"])
            if seen["state"] in {"done", "cancelled"}:
                return seen
            if time.monotonic() > deadline_s:
                raise TimeoutError(f"{job} is still {seen['state']}: {seen['progress']}")
            time.sleep(0.02)

    # what all of them share

    def _job(self, path: str, wish: Json | None) -> str:
        options: Json = {} if wish is None else {"json": wish}
        return str(self._sent("POST", path, **options).headers["location"])

    def _answer(self, job: str, within_s: float) -> Json:
        return self._json("GET", str(self.follow(job, within_s)["links"]["answer"]))

    def _plan_of(self, job: Json) -> str:
        return str(job["links"]["plan"]).rpartition("/")[2]

    def _listed(self, path: str) -> list[Json]:
        found: list[Json] = []
        following: str | None = path
        while following is not None:
            page = self._json("GET", following)
            found += page["items"]
            following = page.get("next")
        return found

    def _tagged(self, method: str, path: str, **options: Any) -> Tagged:
        answer = self._sent(method, path, **options)
        return Tagged(answer.json(), answer.headers["etag"])

    def _json(self, method: str, path: str, **options: Any) -> Json:
        told: Json = self._sent(method, path, **options).json()
        return told

    def _sent(
        self, method: str, path: str, *, kind: str | None = None, tag: str | None = None, **options: Any
    ) -> Answer:
        named: Mapping[str, str | None] = {
            "Authorization": self.token and f"Bearer {self.token}", "Content-Type": kind, "If-Match": tag,
        }  # fmt: skip
        headers = {name: value for name, value in named.items() if value is not None}
        answer: Answer = self.http.request(method, path, headers=headers, **options)
        if answer.status_code >= 400:
            raise Refused(answer.status_code, answer.json())
        return answer
