"""Collections on others' servers, what was put there, and the pushes that come of changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from api.errors import NoSuch, Stale
from api.seal import SEAL_KEY, Seal, made_seal_key
from api.storage import (
    FeedRecord,
    JobRecord,
    JobState,
    NewCollection,
    NewFeed,
    NewOutcome,
    PushedRecord,
    Shows,
    Storage,
    Work,
    push_wish,
)
from api.storage.owners import StoredOwners

from .kept import NEW as NEW_SCENARIO
from .kept import a_job, a_night, a_scenario, begun, jobs_of, planned, told
from .test_kept import counts

NEW = NewCollection("https://calendar.example.org/nights/", "jory", b"sealed", "report")
NOBODY = "0" * 20


def a_feed(storage: Storage, shows: Shows = Shows.SCENARIO) -> tuple[str, FeedRecord]:
    """Keep a scenario and a feed that shows it; return both."""
    scenario = a_scenario(storage)
    club = storage.scenarios.get(scenario).club
    new = NewFeed(shows, scenario if shows is Shows.SCENARIO else None, None)
    return scenario, storage.feeds.add(club, new)


def pushes(storage: Storage, scenario: str) -> list[JobRecord]:
    club = storage.scenarios.get(scenario).club
    return [job for job in jobs_of(storage, club) if job.work is Work.PUSH]


def publish(storage: Storage, scenario: str, version: int, **nights: dict[str, object]) -> None:
    plan = planned(storage, scenario, version)
    storage.calendars.publish(scenario, told(storage, scenario, plan, **nights))


def test_a_collection_comes_back_as_it_was_kept(storage: Storage) -> None:
    _, feed = a_feed(storage)
    record = storage.collections.add(feed.id, NEW)
    assert storage.collections.get(record.id) == record
    assert (record.address, record.username, record.password, record.conflicts) == (
        NEW.address, "jory", b"sealed", "report"
    )  # fmt: skip
    assert (record.feed, record.told, record.revision, record.tag) == (feed.id, None, 1, '"r1"')
    other = storage.collections.add(feed.id, NEW)
    page = storage.collections.page(feed.id, None, 1)
    assert [one.id for one in page.items] == [other.id]
    assert storage.collections.page(feed.id, page.cursor, 9).items == (record,)
    assert storage.owners.club_of("collection", record.id) == feed.club
    assert "sealed" not in repr(record)


@pytest.mark.parametrize("deed", ["add", "page", "get", "delete", "replace", "scenario_of", "owner"])
def test_what_is_not_there_is_no_such_thing(storage: Storage, deed: str) -> None:
    kept, owners = storage.collections, storage.owners
    assert isinstance(owners, StoredOwners)
    deeds: dict[str, Callable[[], object]] = {
        "add": lambda: kept.add(NOBODY, NEW), "page": lambda: kept.page(NOBODY, None, 9),
        "get": lambda: kept.get(NOBODY), "delete": lambda: kept.delete(NOBODY, None),
        "replace": lambda: kept.replace(NOBODY, NEW, None), "scenario_of": lambda: kept.scenario_of(NOBODY),
        "owner": lambda: owners.club_of("collection", NOBODY),
    }  # fmt: skip
    with pytest.raises(NoSuch):
        deeds[deed]()


def test_a_change_keeps_the_password_unless_a_new_one_comes(storage: Storage) -> None:
    _, feed = a_feed(storage)
    record = storage.collections.add(feed.id, NEW)
    changed = storage.collections.replace(record.id, replace(NEW, password=None, conflicts="overwrite"), {1})
    assert (changed.password, changed.conflicts, changed.revision) == (b"sealed", "overwrite", 2)
    with pytest.raises(Stale):
        storage.collections.replace(record.id, NEW, {1})
    with pytest.raises(Stale):
        storage.collections.delete(record.id, {1})
    assert storage.collections.replace(record.id, replace(NEW, password=b"other"), None).password == b"other"
    storage.collections.delete(record.id, {3})
    with pytest.raises(NoSuch):
        storage.collections.get(record.id)


def test_what_was_put_is_remembered_until_it_is_forgotten(storage: Storage) -> None:
    _, feed = a_feed(storage)
    record, other = (storage.collections.add(feed.id, NEW) for _ in range(2))
    for one in (PushedRecord('"1"', "a" * 64), PushedRecord(None, "b" * 64), PushedRecord("", "c" * 64)):
        storage.collections.note(record, "uid-1", one)
        assert storage.collections.pushed(record.id) == {"uid-1": one}
    storage.collections.note(record, "uid-2", PushedRecord('"2"', "d" * 64))
    storage.collections.forget(record, "uid-1")
    storage.collections.forget(record, "uid-1")
    assert set(storage.collections.pushed(record.id)) == {"uid-2"}
    assert storage.collections.pushed(other.id) == {}


def test_a_push_of_a_collection_that_was_changed_meanwhile_keeps_nothing(storage: Storage) -> None:
    _, feed = a_feed(storage)
    record = storage.collections.add(feed.id, NEW)
    storage.collections.note(record, "uid-1", PushedRecord('"1"', "a" * 64))
    moved = replace(NEW, address="https://elsewhere.example.org/")
    now = storage.collections.replace(record.id, moved, None)
    assert storage.collections.pushed(record.id) == {}
    with pytest.raises(Stale):
        storage.collections.note(record, "uid-2", PushedRecord('"2"', "b" * 64))
    with pytest.raises(Stale):
        storage.collections.forget(record, "uid-1")
    storage.collections.note(now, "uid-2", PushedRecord('"2"', "b" * 64))
    same = storage.collections.replace(record.id, replace(moved, conflicts="overwrite"), None)
    assert set(storage.collections.pushed(same.id)) == {"uid-2"}
    storage.collections.delete(record.id, None)
    with pytest.raises(NoSuch):
        storage.collections.note(same, "uid-2", PushedRecord('"2"', "b" * 64))


def test_what_a_push_came_to_is_told_without_a_new_revision(storage: Storage) -> None:
    _, feed = a_feed(storage)
    record = storage.collections.add(feed.id, NEW)
    storage.collections.tell(record.id, {"created": 2, "problem": None})
    assert storage.collections.get(record.id) == replace(record, told={"created": 2, "problem": None})
    elsewhere = replace(NEW, address="https://elsewhere.example.org/")
    assert storage.collections.replace(record.id, elsewhere, {1}).told is None
    storage.collections.tell(NOBODY, {})


def test_a_collection_goes_with_its_feed_its_scenario_and_its_club(storage: Storage) -> None:
    empty = counts(storage)
    for goes in ("feed", "scenario", "club"):
        scenario, feed = a_feed(storage)
        record = storage.collections.add(feed.id, NEW)
        storage.collections.note(record, "uid-1", PushedRecord('"1"', "a" * 64))
        if goes == "feed":
            storage.feeds.delete(feed.id)
        elif goes == "scenario":
            storage.scenarios.delete(scenario, None)
        else:
            storage.clubs.delete(feed.club, None)
        left = counts(storage)
        assert (left["collections"], left["pushed"]) == (0, 0)
        if goes != "club":
            storage.clubs.delete(feed.club, None)
        assert counts(storage) == empty


def test_a_clubs_file_holds_no_collection(storage: Storage) -> None:
    _, feed = a_feed(storage)
    record = storage.collections.add(feed.id, NEW)
    file = storage.transfer.club(feed.club)
    assert record.id not in file
    assert NEW.address not in file


@pytest.mark.parametrize("shows", [Shows.SCENARIO, Shows.CLUB])
def test_what_a_feed_shows_changed_so_its_collections_get_a_push(storage: Storage, shows: Shows) -> None:
    scenario, feed = a_feed(storage, shows)
    of_another, another = a_feed(storage, shows)
    mine = [storage.collections.add(feed.id, NEW).id for _ in range(2)]
    storage.collections.add(another.id, NEW)
    publish(storage, scenario, 1, e20260912=a_night())
    assert [job.wish for job in reversed(pushes(storage, scenario))] == [push_wish(one) for one in mine]
    assert {job.scenario for job in pushes(storage, scenario)} == {scenario}
    assert pushes(storage, of_another) == []


def test_a_push_is_asked_for_once_until_it_is_begun(storage: Storage) -> None:
    scenario, feed = a_feed(storage)
    storage.collections.add(feed.id, NEW)
    publish(storage, scenario, 1, e20260912=a_night())
    publish(storage, scenario, 2, e20260912=a_night("Another"))
    (waiting,) = pushes(storage, scenario)
    assert storage.jobs.begin(waiting.id) is not None
    publish(storage, scenario, 3, e20260912=a_night("Yet another"))
    assert len(pushes(storage, scenario)) == 2, "the one at work may have read what it pushes already"


def test_a_withdrawal_that_waits_is_no_push(storage: Storage) -> None:
    scenario, feed = a_feed(storage)
    record = storage.collections.add(feed.id, NEW)

    storage.jobs.add(a_job(scenario, Work.PUSH, **push_wish(record.id, withdraw=True)), 99)
    publish(storage, scenario, 1, e20260912=a_night())
    assert len(pushes(storage, scenario)) == 2


def test_nothing_new_asks_for_no_push(storage: Storage) -> None:
    scenario, feed = a_feed(storage)
    publish(storage, scenario, 1, e20260912=a_night())
    storage.collections.add(feed.id, NEW)
    publish(storage, scenario, 2, e20260912=a_night())
    assert pushes(storage, scenario) == []


def test_an_announcement_and_an_outcome_ask_for_a_push(storage: Storage) -> None:
    scenario, feed = a_feed(storage)
    publish(storage, scenario, 1, e20260912=a_night())
    storage.collections.add(feed.id, NEW)
    storage.calendars.settle(scenario, False, 3, date(2026, 9, 1), None)
    (first,) = pushes(storage, scenario)
    storage.jobs.begin(first.id)
    storage.outcomes.add(scenario, [NewOutcome(date(2026, 9, 12), "clear")], 0)
    assert len(pushes(storage, scenario)) == 2
    storage.jobs.begin(pushes(storage, scenario)[0].id)
    storage.outcomes.add(scenario, [NewOutcome(date(2026, 9, 13), "clear")], 1)
    assert len(pushes(storage, scenario)) == 2, "no entry says anything of that night"


def test_a_publication_that_fails_asks_for_no_push(storage: Storage, monkeypatch: pytest.MonkeyPatch) -> None:
    """Job, entries and pushes: all or none."""
    scenario, feed = a_feed(storage)
    storage.collections.add(feed.id, NEW)
    plan = planned(storage, scenario, 1)
    job = begun(storage, scenario, Work.PUBLISH)
    monkeypatch.setattr("api.storage.pushes.new_id", lambda: job)  # an id that is taken
    with pytest.raises(Exception, match=r"(?i)unique"):
        storage.jobs.finish_by_publishing(job, told(storage, scenario, plan, e20260912=a_night()), "{}")
    assert pushes(storage, scenario) == []
    assert storage.jobs.get(job).state is JobState.AT_WORK
    with pytest.raises(NoSuch):
        storage.calendars.of(scenario)


def test_the_scenario_of_a_clubs_collection_is_the_one_whose_calendar_changed_last(storage: Storage) -> None:
    first, feed = a_feed(storage, Shows.CLUB)
    record = storage.collections.add(feed.id, NEW)
    with pytest.raises(NoSuch):
        storage.collections.scenario_of(record.id)

    second = storage.scenarios.add(feed.club, NEW_SCENARIO).id
    publish(storage, first, 1, e20260912=a_night())
    assert storage.collections.scenario_of(record.id) == first
    publish(storage, second, 1, e20260912=a_night())
    assert storage.collections.scenario_of(record.id) == second
    publish(storage, first, 2, e20260912=a_night("Another"))
    assert storage.collections.scenario_of(record.id) == first
    own = storage.feeds.add(feed.club, NewFeed(Shows.SCENARIO, second))
    assert storage.collections.scenario_of(storage.collections.add(own.id, NEW).id) == second


def test_a_password_outlives_a_change_of_the_seals_key(storage: Storage) -> None:
    old, new = made_seal_key(), made_seal_key()
    sealed = Seal({SEAL_KEY: old}).sealed("corréct horse:7")
    _, feed = a_feed(storage)
    record = storage.collections.add(feed.id, replace(NEW, password=sealed))
    kept = storage.collections.get(record.id).password
    assert b"horse" not in kept
    assert Seal({SEAL_KEY: f"{new},{old}"}).opened(kept) == "corréct horse:7"


def test_a_backup_holds_collections_and_what_was_put(storage: Storage, tmp_path: Path) -> None:
    _, feed = a_feed(storage)
    record = storage.collections.add(feed.id, NEW)
    storage.collections.note(record, "uid-1", PushedRecord('"1"', "a" * 64))
    storage.collections.tell(record.id, {"created": 1})
    storage.back_up(tmp_path / "backup.sqlite3")
    back = Storage(tmp_path / "backup.sqlite3")
    assert back.collections.get(record.id) == storage.collections.get(record.id)
    assert back.collections.pushed(record.id) == {"uid-1": PushedRecord('"1"', "a" * 64)}
    back.close()
