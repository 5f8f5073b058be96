"""Pushes cut off at every step, before or after the server did what was asked, then pushed again."""

from __future__ import annotations

from dataclasses import dataclass, field

import httpx2
import pytest

from api.caldav import Course, Item, PinnedTransport, Pushed, Tally, push
from api.caldav.errors import CalendarUnreachable
from scheduler.errors import Cancelled

from .conftest import HERE, Pusher
from .events import Notes, expected, item_of, seen
from .radicale import Radicale

BEFORE = [item_of(0), item_of(1), item_of(2), item_of(3)]
AFTER = [item_of(0), item_of(1, 1, "M 57"), item_of(2, 1, off=True), item_of(5), item_of(6)]
LATER = [
    item_of(0, 1, "clear"),
    item_of(1, 2, "M 92"),
    item_of(2, 1, off=True),
    item_of(5, 1, "M 2"),
    item_of(7),
]
REQUESTS = 7
"""Of the push from BEFORE to AFTER: one for the calendar, one for the tags, five writes."""


class Breaking(httpx2.BaseTransport):
    """Cuts the connection at the n-th request, before it is sent or before its answer is read."""

    def __init__(self, at: int, *, answered: bool, for_ever: bool) -> None:
        self._inner, self._at = PinnedTransport(HERE), at
        self._answered, self._for_ever, self.count = answered, for_ever, 0

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        self.count += 1
        if self.count > self._at and self._for_ever:
            raise httpx2.ConnectError("[Errno 111] Connection refused")
        if self.count != self._at:
            return self._inner.handle_request(request)
        if self._answered:
            self._inner.handle_request(request).read()
        raise httpx2.ReadError("[Errno 104] Connection reset by peer")

    def close(self) -> None:
        self._inner.close()


@pytest.mark.parametrize("answered", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("at", range(1, REQUESTS + 1))
@pytest.mark.parametrize("then", [AFTER, LATER], ids=["the same", "a later plan"])
def test_a_push_cut_off_is_made_whole_by_the_next(
    pusher: Pusher, server: Radicale, at: int, answered: bool, then: list[Item]
) -> None:
    pusher(BEFORE)
    whole = pusher.transport
    pusher.transport = lambda: Breaking(at, answered=answered, for_ever=True)
    with pytest.raises(CalendarUnreachable):
        pusher(AFTER)
    pusher.transport = whole
    assert pusher(then).conflicts == []
    assert seen(server.events()) == expected(then)
    assert len(server.events()) == len(then)
    writes = server.writes()
    assert pusher(then).unchanged == len(then)
    assert server.writes() == writes


@pytest.mark.parametrize("answered", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("at", range(1, REQUESTS + 1))
def test_a_single_cut_is_got_over(pusher: Pusher, server: Radicale, at: int, answered: bool) -> None:
    pusher(BEFORE)
    pusher.transport = lambda: Breaking(at, answered=answered, for_ever=False)
    assert pusher(AFTER).conflicts == []
    assert seen(server.events()) == expected(AFTER)


def test_no_request_is_left_out(pusher: Pusher) -> None:
    """Else the tests above would leave out steps."""
    pusher(BEFORE)
    counting = Breaking(0, answered=True, for_ever=False)
    pusher.transport = lambda: counting
    pusher(AFTER)
    assert counting.count == REQUESTS


@dataclass
class Forgetful(Notes):
    """Fails at the n-th word it should keep, as a database that goes away does."""

    at: int = 0
    count: int = field(default=0)

    def note(self, uid: str, pushed: Pushed) -> None:
        self._counted()
        super().note(uid, pushed)

    def forget(self, uid: str) -> None:
        self._counted()
        super().forget(uid)

    def _counted(self) -> None:
        self.count += 1
        if self.count == self.at:
            raise ConnectionError("the database is away")


@pytest.mark.parametrize("at", range(1, 8))
def test_what_was_written_and_not_kept_is_known_again(pusher: Pusher, server: Radicale, at: int) -> None:
    pusher(BEFORE)
    pusher.notes = Forgetful(dict(pusher.notes.pushed), at)
    with pytest.raises(ConnectionError):
        pusher(AFTER)
    assert pusher(AFTER).conflicts == []
    assert seen(server.events()) == expected(AFTER)


def test_a_push_that_is_asked_to_stop_keeps_what_it_did(pusher: Pusher, server: Radicale) -> None:
    pusher(BEFORE)
    asked: list[int] = []

    def asked_to_stop() -> bool:
        asked.append(1)
        return len(asked) > 3

    tally = Tally()
    course = Course(pusher.notes, asked_to_stop=asked_to_stop)
    with pusher.opened() as calendar, pytest.raises(Cancelled):
        push(calendar, AFTER, pusher.notes.pushed, pusher.conflicts, course, tally)
    assert (tally.created, tally.updated, tally.deleted, tally.unchanged) == (0, 2, 0, 1)
    assert len(server.events()) == len(BEFORE)
    assert pusher(AFTER).conflicts == []
    assert seen(server.events()) == expected(AFTER)
