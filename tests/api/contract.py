"""Requests made up from the service's own description, and every answer held against it.

Schemathesis makes the requests (its phases: the description's examples, the edges of every schema, draws, and
walks along links from answer to answer) and runs all its checks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, cast

import schemathesis
from fastapi import FastAPI
from schemathesis.engine import events, from_schema
from schemathesis.python import asgi

from api.app import create_app
from api.auth import first_key
from api.settings import Settings

from .databases import Where
from .stand_ins import StandInPlanner, jobs_here
from .test_parts import real_reader

HOST = "testserver"
"""What Schemathesis calls the service."""


@dataclass
class Tried:
    """What came of it: how many requests, how they ended, and what nothing explains."""

    cases: int = 0
    statuses: Counter[int] = field(default_factory=Counter)
    by_operation: dict[str, Counter[int]] = field(default_factory=dict)
    unexplained: list[str] = field(default_factory=list)


@contextmanager
def contracted(database: Where, folder: Path) -> Iterator[tuple[FastAPI, str]]:
    """A running app with the real reader and a stand-in planner, and a key of the service's owner."""
    settings = Settings(
        database=database, keys="required", requests_per_minute=0, waiting_jobs=10_000, hosts=(HOST,)
    )
    app = create_app(settings, partial(real_reader, StandInPlanner(folder / "planner")), jobs_here)
    try:
        with asgi.get_client(cast(Any, app)):
            token = first_key(app.state.services.storage)
            assert token is not None
            yield app, token
    finally:
        asgi.shutdown_lifespans()


def tried(app: FastAPI, token: str, cases: int, seed: int) -> Tried:
    """Send at least so many requests and return what came of them."""
    told = Tried()
    each = max(1, cases // sum(len(methods) for methods in app.openapi()["paths"].values()))
    config: dict[str, Any] = {
        "seed": seed, "headers": {"Authorization": f"Bearer {token}"},
        "continue-on-failure": True, "request-timeout": 30,
        "generation": {"max-examples": each, "no-shrink": True, "database": "none"},
    }  # fmt: skip
    schema = schemathesis.openapi.from_asgi(
        "/openapi.json", app, config=schemathesis.Config.from_dict(config)
    )
    for event in from_schema(schema).execute():
        _note(event, told)
    return told


def _note(event: events.EngineEvent, told: Tried) -> None:
    if isinstance(event, events.FatalError):
        raise event.exception
    if isinstance(event, events.NonFatalError):
        told.unexplained.append(f"{event.label}: {event.info.title}: {event.value}")
    if not isinstance(event, events.ScenarioFinished):
        return
    record = event.recorder
    told.cases += len(record.interactions)
    for case, interaction in record.interactions.items():
        status = interaction.response.status_code if interaction.response else 0
        told.statuses[status] += 1
        label = record.cases[case].value.operation.label
        told.by_operation.setdefault(label, Counter())[status] += 1
    for case, checks in record.checks.items():
        for check in checks:
            if check.failure_info is not None:
                failure = check.failure_info.failure
                where = f"{record.cases[case].value.operation.label} ({event.phase.value}): {check.name}"
                told.unexplained.append(
                    f"{where}: {failure.title}: {failure.message}\n{check.failure_info.code_sample}"
                )
