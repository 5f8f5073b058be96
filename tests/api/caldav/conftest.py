from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import httpx2
import pytest

from api.caldav import Calendar, Conflicts, Course, Item, Login, PinnedTransport, Tally, push

from .events import Notes
from .radicale import PASSWORD, USER, Radicale, radicale

HERE = frozenset({"127.0.0.1"})


@pytest.fixture(scope="session")
def _server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Radicale]:
    with radicale(tmp_path_factory.mktemp("radicale")) as running:
        yield running


@pytest.fixture
def server(_server: Radicale) -> Radicale:
    """The calendar server, with an empty calendar."""
    return _server.emptied()


@dataclass
class Pusher:
    """Pushes into the server's calendar, as the service would, and remembers in `notes`."""

    address: str
    notes: Notes = field(default_factory=Notes)
    conflicts: Conflicts = Conflicts.REPORT
    transport: Callable[[], httpx2.BaseTransport] = lambda: PinnedTransport(HERE)
    waits: list[float] = field(default_factory=list)

    def __call__(self, items: Sequence[Item], login: Login | None = None) -> Tally:
        tally = Tally()
        self.into(items, tally, login)
        return tally

    def into(self, items: Sequence[Item], tally: Tally, login: Login | None = None) -> None:
        with self.opened(login) as calendar:
            push(calendar, items, self.notes.pushed, self.conflicts, Course(self.notes), tally)

    def opened(self, login: Login | None = None) -> Calendar:
        return Calendar(self.address, login or Login(USER, PASSWORD), self.transport(), self._wait)

    def _wait(self, wait_s: float) -> bool:
        self.waits.append(wait_s)
        return True


@pytest.fixture
def pusher(server: Radicale) -> Pusher:
    return Pusher(server.calendar)
