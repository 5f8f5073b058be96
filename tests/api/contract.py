"""Requests made up from the service's own description, and every answer held against it.

Schemathesis makes the requests (its phases: the description's examples, the edges of every schema, draws, and
walks along links from answer to answer) and runs all its checks.
"""

from __future__ import annotations

import os
import re
import secrets
import string
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from functools import cache, partial
from pathlib import Path
from typing import Any, cast
from unittest.mock import patch
from uuid import uuid4

import schemathesis
from fastapi import FastAPI
from hypothesis import strategies as st
from schemathesis.engine import events, from_schema
from schemathesis.generation.meta import TestPhase
from schemathesis.python import asgi
from sqlalchemy import text
from starlette.types import ASGIApp

from api.app import create_app
from api.auth import first_key, made_key
from api.caldav import Tally
from api.routes.shared import SAMPLES
from api.seal import SEAL_KEY, Seal, made_seal_key
from api.settings import Settings
from api.shapes import samples
from api.shapes.clubs import COLLECTIONS
from api.storage import NewCollection, NewEngagement, NewFeed, NewKey, Role, Shows, Storage, is_id
from api.storage.owners import NOUNS

from .databases import Where
from .journeys import Service
from .stand_ins import StandInFetch, StandInPlanner, a_seal, jobs_here
from .test_parts import real_reader

HOST = "testserver"
"""What Schemathesis calls the service."""

SCHEMA_VALID = [200, 201, 202, 204, 304, 401, 403, 404, 409, 429]
"""What may be answered to a request that keeps its schema; 401 to the check that leaves the key out."""
REFUSED = [400, 401, 403, 404, 405, 409, 412, 415, 422, 428, 429]
"""What may be answered to a request that breaks its schema."""
MORE: dict[int, list[str]] = {
    # The tag of what is kept now is no matter of a schema.
    412: ["PUT", "DELETE", "POST /scenarios/{scenario}/targets"],
    # What a schema cannot say: the words of scenario.toml and of the tables, and what fits together in them.
    422: [
        "POST /clubs/import", "POST /clubs/{club}/scenarios", "PUT /scenarios", "PUT /members", "PUT /sites",
        "PUT /telescopes", "POST /clubs/{club}/members", "POST /clubs/{club}/sites",
        "POST /clubs/{club}/telescopes", "POST /scenarios/{scenario}/targets",
        "POST /scenarios/{scenario}/outcomes", "POST /scenarios/{scenario}/what-ifs",
        "POST /feeds/{feed}/collections", "PUT /collections",
        "POST /members/{member}/engagements", "PUT /engagements", "GET /scenarios/{scenario}/free-nights",
    ],
}  # fmt: skip


@dataclass
class Tried:
    """What came of it: how many requests, how they ended, and what nothing explains."""

    cases: int = 0
    statuses: Counter[int] = field(default_factory=Counter)
    by_operation: dict[str, Counter[int]] = field(default_factory=dict)
    by_phase: Counter[str] = field(default_factory=Counter)
    unexplained: list[str] = field(default_factory=list)


@contextmanager
def contracted(database: Where, folder: Path) -> Iterator[tuple[FastAPI, str]]:
    """A running app with the real reader and a stand-in planner, and a key of the service's owner."""
    settings = Settings(
        database=database, keys="required", requests_per_minute=0, waiting_jobs=10_000, hosts=(HOST,),
        plan_years=0, most_years=20,
    )  # fmt: skip
    app = create_app(
        settings, partial(real_reader, StandInPlanner(folder / "planner")), jobs_here, StandInFetch, a_seal
    )
    with patch.dict(os.environ, {SEAL_KEY: made_seal_key()}):
        yield from _running(app)


def _running(app: FastAPI) -> Iterator[tuple[FastAPI, str]]:
    try:
        with asgi.get_client(cast(Any, app)) as client:
            token = first_key(app.state.services.storage)
            assert token is not None
            client.headers["Authorization"] = f"Bearer {token}"
            _TRIED.seal = app.state.services.seal()
            _TRIED.storage, _TRIED.key = app.state.services.storage, token.partition(".")[0]
            _TRIED.furniture = furnished(Service(client))
            yield app, token
    finally:
        asgi.shutdown_lifespans()


