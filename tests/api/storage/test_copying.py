"""Backups while others write, and moves between databases: everything arrives as it was, or nothing does."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from api.errors import DatabaseUnusable, DiskFull
from api.storage import Noun, Storage, copying
from api.storage.records import NewShared
from scheduler.errors import CannotWrite

from ..databases import KINDS, Where
from .kept import CLOUD, NEW, a_job, fill
from .test_kept import counts, everything
from .test_transfer import storage_of


def full_of(storage: Storage) -> tuple[str, list[Any]]:
    """Fill a database, with gaps where something was deleted; return a club and all it has."""
    gone = fill(storage, "Gone")
    filled = fill(storage)
    storage.clubs.delete(gone.club, None)
    storage.clubs.delete(storage.clubs.add("The youngest, gone too").id, None)
    storage.jobs.add(a_job(filled.scenarios[1], key="waits"), 99)
    storage.workers.beat("worker", "a host")
    return filled.club, everything(storage, filled.club)


def test_a_backup_holds_everything_and_opens_as_a_database(storage: Storage, tmp_path: Path) -> None:
    club, kept = full_of(storage)
    told = storage.back_up(tmp_path / "backup.sqlite3")
    assert told == counts(storage)
    assert (tmp_path / "backup.sqlite3").stat().st_mode & 0o777 == 0o600
    assert [one.name for one in tmp_path.iterdir() if "backup" in one.name] == ["backup.sqlite3"]
    copy = Storage(tmp_path / "backup.sqlite3")
    assert everything(copy, club) == kept
    assert copy.clubs.add("New").number > 3
    copy.close()
    storage.check()


def test_a_backup_takes_nobodys_place(storage: Storage, tmp_path: Path) -> None:
    path = tmp_path / "backup.sqlite3"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(CannotWrite, match="there is a file of this name already"):
        storage.back_up(path)
    assert path.read_text(encoding="utf-8") == "mine"
    with pytest.raises(CannotWrite, match="there is no folder"):
        storage.back_up(tmp_path / "nowhere" / "backup.sqlite3")


def test_a_file_that_came_meanwhile_is_not_overwritten(
    storage: Storage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "backup.sqlite3"
    check = copying._check_file

    def slowly(*words: Any) -> None:
        check(*words)
        path.write_text("mine", encoding="utf-8")

    monkeypatch.setattr(copying, "_check_file", slowly)
    with pytest.raises(CannotWrite, match="already"):
        storage.back_up(path)
    assert path.read_text(encoding="utf-8") == "mine"
    assert list(tmp_path.glob("*unfinished*")) == []


@pytest.mark.parametrize("harm", ["a row less", "a torn page"])
def test_a_copy_that_is_not_like_the_database_is_not_kept(
    storage: Storage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, harm: str
) -> None:
    full_of(storage)
    name = "_copy_of_file" if storage._database.sqlite else "_copy_of_rows"
    copy = getattr(copying, name)

    def harmed(connection: Any, path: Path) -> None:
        copy(connection, path)
        with closing(sqlite3.connect(path)) as file:
            if harm == "a row less":
                file.execute("DELETE FROM workers")
                file.commit()
                return
            (page,) = file.execute("SELECT rootpage FROM sqlite_master WHERE name = 'jobs'").fetchone()
        content = bytearray(path.read_bytes())
        content[(page - 1) * 4096 : (page - 1) * 4096 + 40] = bytes(40)
        path.write_bytes(content)

    monkeypatch.setattr(copying, name, harmed)
    with pytest.raises(CannotWrite):
        storage.back_up(tmp_path / "backup.sqlite3")
    assert [one.name for one in tmp_path.iterdir() if "backup" in one.name] == []


def test_a_backup_without_room_leaves_nothing(
    storage: Storage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full_of(storage)

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(copying, "_name_for_good", full)
    with pytest.raises(DiskFull):
        storage.back_up(tmp_path / "backup.sqlite3")
    assert list(tmp_path.glob("backup*")) == []
    storage.check()


@contextmanager
def writers(storage: Storage, number: int) -> Iterator[list[tuple[str, float]]]:
    """Threads that keep pairs which belong together, and note what was acknowledged, and when."""
    noted: list[tuple[str, float]] = []
    stop = threading.Event()

    def write(mine: int) -> None:
        count = 0
        while not stop.is_set():
            count += 1
            name = f"{mine}-{count}"
            club = storage.clubs.add(name).id
            scenario = storage.scenarios.add(club, NEW).id  # one transaction: the scenario and its revision
            storage.outcomes.add(scenario, [CLOUD, CLOUD, CLOUD], 0)
            noted.append((club, time.monotonic()))

    threads = [threading.Thread(target=write, args=(mine,)) for mine in range(number)]
    for thread in threads:
        thread.start()
    try:
        yield noted
    finally:
        stop.set()
        for thread in threads:
            thread.join()


def test_a_backup_under_writers_holds_all_that_was_acknowledged_and_nothing_by_halves(
    storage: Storage, tmp_path: Path
) -> None:
    for _ in range(3):
        full_of(storage)
    with writers(storage, 8) as noted:
        time.sleep(1.0)
        began = time.monotonic()
        storage.back_up(tmp_path / "backup.sqlite3")
        ended = time.monotonic()
        time.sleep(0.3)
    before = {club for club, when in noted if when < began}
    assert before
    assert any(when > ended for _, when in noted)
    with closing(sqlite3.connect(tmp_path / "backup.sqlite3")) as copy:
        kept = {row[0] for row in copy.execute("SELECT id FROM clubs")}
        assert before <= kept
        lines = copy.execute(
            "SELECT clubs.id, count(outcomes.line) FROM clubs JOIN scenarios ON scenarios.club = clubs.id"
            " LEFT JOIN outcomes ON outcomes.scenario = scenarios.id WHERE clubs.name LIKE '%-%'"
            " GROUP BY clubs.id"
        ).fetchall()
        assert {number for _, number in lines} <= {0, 3}
        assert all(number == 3 for club, number in lines if club in before)
        halves = "SELECT count(*) FROM scenarios WHERE id NOT IN (SELECT scenario FROM revisions)"
        assert copy.execute(halves).fetchone() == (0,)
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)


@pytest.mark.parametrize("there", KINDS)
@pytest.mark.parametrize("here", KINDS)
def test_a_database_is_moved_row_by_row(
    tmp_path: Path, here: str, there: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copying, "WATCH_S", 0.0)
    with storage_of(here, tmp_path / "here") as first, storage_of(there, tmp_path / "there") as second:
        club, kept = full_of(first)
        assert first.move_to(second) == counts(first) == counts(second)
        assert everything(second, club) == kept
        assert second.scenarios.files(kept_scenario(kept)) == first.scenarios.files(kept_scenario(kept))
        new = [storage.clubs.add("New").number for storage in (first, second)]
        assert new[0] == new[1] == 4
        assert fill(second)


def kept_scenario(kept: list[Any]) -> str:
    return next(str(one.id) for one in kept if type(one).__name__ == "ScenarioRecord")


def test_a_target_that_holds_something_is_refused_untouched(tmp_path: Path, storage: Storage) -> None:
    with storage_of("sqlite", tmp_path / "source") as source:
        full_of(source)
        kept = storage.clubs.add("Mine")
        with pytest.raises(DatabaseUnusable, match="it is not empty: 1 clubs"):
            source.move_to(storage, although_at_work=True)
        assert storage.clubs.page(None, 9).items == (kept,)
    with pytest.raises(DatabaseUnusable, match="it is the one to be moved"):
        storage.move_to(storage)


def test_a_move_is_all_or_nothing(tmp_path: Path, storage: Storage, monkeypatch: pytest.MonkeyPatch) -> None:
    with storage_of("sqlite", tmp_path / "source") as source:
        full_of(source)
        insert_given = copying._remember_given

        def failing(connection: Any, table: Any, number: int) -> None:
            insert_given(connection, table, number)
            if table.name == "jobs":
                raise DiskFull

        monkeypatch.setattr(copying, "_remember_given", failing)
        with pytest.raises(DiskFull):
            source.move_to(storage, although_at_work=True)
        assert set(counts(storage).values()) == {0}
        monkeypatch.undo()
        source.move_to(storage, although_at_work=True)
        assert counts(storage) == counts(source)


def test_a_row_that_arrives_otherwise_is_noticed(
    tmp_path: Path, storage: Storage, monkeypatch: pytest.MonkeyPatch
) -> None:
    with storage_of("sqlite", tmp_path / "source") as source:
        full_of(source)
        insert_given = copying._remember_given

        def harming(connection: Any, table: Any, number: int) -> None:
            insert_given(connection, table, number)
            if table.name == "sites":
                connection.execute(text("UPDATE sites SET revision = revision + 1"))

        monkeypatch.setattr(copying, "_remember_given", harming)
        with pytest.raises(DatabaseUnusable, match="a row of sites would not stand there as it was"):
            source.move_to(storage, although_at_work=True)
        assert set(counts(storage).values()) == {0}


def test_what_postgresql_cannot_hold_is_said_and_nothing_moved(tmp_path: Path, database: Where) -> None:
    if isinstance(database, Path):
        return
    target = Storage(database)
    with storage_of("sqlite", tmp_path / "source") as source:
        source.shared[Noun.SITE].add(source.clubs.add("Larkmoor").id, NewShared("NUL \0 in it", {}))
        with pytest.raises(DatabaseUnusable, match="cannot hold a row of sites"):
            source.move_to(target)
        assert set(counts(target).values()) == {0}
    target.close()


@contextmanager
def beating(storage: Storage) -> Iterator[None]:
    stop = threading.Event()

    def beat() -> None:
        while not stop.wait(0.2):
            storage.workers.beat("alive", "a host")

    thread = threading.Thread(target=beat)
    thread.start()
    yield
    stop.set()
    thread.join()


def test_a_database_at_work_is_not_moved_unless_told_to(tmp_path: Path, storage: Storage) -> None:
    with storage_of("sqlite", tmp_path / "target") as target:
        club, _ = full_of(storage)
        storage.workers.beat("alive", "a host")
        with (
            beating(storage),
            pytest.raises(DatabaseUnusable, match="alive is at work on it; stop the service"),
        ):
            storage.move_to(target)
        assert set(counts(target).values()) == {0}
        storage.move_to(target)  # nobody alive is left, though a worker's name is
        assert target.clubs.get(club) == storage.clubs.get(club)
    with storage_of("sqlite", tmp_path / "another") as another, beating(storage):
        storage.move_to(another, although_at_work=True)


def test_nobody_writes_to_what_is_being_moved(tmp_path: Path, storage: Storage) -> None:
    """A write that is acknowledged is in the target, or came after the move was done."""
    with storage_of("sqlite", tmp_path / "target") as target:
        full_of(storage)
        with writers(storage, 4) as noted:
            time.sleep(0.5)
            began = time.monotonic()
            storage.move_to(target, although_at_work=True)
        moved = {club.id for club in target.clubs.page(None, 10_000).items}
        assert {club for club, when in noted if when < began} <= moved
        with target._database.reading() as connection:
            assert connection.execute(text("SELECT count(*) FROM clubs")).scalar_one() == len(moved)
    storage.check()
