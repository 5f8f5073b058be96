from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.door import scheduler_door
from api.settings import Settings
from api.shelf import Shelf

from ..conftest import StartService
from ..journeys import Service
from ..stand_ins import StandInFetch, StandInPlanner, a_seal, jobs_here
from ..test_parts import real_reader
from .real_year import Year, kept_year


@pytest.fixture
def service(start_service: StartService) -> Service:
    """A service that reads real plans; what it plans itself, a stand-in plans."""
    made = start_service()
    state = made.client.app.state
    state.services = replace(state.services, shelf=Shelf(state.services.storage, scheduler_door()))
    return made


@pytest.fixture
def start_reading(tmp_path: Path, planner: StandInPlanner) -> Iterator[StartService]:
    """Start services that read with the real scheduler and plan with the stand-in."""
    with ExitStack() as running:

        def started(**settings: Any) -> Service:
            chosen = {"keys": "none", "requests_per_minute": 0, "plan_years": 0, **settings}
            opened = Settings(database=tmp_path / "read.sqlite3", **chosen)
            app = create_app(opened, partial(real_reader, planner), jobs_here, StandInFetch, a_seal)
            client = TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False)
            running.callback(planner.let_go.set)
            return Service(running.enter_context(client))

        yield started
        planner.let_go.set()


@pytest.fixture
def year(tmp_path: Path) -> Iterator[Year]:
    """A small year that the real scheduler planned, in a service that works on nothing."""
    client, made = kept_year(tmp_path)
    with client:
        yield made
    made.storage.close()