def furnished(service: Service) -> str:
    """Let a club have one of everything and return it as a file."""
    for noun, sample in SAMPLES.items():
        assert service.ask("POST", f"{service.club}/{COLLECTIONS[noun]}", json=sample).status_code == 201
    kept = service.keep("winter-year", samples.SCENARIO_TOML.encode(), samples.WISH_LIST_CSV.encode())
    scenario = str(kept.headers["location"])
    logged = {"evening": "2027-02-20", "outcome": "clear", "seen": ["M 42"], "notes": "Steady air."}
    assert service.ask("POST", f"{scenario}/outcomes", json=logged).status_code == 201
    assert service.ask("POST", f"{service.club}/feeds", json={"shows": "club"}).status_code == 201
    plan = service.planned(scenario, after="newest")
    for asked in (f"{scenario}/prices", f"{plan}/publish"):
        job = service.ask("POST", asked, json={} if asked.endswith("prices") else None)
        assert service.ended(str(job.headers["location"]))["state"] == "done"
    return service.get(f"{service.club}/export").text


def schema_of(app: ASGIApp, token: str, **config: Any) -> schemathesis.BaseSchema:
    """Return the service's description, ready to make requests of."""
    _teach()
    configured = {"headers": {"Authorization": f"Bearer {token}"}, "request-timeout": 60, **config}
    return schemathesis.openapi.from_asgi(
        "/openapi.json", cast(Any, app), config=schemathesis.Config.from_dict(configured)
    )


def tried(
    app: FastAPI, token: str, cases: int, seed: int, *, only: str | None = None,
    spoilt: Callable[[ASGIApp], ASGIApp] = lambda app: app,
) -> Tried:  # fmt: skip
    """Send requests and return what came of them.

    Parameters
    ----------
    cases : How many are drawn, beside those of the other phases.
    only : The one operation that is tried.
    spoilt : Puts a fault around the app, to see it caught.
    """
    told = Tried()
    names = [
        f"{method.upper()} {path}" for path, methods in app.openapi()["paths"].items() for method in methods
    ]
    drawing = {
        "max-examples": max(1, cases // len(names)),
        "no-shrink": True,
        "database": "none",
        "with-security-parameters": False,
    }
    checked: list[dict[str, Any]] = [
        {"include-name": name, "checks": {"positive_data_acceptance": {"expected-statuses": _enough(name)}}}
        for name in names
    ]
    # Any other method at /clubs/import is one at /clubs/{club}: a club of that id, which nobody has.
    checked += [{"include-name": "POST /clubs/import", "checks": {"unsupported_method": {"enabled": False}}}]
    # Any body is a text, so that none breaks that schema; an empty forecast takes the kept one away.
    checked += [
        {
            "include-name": "PUT /scenarios/{scenario}/forecast.csv",
            "checks": {"negative_data_rejection": {"expected-statuses": [200, *REFUSED]}},
        }
    ]
    more = {
        "checks": {
            "missing_required_header": {"expected-statuses": [401, 422, 428]},
            "negative_data_rejection": {"expected-statuses": REFUSED},
        },
        "continue-on-failure": True,
        "generation": drawing,
        "operations": checked,
    }
    _TRIED.only = only
    try:
        schema = schema_of(spoilt(app), token, seed=seed, **more)
    finally:
        _TRIED.only = None
    for event in from_schema(schema).execute():
        _note(event, told)
    return told


def _enough(operation: str) -> list[int]:
    """Return what may be answered to a request that keeps the schema of an operation."""
    more = [status for status, which in MORE.items() if operation.startswith(tuple(which))]
    return SCHEMA_VALID + more


@cache
def _teach() -> None:
    """Let Schemathesis make names, tables and files as well as any text, and ask for what is there."""
    name = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=200)
    schemathesis.openapi.format("printable", name.filter(str.isprintable))
    csv = _texts(samples.WISH_LIST_CSV, samples.MORE_TARGETS_CSV, samples.FORECAST_CSV, samples.OUTCOMES_CSV)
    schemathesis.openapi.format("text/csv", csv)
    schemathesis.openapi.format("application/toml", _texts(samples.SCENARIO_TOML))
    schemathesis.openapi.format("text/calendar", _texts(samples.CALENDAR_ICS))
    schemathesis.serializer("text/csv", "application/toml", "text/calendar")(_sent_as_it_is)

    @schemathesis.hook
    def before_load_schema(context: schemathesis.HookContext, raw_schema: dict[str, Any]) -> None:
        if _TRIED.only is not None:
            method, path = _TRIED.only.lower().split()
            raw_schema["paths"] = {path: {method: raw_schema["paths"][path][method]}}
        for methods in raw_schema["paths"].values():
            for operation in methods.values():
                for media_type, content in operation.get("requestBody", {}).get("content", {}).items():
                    if content["schema"] == {"type": "string"}:
                        content["schema"] = {"type": "string", "format": media_type}

    @schemathesis.hook
    def before_call(
        context: schemathesis.HookContext, case: schemathesis.Case[Any], kwargs: dict[str, Any]
    ) -> None:
        _TRIED.ask_for_what_is_there(case)


