"""Every example of the description is sent to the real app, in an order that works, and gets a success.

The ids that stand in examples are replaced by those of what was made; everything else is sent as it stands.
Each answer is held to its description by every check of Schemathesis.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI

from api.reference import example_of

from .contract import contracted, schema_of

STORY = (
    "POST /clubs/import", "POST /clubs", "GET /clubs", "GET /clubs/{club}", "PUT /clubs/{club}",
    "POST /keys", "GET /keys", "POST /clubs/{club}/keys", "GET /clubs/{club}/keys", "GET /keys/{key}",
    "POST /clubs/{club}/members", "GET /clubs/{club}/members", "GET /members/{member}",
    "PUT /members/{member}", "POST /members/{member}/engagements", "GET /members/{member}/engagements",
    "GET /engagements/{engagement}", "PUT /engagements/{engagement}/calendar.ics",
    "POST /engagements/{engagement}/refresh", "GET /engagements/{engagement}/busy",
    "POST /clubs/{club}/sites", "GET /clubs/{club}/sites", "GET /sites/{site}", "PUT /sites/{site}",
    "POST /clubs/{club}/telescopes", "GET /clubs/{club}/telescopes", "GET /telescopes/{telescope}",
    "PUT /telescopes/{telescope}",
    "POST /clubs/{club}/scenarios", "GET /clubs/{club}/scenarios", "GET /scenarios/{scenario}",
    "PUT /scenarios/{scenario}", "PUT /scenarios/{scenario}/scenario.toml",
    "PUT /scenarios/{scenario}/wish-list.csv", "POST /scenarios/{scenario}/targets",
    "PUT /scenarios/{scenario}/forecast.csv", "PUT /scenarios/{scenario}/availability",
    "PUT /scenarios/{scenario}/uses", "POST /scenarios/{scenario}/outcomes",
    "POST /scenarios/{scenario}/outcomes.csv", "GET /scenarios/{scenario}/scenario.toml",
    "GET /scenarios/{scenario}/wish-list.csv", "GET /scenarios/{scenario}/targets",
    "GET /scenarios/{scenario}/forecast.csv", "GET /scenarios/{scenario}/availability",
    "GET /scenarios/{scenario}/uses", "GET /scenarios/{scenario}/free-nights",
    "GET /scenarios/{scenario}/outcomes",
    "GET /scenarios/{scenario}/outcomes.csv",
    "GET /scenarios/{scenario}/up", "GET /scenarios/{scenario}/planets", "GET /scenarios/{scenario}/moon",
    "GET /scenarios/{scenario}/moon.csv", "GET /scenarios/{scenario}/weather",
    "GET /scenarios/{scenario}/dates",
    "POST /scenarios/{scenario}/plans", "GET /scenarios/{scenario}/plans", "GET /plans/{plan}",
    "GET /plans/{plan}/schedule.csv", "GET /plans/{plan}/nights.csv", "GET /plans/{plan}/unplaced.csv",
    "GET /plans/{plan}/moon.csv", "GET /plans/{plan}/odds.csv", "GET /plans/{plan}/changes.csv",
    "GET /plans/{plan}/changes", "POST /plans/{plan}/publish", "GET /scenarios/{scenario}/calendar",
    "PUT /scenarios/{scenario}/calendar", "GET /scenarios/{scenario}/calendar/nights",
    "POST /clubs/{club}/feeds", "GET /clubs/{club}/feeds", "GET /feeds/{feed}", "POST /feeds/{feed}/rotate",
    "GET /calendars/{secret}.ics", "GET /nights/{secret}/{evening}",
    "POST /feeds/{feed}/collections", "GET /feeds/{feed}/collections", "GET /collections/{collection}",
    "PUT /collections/{collection}", "POST /collections/{collection}/push",
    "GET /collections/{collection}/last-push", "DELETE /collections/{collection}", "DELETE /feeds/{feed}",
    "POST /plans/{plan}/odds", "POST /plans/{plan}/reasons", "POST /scenarios/{scenario}/what-ifs",
    "POST /scenarios/{scenario}/prices", "GET /jobs/{job}", "GET /jobs/{job}/answer",
    "POST /jobs/{job}/cancel",
    "GET /clubs/{club}/jobs", "GET /clubs/{club}/export", "POST /keys/{key}/revoke",
    "GET /livez", "GET /readyz", "GET /metrics", "GET /problems/{kind}",
    "DELETE /engagements/{engagement}", "DELETE /members/{member}",
    "DELETE /sites/{site}", "DELETE /telescopes/{telescope}",
    "DELETE /scenarios/{scenario}", "DELETE /clubs/{club}",
)  # fmt: skip
SELF = {"PUT", "DELETE"}


class Teller:
    """Sends one operation's example after another, with the ids that came of those before."""

    def __init__(self, app: FastAPI, token: str) -> None:
        self._described = app.openapi()
        self._schema = schema_of(app, token)
        self._app, self._key = app, {"Authorization": f"Bearer {token}"}
        self.ids: dict[str, str] = {}

    def tell(self, name: str) -> int:
        """Send the example of an operation and return the status of the answer."""
        method, path = name.split()
        described = self._described["paths"][path][method.lower()]
        sent = self._parameters(path, described)
        for media_type, body in self._bodies(described) or [("", None)]:
            answer = self._send(method, path, sent, media_type, body)
            if answer.status_code == 304:  # as its example says, the caller had it already; now without that
                sent["header"] = {n: v for n, v in sent["header"].items() if n.lower() != "if-none-match"}
                answer = self._send(method, path, sent, media_type, body)
        self._learn(answer.headers)
        self._learn_calendar(name, answer)
        return int(answer.status_code)

    def _send(
        self, method: str, path: str, sent: dict[str, dict[str, Any]], media_type: str, body: Any
    ) -> Any:
        operation = self._schema[path][method]
        more: dict[str, Any] = {} if not media_type else {"body": body, "media_type": media_type}
        case = operation.Case(
            path_parameters=sent["path"], query=sent["query"], headers={**sent["header"], **self._key}, **more
        )
        answer = case.call()
        case.validate_response(answer)
        return answer

    def _parameters(self, path: str, described: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
        sent: dict[str, dict[str, Any]] = {"path": {}, "query": {}, "header": {}}
        for parameter in described.get("parameters", []):
            example = _example(parameter)
            assert example is not None, (path, parameter["name"])
            sent[parameter["in"]][parameter["name"]] = example
        for noun in sent["path"]:
            sent["path"][noun] = self.ids.get(noun, sent["path"][noun])
        for name, value in sent["header"].items():
            if name.lower() == "if-match":
                assert value == '"r1"'
                sent["header"][name] = "*"  # read before, in another test: the tag there is now
            if name.lower() == "idempotency-key":
                sent["header"][name] = f"{value} {path}"  # fresh for each request, as it says
        if "since" in sent["query"]:
            sent["query"]["since"] = self.ids.get("plan", "")
        if "members" in sent["query"]:
            sent["query"]["members"] = self.ids.get("member", "")
        return sent

    def _bodies(self, described: Mapping[str, Any]) -> list[tuple[str, Any]]:
        content = described.get("requestBody", {}).get("content", {})
        found = []
        for media_type, one in content.items():
            examples = [each["value"] for each in one.get("examples", {}).values()]
            examples += [one["example"]] if "example" in one else []
            found += [(media_type, each) for each in examples or [example_of(one["schema"], self._described)]]
        told = json.dumps(found).replace("aa11bb22cc33dd44ee55", self.ids.get("member", ""))
        told = told.replace("3f9a0c52d1e84b7766aa", self.ids.get("scenario", "3f9a0c52d1e84b7766aa"))
        return [(media_type, body) for media_type, body in json.loads(told)]

    def _learn(self, headers: Any) -> None:
        """Note the id of what was made, and of what came of a job."""
        at = headers.get("location", [""])[0]
        _, collection, one = at.split("/") if at.count("/") == 2 else ("", "", "")
        if not one:
            return
        self.ids[collection.removesuffix("s")] = one
        until_s = time.monotonic() + 20
        while collection == "jobs" and time.monotonic() < until_s:
            job = self._app.state.services.storage.jobs.get(one)
            if job.state.ended:
                assert job.problem is None, job
                self.ids |= {} if job.plan is None else {"plan": job.plan}
                return
            time.sleep(0.02)

    def _learn_calendar(self, name: str, answer: Any) -> None:
        """Note the secret of a feed, and an evening it shows."""
        if name in {"POST /clubs/{club}/feeds", "POST /feeds/{feed}/rotate"}:
            self.ids["secret"] = answer.json()["address"].rpartition("/")[2].removesuffix(".ics")
        if name == "GET /scenarios/{scenario}/calendar/nights":
            self.ids["evening"] = answer.json()["items"][0]["evening"]


def _example(parameter: Mapping[str, Any]) -> Any:
    schema = parameter["schema"]
    shapes = [parameter, schema, *schema.get("anyOf", [])]
    return next((one["examples"][0] for one in shapes if one.get("examples")), parameter.get("example"))


@pytest.fixture
def teller(tmp_path: Path) -> Iterator[Teller]:
    with contracted(tmp_path / "kept.sqlite3", tmp_path) as (app, token):
        yield Teller(app, token)


def test_every_example_gets_a_success_as_described(teller: Teller) -> None:
    refused = {}
    for name in STORY:
        try:
            status = teller.tell(name)
        except (AssertionError, schemathesis.core.failures.FailureGroup) as error:
            refused[name] = str(error)[:2000]
            continue
        ended = {409} if name == "POST /jobs/{job}/cancel" else set()  # nothing is left to cancel by then
        if not (200 <= status < 300 or status in ended):
            refused[name] = f"{status} {teller.ids}"
    assert refused == {}


def test_every_operation_is_told(teller: Teller) -> None:
    described = teller._described["paths"]
    assert sorted(STORY) == sorted(
        f"{method.upper()} {path}" for path, methods in described.items() for method in methods
    )
