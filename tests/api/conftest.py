from __future__ import annotations

import io
import logging
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import cache
from pathlib import Path
from typing import Any, TypeAlias

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.ports import Door, Jobs
from api.settings import Settings
from api.storage import Storage

from .databases import KINDS, Where, fresh_database, ready_database
from .journeys import Service
from .stand_ins import StandInFetch, StandInPlanner, a_seal, jobs_here

StartService: TypeAlias = Callable[..., Service]
Ready: TypeAlias = Callable[[str], Where]
LOGGERS = ("", "duskwright", "uvicorn", "uvicorn.error", "uvicorn.access", "dbos")
MakeJobs: TypeAlias = Callable[[Settings, Storage, Callable[[], Door]], Jobs]


@pytest.fixture(params=KINDS)
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Where]:
    """A fresh empty database of each kind in turn."""
    with fresh_database(request.param, tmp_path) as where:
        yield where


@pytest.fixture(scope="session")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ready]:
    """Databases to copy, one of each kind: that takes less long than to make one."""
    with ExitStack() as made:

        @cache
        def of(kind: str) -> Where:
            return made.enter_context(ready_database(kind, tmp_path_factory.mktemp("ready")))

        yield of


@pytest.fixture
def storage(database: Where) -> Iterator[Storage]:
    """What is kept in a fresh database of each kind in turn."""
    storage = Storage(database)
    yield storage
    storage.close()


@pytest.fixture
def planner(tmp_path: Path) -> StandInPlanner:
    return StandInPlanner(tmp_path / "planner")


@pytest.fixture
def fetch() -> StandInFetch:
    """What services fetch from elsewhere."""
    return StandInFetch()


@pytest.fixture
def start_service(
    tmp_path: Path, planner: StandInPlanner, ready: Ready, fetch: StandInFetch
) -> Iterator[StartService]:
    """Start services on one database, each with its own settings; all are stopped at the end."""
    with ExitStack() as running:
        kept = running.enter_context(fresh_database("sqlite", tmp_path, ready("sqlite")))

        def start(jobs: MakeJobs = jobs_here, **settings: Any) -> Service:
            chosen = {"keys": "none", "requests_per_minute": 0, "plan_years": 0, **settings}
            opened = Settings(database=kept, **chosen)
            app = create_app(opened, planner.door, jobs, lambda: fetch, a_seal)
            client = TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False)
            running.callback(planner.let_go.set)
            return Service(running.enter_context(client))

        yield start
        planner.let_go.set()


@pytest.fixture
def service(start_service: StartService) -> Service:
    return start_service()


@pytest.fixture
def stream() -> Iterator[io.StringIO]:
    """What would be the error stream; every logger is as before afterwards."""
    loggers = [logging.getLogger(name) for name in LOGGERS]
    before = [(logger, list(logger.handlers), logger.level, logger.propagate) for logger in loggers]
    yield io.StringIO()
    for logger, handlers, level, propagate in before:
        logger.handlers[:], logger.level, logger.propagate = handlers, level, propagate
        logger.setLevel(level)