def _sent_as_it_is(context: schemathesis.SerializationContext, value: Any) -> bytes:
    return value if isinstance(value, bytes) else str(value).encode()


class _Tried:
    """What is kept by the service that is tried: made-up ids name nothing, so that real ones are put in."""

    storage: Storage
    seal: Seal
    furniture: str
    key: str
    only: str | None = None

    def __init__(self) -> None:
        self._calls = 0

    def ask_for_what_is_there(self, case: schemathesis.Case[Any]) -> None:
        """Put ids of kept things for those that name nothing, and at most calls a tag that fits."""
        self._calls += 1
        if case.path_parameters.get("key") == self.key:  # the one we ask with must not be revoked
            case.path_parameters["key"] = self._kept("key", "")
        mode = case.meta.generation.mode if case.meta else None
        positive = mode is schemathesis.GenerationMode.POSITIVE
        if positive and "idempotency-key" in case.headers:  # one seen with another request is refused
            case.headers["idempotency-key"] = f"call-{self._calls}"
        if case.meta is None or case.meta.phase.name is TestPhase.STATEFUL:
            return  # there answers lead to requests
        for noun, one in case.path_parameters.items():
            if noun in NOUNS and is_id(str(one)):
                fresh = case.method == "DELETE" and noun in {"club", "scenario"} and self._calls % 3
                case.path_parameters[noun] = self._fresh(noun) if fresh else self._kept(noun, str(one))
        if "secret" in case.path_parameters and self._calls % 4:
            known = self._told_to_members()
            case.path_parameters |= {name: known[name] for name in known.keys() & case.path_parameters.keys()}
        if "since" in case.query and is_id(str(case.query["since"])):
            case.query["since"] = self._kept("plan", str(case.query["since"]))
        if "members" in case.query and is_id(str(case.query["members"])[:20]):
            case.query["members"] = self._member_beside(str(case.path_parameters["scenario"]))
        if positive and self._calls % 4 and "if-match" in case.headers:
            case.headers["if-match"] = "*"

    def _kept(self, noun: str, one: str) -> str:
        table = f"{noun}s"
        with self.storage._database.reading() as connection:
            rows = connection.execute(text(f"SELECT id FROM {table} ORDER BY number")).scalars().all()
        found = [row for row in rows if row != self.key]
        if one in found:
            return one
        if not found and noun == "key":
            return made_key(self.storage, NewKey(None, Role.READER, "to be revoked"))[0].id
        if not found and noun in {"feed", "collection"}:  # no club's file holds a collection
            return self._made_for_push()[noun]
        if not found and noun == "engagement":
            return self._engaged()
        if not found:
            self._take_in()
            return self._kept(noun, one)
        return str(found[self._calls % len(found)])

    def _fresh(self, noun: str) -> str:
        """A club or scenario taken in this moment, which nobody works on and which may go."""
        self._take_in()
        with self.storage._database.reading() as connection:
            return str(connection.execute(text(f"SELECT id FROM {noun}s ORDER BY number DESC")).scalar())

    def _told_to_members(self) -> dict[str, str]:
        """The secret of a feed that shows a night, and that night."""
        query = (
            "SELECT feeds.secret, entries.evening FROM feeds JOIN scenarios ON scenarios.club = feeds.club "
            "JOIN calendars ON calendars.scenario = scenarios.id "
            "JOIN entries ON entries.calendar = calendars.id "
            "WHERE feeds.shows = 'club' OR feeds.scenario = scenarios.id ORDER BY feeds.number"
        )
        with self.storage._database.reading() as connection:
            found = connection.execute(text(query)).first()
        if found is None:
            self._made_for_push()
            return self._told_to_members()
        return {"secret": str(found[0]), "evening": str(found[1])}

    def _take_in(self) -> None:
        """Keep one more of everything, in a club of its own."""
        ids: dict[str, str] = {}
        fresh = re.sub(
            r"\b[0-9a-f]{20}\b", lambda m: ids.setdefault(m[0], secrets.token_hex(10)), self.furniture
        )
        fresh = re.sub(r'(?<="secret": ")[^"]*', lambda _: secrets.token_urlsafe(20), fresh)
        fresh = re.sub(r"\b[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\b", lambda _: str(uuid4()), fresh)
        self.storage.transfer.take_in(fresh)

    def _made_for_push(self) -> dict[str, str]:
        """Let a club that has a calendar have a feed, and a collection that was pushed once."""
        query = "SELECT scenario FROM calendars ORDER BY number"
        with self.storage._database.reading() as connection:
            scenario = connection.execute(text(query)).scalar()
        if scenario is None:  # a club of its own has one
            self._take_in()
            return self._made_for_push()
        club = self.storage.scenarios.get(scenario).club
        feed = self.storage.feeds.add(club, NewFeed(Shows.SCENARIO, scenario))
        sealed = Seal().sealed("an app password")
        new = NewCollection("https://calendar.example.org/nights/", "stargazers", sealed, "report")
        collection = self.storage.collections.add(feed.id, new)
        told = {"when": feed.created.isoformat(), **Tally().told(), "problem": None}
        self.storage.collections.tell(collection.id, told)
        return {"feed": feed.id, "collection": collection.id}

    def _member_beside(self, scenario: str) -> str:
        """Return a member of a scenario's club."""
        asked = text("SELECT m.id FROM members m JOIN scenarios s ON s.club = m.club WHERE s.id = :one")
        with self.storage._database.reading() as connection:
            return str(connection.execute(asked, {"one": scenario}).scalars().first() or "0" * 20)

    def _engaged(self) -> str:
        """Keep a calendar of some member, with an address: furniture has none."""
        told = {"zone": "UTC", "host": "calendars.example.org", "read": None, "events": 0, "problem": None}
        sealed = self.seal.sealed("https://calendars.example.org/private-7c1fe2/basic.ics")
        new = NewEngagement("diary", date(2027, 1, 1), date(2028, 1, 1), told, sealed)
        return self.storage.engagements.add(self._kept("member", ""), new, 99).id


