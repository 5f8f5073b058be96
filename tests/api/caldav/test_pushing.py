"""Pushing to a real calendar server; its end state is read from its own folder, by another reader."""

from __future__ import annotations

import threading
from collections.abc import Iterable
from dataclasses import replace

import httpx2
import pytest

from api.caldav import (
    Calendar,
    Conflicts,
    Course,
    Found,
    Login,
    Outcome,
    PinnedTransport,
    Tally,
    There,
    push,
)

from .conftest import HERE, Pusher
from .events import Notes, edited, evening_of, expected, item_of, items_of, name_of, seen, uid_of
from .radicale import PASSWORD, USER, Radicale

STRANGER = (
    "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Another//Program//EN\r\nBEGIN:VEVENT\r\nUID:dentist\r\n"
    "DTSTAMP:20260101T000000Z\r\nDTSTART:20260913T080000Z\r\nDTEND:20260913T090000Z\r\n"
    "SUMMARY:Dentist\r\nX-ODD:\\kept as it is\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
)


def counts(tally: Tally) -> tuple[int, int, int, int]:
    return tally.created, tally.updated, tally.deleted, tally.unchanged


def told(tally: Tally) -> list[tuple[str, Found, Outcome]]:
    return [(one.uid, one.found, one.outcome) for one in tally.conflicts]


def test_what_a_feed_shows_is_created_updated_and_deleted(pusher: Pusher, server: Radicale) -> None:
    first = items_of(range(5))
    assert counts(pusher(first)) == (5, 0, 0, 0)
    assert seen(server.events()) == expected(first)
    later = [item_of(0), item_of(1, 1, "M 57 alone"), item_of(2, 1, off=True), item_of(5)]
    assert counts(pusher(later)) == (1, 2, 2, 1)
    assert seen(server.events()) == expected(later)
    assert seen(server.events())[uid_of(2)][2] == "CANCELLED"
    assert set(pusher.notes.pushed) == {item.uid for item in later}


def test_every_word_of_an_event_arrives(pusher: Pusher, server: Radicale) -> None:
    item = item_of(1)
    pusher([item])
    kept = server.events()[name_of(1)].decode().replace("\r\n ", "")
    wanted = item.text.replace("\r\n ", "")
    assert set(wanted.splitlines()) < set(kept.splitlines())


def test_a_push_of_what_is_there_writes_nothing(pusher: Pusher, server: Radicale) -> None:
    items = items_of(range(30))
    pusher(items)
    writes, requests, before = server.writes(), len(server.requests()), server.events()
    assert counts(pusher(items)) == (0, 0, 0, 30)
    assert server.writes() == writes
    assert [method for method, _ in server.requests()[requests:]] == ["PROPFIND", "REPORT"]
    assert server.events() == before


def test_when_an_event_was_written_is_no_change(pusher: Pusher, server: Radicale) -> None:
    pusher([item_of(1)])
    writes = server.writes()
    later = item_of(1)
    later = replace(later, text=later.text.replace("DTSTAMP:2026", "DTSTAMP:2027"))
    assert counts(pusher([later])) == (0, 0, 0, 1)
    assert server.writes() == writes


@pytest.mark.parametrize("conflicts", list(Conflicts))
def test_an_event_changed_by_hand_and_not_by_the_plan(
    pusher: Pusher, server: Radicale, conflicts: Conflicts
) -> None:
    pusher.conflicts = conflicts
    pusher(items_of([1, 2]))
    theirs = edited(server.events()[name_of(1)], summary="Observing, at Jory's")
    server.put(name_of(1), theirs)
    kept, writes = server.events(), server.writes()
    tally = pusher(items_of([1, 2]))
    outcome = {
        Conflicts.REPORT: Outcome.LEFT, Conflicts.KEEP: Outcome.KEPT,
        Conflicts.OVERWRITE: Outcome.OVERWRITTEN,
    }[conflicts]  # fmt: skip
    assert told(tally) == [(uid_of(1), Found.CHANGED, outcome)]
    assert tally.conflicts[0].evening == evening_of(1)
    if conflicts is Conflicts.OVERWRITE:
        assert seen(server.events()) == expected(items_of([1, 2]))
    else:
        assert server.events() == kept
        assert server.writes() == writes


def test_a_change_by_hand_is_told_again_until_it_is_settled(pusher: Pusher, server: Radicale) -> None:
    pusher([item_of(1)])
    ours = server.events()[name_of(1)]
    server.put(name_of(1), edited(ours, summary="Elsewhere"))
    for _ in range(2):
        assert [found for _, found, _ in told(pusher([item_of(1, 1)]))] == [Found.CHANGED]
    server.put(name_of(1), ours.decode())
    assert counts(pusher([item_of(1, 1)])) == (0, 1, 0, 0)
    assert seen(server.events()) == expected([item_of(1, 1)])


def test_what_is_kept_as_theirs_is_told_once_for_each_version_of_ours(
    pusher: Pusher, server: Radicale
) -> None:
    pusher.conflicts = Conflicts.KEEP
    pusher([item_of(1), item_of(2)])
    server.put(name_of(1), edited(server.events()[name_of(1)], summary="Elsewhere"))
    assert server.ask("DELETE", name_of(2)).status_code == 200
    kept = server.events()
    first = pusher([item_of(1), item_of(2)])
    assert told(first) == [
        (uid_of(1), Found.CHANGED, Outcome.KEPT), (uid_of(2), Found.DELETED, Outcome.KEPT)
    ]  # fmt: skip
    again = pusher([item_of(1), item_of(2)])
    assert (told(again), again.kept) == ([], 2)
    moved = pusher([item_of(1, 1), item_of(2, 1)])
    assert len(told(moved)) == 2
    assert pusher([item_of(1, 1), item_of(2, 1)]).kept == 2
    assert server.events() == kept
    gone = pusher([])
    assert told(gone) == [(uid_of(1), Found.CHANGED, Outcome.KEPT)]
    assert server.events() == kept
    assert pusher.notes.pushed == {}


