from __future__ import annotations

from dataclasses import replace

import pytest

from api.door import scheduler_door
from api.shelf import Shelf

from ..conftest import StartService
from ..journeys import Service


@pytest.fixture
def service(start_service: StartService) -> Service:
    """A service that reads real plans; what it plans itself, a stand-in plans."""
    made = start_service()
    state = made.client.app.state
    state.services = replace(state.services, shelf=Shelf(state.services.storage, scheduler_door()))
    return made