_TRIED = _Tried()


def _texts(*samples: str) -> st.SearchStrategy[str]:
    """Draw samples, samples with a part replaced, and any text."""
    odd = st.text(max_size=20) | st.text(string.digits + "-,;\r\n\"'[]=", max_size=8)

    def changed(sample: str, begin: int, length: int, put: str) -> str:
        begin %= len(sample) + 1
        return sample[:begin] + put + sample[begin + length :]

    kept = st.sampled_from([*samples, ""])
    edited = st.builds(changed, kept, st.integers(0, 2000), st.integers(0, 12), odd)
    return kept | edited | st.text(max_size=200)


def _note(event: events.EngineEvent, told: Tried) -> None:
    if isinstance(event, events.FatalError):
        raise event.exception
    if isinstance(event, events.NonFatalError):
        told.unexplained.append(f"{event.label}: {event.info.title}: {event.value}")
    if not isinstance(event, events.ScenarioFinished):
        return
    record = event.recorder
    told.cases += len(record.interactions)
    told.by_phase[event.phase.value] += len(record.interactions)
    for case, interaction in record.interactions.items():
        status = interaction.response.status_code if interaction.response else 0
        told.statuses[status] += 1
        label = record.cases[case].value.operation.label
        told.by_operation.setdefault(label, Counter())[status] += 1
    for case, checks in record.checks.items():
        for check in checks:
            if check.failure_info is not None:
                failure = check.failure_info.failure
                if _is_printable_all_the_same(record.cases[case].value.body, failure.message):
                    continue
                where = f"{record.cases[case].value.operation.label} ({event.phase.value}): {check.name}"
                told.unexplained.append(
                    f"{where}: {failure.title}: {failure.message}\n{check.failure_info.code_sample}"
                )


def _is_printable_all_the_same(body: object, message: str) -> bool:
    """Tell whether a text meant to break "printable" does not: Schemathesis knows no opposite of our formats.

    Examples
    --------
    >>> said = "Invalid component: in body - violates `format` at /properties/name"
    >>> [_is_printable_all_the_same({"name": name}, said) for name in ("ù#", "a\\nb", " ")]
    [True, False, False]
    """
    said = re.search(r"in body - violates `format` at /properties/(\w+)", message)
    read = body.get(said[1]) if said and isinstance(body, dict) else None
    return isinstance(read, str) and read.isprintable() and bool(read.strip())