@pytest.mark.parametrize("conflicts", list(Conflicts))
def test_an_event_deleted_by_hand(pusher: Pusher, server: Radicale, conflicts: Conflicts) -> None:
    pusher.conflicts = conflicts
    pusher(items_of([1, 2]))
    assert server.ask("DELETE", name_of(1)).status_code == 200
    tally = pusher([item_of(1, 1), item_of(2)])
    assert [found for _, found, _ in told(tally)] == [Found.DELETED]
    back = [item_of(1, 1), item_of(2)] if conflicts is Conflicts.OVERWRITE else [item_of(2)]
    assert seen(server.events()) == expected(back)


@pytest.mark.parametrize("conflicts", list(Conflicts))
def test_an_event_changed_by_hand_and_wanted_no_longer(
    pusher: Pusher, server: Radicale, conflicts: Conflicts
) -> None:
    pusher.conflicts = conflicts
    pusher([item_of(1)])
    server.put(name_of(1), edited(server.events()[name_of(1)], summary="Elsewhere"))
    kept = server.events()
    assert [found for _, found, _ in told(pusher([]))] == [Found.CHANGED]
    assert server.events() == ({} if conflicts is Conflicts.OVERWRITE else kept)


@pytest.mark.parametrize("conflicts", list(Conflicts))
def test_strangers_stay_untouched_to_the_byte(pusher: Pusher, server: Radicale, conflicts: Conflicts) -> None:
    pusher.conflicts = conflicts
    server.put("dentist.ics", STRANGER)
    server.put(name_of(3), STRANGER.replace("UID:dentist", "UID:another"))
    before = server.events()
    for items in (items_of(range(5)), [item_of(night, 1) for night in range(5)], []):
        tally = pusher(items)
        another = [(uid_of(3), Found.ANOTHER, Outcome.LEFT)] if items else []
        assert told(tally) == another
        after = server.events()
        assert {name: after[name] for name in before} == before
    assert server.events() == before
    asked = {path for _, path in server.requests()}
    assert not any(path.endswith("dentist.ics") for path in asked - {"/stargazers/nights/dentist.ics"})


def test_strangers_are_not_even_asked_for(pusher: Pusher, server: Radicale) -> None:
    server.put("dentist.ics", STRANGER)
    answers: list[bytes] = []

    class Listening(PinnedTransport):
        def handle_request(self, request: httpx2.Request) -> httpx2.Response:
            answer = super().handle_request(request)
            answers.append(answer.read())
            return answer

    pusher.transport = lambda: Listening({"127.0.0.1"})
    pusher(items_of([1, 2]))
    pusher([item_of(1, 1)])
    assert len(answers) == 8
    assert not any(b"dentist" in answer.lower() for answer in answers)


def test_our_event_under_another_address_is_told(pusher: Pusher, server: Radicale) -> None:
    server.put("imported.ics", item_of(1).text)
    before = server.events()
    assert told(pusher([item_of(1)])) == [(uid_of(1), Found.ELSEWHERE, Outcome.LEFT)]
    assert server.events() == before


def test_what_we_put_is_known_again_after_all_was_forgotten(pusher: Pusher, server: Radicale) -> None:
    """As after an older copy of the database was put back."""
    pusher([item_of(night, 1) for night in range(4)])
    server.put(name_of(3), edited(server.events()[name_of(3)], summary="Elsewhere"))
    pusher.notes = Notes()
    writes = server.writes()
    now = [item_of(0, 1), item_of(1, 2), item_of(2, 1), item_of(3, 1)]
    tally = pusher(now)
    assert counts(tally) == (0, 1, 0, 2)
    assert told(tally) == [(uid_of(3), Found.CHANGED, Outcome.LEFT)]
    assert server.writes() == writes + 1


def test_two_pushes_at_once_end_alike(server: Radicale) -> None:
    items = [[item_of(night, version) for night in range(20)] for version in (0, 1, 1)]
    notes = Notes()
    Pusher(server.calendar, notes)(items[0])
    pushers = [Pusher(server.calendar, notes) for _ in range(2)]
    tallies: list[Tally] = []
    for version in (1, 2):
        threads = [
            threading.Thread(target=lambda one=one, v=version: tallies.append(one(items[v])))
            for one in pushers
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
    assert len(tallies) == 4
    assert [tally.conflicts for tally in tallies] == [[]] * 4
    assert seen(server.events()) == expected(items[1])
    writes = server.writes()
    assert counts(Pusher(server.calendar, notes)(items[1])) == (0, 0, 0, 20)
    assert server.writes() == writes


def test_an_older_push_does_not_undo_a_later_one(server: Radicale) -> None:
    """The older one has looked, and then the later one wrote."""
    notes = Notes()
    older, later = Pusher(server.calendar, notes), Pusher(server.calendar, notes)
    older([item_of(1)])

    class Slow(Calendar):
        def tags(self, uids: Iterable[str]) -> dict[str, There]:
            before = super().tags(uids)
            later([item_of(1, 2, "the latest")])
            return before

    tally = Tally()
    pushed = dict(notes.pushed)
    with Slow(server.calendar, Login(USER, PASSWORD), PinnedTransport(HERE), bool) as calendar:
        push(calendar, [item_of(1, 1, "older")], pushed, Conflicts.OVERWRITE, Course(notes), tally)
    assert seen(server.events()) == expected([item_of(1, 2)])
    assert "the latest" in server.events()[name_of(1)].decode()
