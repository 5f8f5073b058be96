"""Somebody is faster: between our look and our write they change, delete or put an event."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import httpx2
import pytest

from api.caldav import Conflicts, Found, Outcome, PinnedTransport

from .conftest import HERE, Pusher
from .events import edited, expected, item_of, items_of, name_of, seen, uid_of
from .radicale import Radicale

Deed: TypeAlias = Callable[[Radicale], None]


class Meanwhile(PinnedTransport):
    """Lets somebody do something just before our first write goes out."""

    def __init__(self, deed: Callable[[], None]) -> None:
        super().__init__(HERE)
        self._deed, self._done = deed, False

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        if request.method in {"PUT", "DELETE"} and not self._done:
            self._done = True
            self._deed()
        return super().handle_request(request)


def changes(server: Radicale) -> None:
    server.put(name_of(1), edited(server.events()[name_of(1)], summary="At Jory's"))


def deletes(server: Radicale) -> None:
    assert server.ask("DELETE", name_of(1)).status_code == 200


def puts(server: Radicale) -> None:
    server.put(name_of(1), edited(item_of(1).text.encode(), summary="At Jory's"))


def puts_another(server: Radicale) -> None:
    server.put(name_of(1), item_of(1).text.replace(uid_of(1), "another"))


@pytest.mark.parametrize(("before", "deed", "after", "found"), [
    ([0], puts, [1], Found.CHANGED), ([0], puts_another, [1], Found.ANOTHER),
    ([1], changes, [], Found.CHANGED),
], ids=["creating", "creating over another", "deleting"])  # fmt: skip
def test_what_came_first_is_not_written_over(
    pusher: Pusher, server: Radicale, before: list[int], deed: Deed, after: list[int], found: Found
) -> None:
    pusher(items_of(before))
    theirs: dict[str, bytes] = {}

    def first() -> None:
        deed(server)
        theirs.update(server.events())

    pusher.transport = lambda: Meanwhile(first)
    tally = pusher(items_of([*(night for night in before if night != 1), *after]))
    assert [(one.uid, one.found, one.outcome) for one in tally.conflicts] == [
        (uid_of(1), found, Outcome.LEFT)
    ]
    assert server.events() == theirs


@pytest.mark.parametrize("conflicts", list(Conflicts))
@pytest.mark.parametrize("deed", [changes, deletes])
def test_an_update_that_comes_second_is_decided_anew(
    pusher: Pusher, server: Radicale, deed: Deed, conflicts: Conflicts
) -> None:
    pusher.conflicts = conflicts
    pusher(items_of([1]))
    theirs: dict[str, bytes] = {}

    def first() -> None:
        deed(server)
        theirs.update(server.events())

    pusher.transport = lambda: Meanwhile(first)
    tally = pusher([item_of(1, 1)])
    assert [one.found for one in tally.conflicts] == [Found.CHANGED if deed is changes else Found.DELETED]
    if conflicts is Conflicts.OVERWRITE:
        assert seen(server.events()) == expected([item_of(1, 1)])
    else:
        assert server.events() == theirs


def test_a_deletion_that_comes_second_is_none(pusher: Pusher, server: Radicale) -> None:
    pusher(items_of([1, 2]))
    pusher.transport = lambda: Meanwhile(lambda: deletes(server))
    tally = pusher(items_of([2]))
    assert (tally.deleted, tally.conflicts) == (1, [])
    assert seen(server.events()) == expected(items_of([2]))
    assert set(pusher.notes.pushed) == {uid_of(2)}
