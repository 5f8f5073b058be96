from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from secrets import token_hex
from typing import Any, TypeAlias

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import create_engine

from api.app import create_app
from api.settings import Settings

from .journeys import Service
from .stand_ins import StandInPlanner

StartService: TypeAlias = Callable[..., Service]


@pytest.fixture
def planner(tmp_path: Path) -> StandInPlanner:
    return StandInPlanner(tmp_path / "planner")


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """An empty database of each sort; PostgreSQL where DUSKWRIGHT_TEST_POSTGRESQL names a server."""
    if request.param == "sqlite":
        yield str(tmp_path / "kept.sqlite3")
        return
    server = os.environ.get("DUSKWRIGHT_TEST_POSTGRESQL")
    if not server:
        pytest.skip("no PostgreSQL here")
    name = f"t{token_hex(6)}"
    engine = create_engine(
        server.replace("postgresql://", "postgresql+psycopg://"), isolation_level="AUTOCOMMIT"
    )
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
        yield server.rsplit("/", 1)[0] + f"/{name}"
        connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
    engine.dispose()


@pytest.fixture
def start_service(tmp_path: Path, planner: StandInPlanner) -> Iterator[StartService]:
    """Start services on one database, each with its own settings; all are stopped at the end."""
    with ExitStack() as running:

        def start(**settings: Any) -> Service:
            chosen = Settings(database=tmp_path / "kept.sqlite3", **{"keys": "none"} | settings)
            app = create_app(chosen, planner.door, in_children=False)
            client = TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False)
            running.callback(planner.let_go.set)
            return Service(running.enter_context(client))

        yield start
        planner.let_go.set()


@pytest.fixture
def service(start_service: StartService) -> Service:
    return start_service()
