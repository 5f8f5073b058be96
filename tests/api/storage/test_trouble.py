"""A full disk, a server gone: told plainly, nothing half-written, at work again when it is over."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from psycopg.sql import SQL, Identifier
from sqlalchemy import event, make_url, text
from sqlalchemy.exc import IntegrityError, OperationalError

from api.errors import DatabaseUnusable, DiskFull, NotReady
from api.problems import problem_of
from api.storage import NewScenario, ScenarioFiles, Storage
from api.storage.engines import told_plainly

from ..databases import Where, the_server
from .kept import LINE, NEW, a_plan, a_scenario, begun, fill
from .test_kept import counts, everything

ROOT = Path(__file__).parents[3]
LARGE = NewScenario("large", "", 1, NEW.season_start, 9, ScenarioFiles(bytes(200_000), b"csv"))


@contextmanager
def no_room(storage: Storage) -> Iterator[Callable[[bool], None]]:
    """Let a SQLite file grow no more, as on a full disk, until told otherwise."""
    engine, limits = storage._database._engine, {"pages": 1}

    def limit(connection: Any, *_: object) -> None:
        connection.execute(f"PRAGMA max_page_count = {limits['pages']}").close()  # never below what it has

    event.listen(engine, "checkout", limit)

    def room(there: bool) -> None:
        limits["pages"] = 1_000_000 if there else 1

    yield room
    event.remove(engine, "checkout", limit)


def test_a_full_disk_is_said_so_and_nothing_is_kept_by_halves(tmp_path: Path) -> None:
    storage = Storage(tmp_path / "kept.sqlite3")
    filled = fill(storage)
    before, rows = everything(storage, filled.club), counts(storage)
    job = begun(storage, filled.scenarios[1])
    large = {"plan.json": "x" * 200_000}
    with no_room(storage) as room:
        for write in (
            lambda: storage.scenarios.add(filled.club, LARGE),
            lambda: storage.scenarios.replace(filled.scenarios[0], LARGE, None),
            lambda: storage.jobs.finish(job, a_plan(1, files=large)),
        ):
            with pytest.raises(DiskFull):
                write()
        assert counts(storage) == rows | {"jobs": rows["jobs"] + 1}
        assert [one for one in everything(storage, filled.club) if getattr(one, "id", "") != job] == before
        storage.check()
        room(True)
        assert storage.jobs.finish(job, a_plan(1, files=large))
        assert storage.scenarios.replace(filled.scenarios[0], LARGE, None).revision == 3
    storage.close()


def test_a_disk_that_fills_while_many_write_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    storage = Storage(tmp_path / "kept.sqlite3")
    scenario = a_scenario(storage)

    def write(number: int) -> str | None:
        try:
            return storage.clubs.add("x" * 150 + str(number)).id
        except DiskFull:
            return None

    with no_room(storage) as room, ThreadPoolExecutor(8) as pool:
        tried = list(pool.map(write, range(300)))
        acknowledged = {club for club in tried if club is not None}
        assert 0 < len(acknowledged) < 300
        kept = {club.id for club in storage.clubs.page(None, 1000).items}
        assert len(kept) == len(acknowledged) + 1
        assert acknowledged < kept
        room(True)
        assert storage.outcomes.add(scenario, [LINE], 0)
    storage.close()


FULL_WHILE_MADE = """
import resource, signal, sys
from pathlib import Path
from api.errors import ServiceError
from api.storage import Storage
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), resource.RLIM_INFINITY))
try:
    Storage(Path(sys.argv[1]))
except ServiceError as error:
    print(type(error).__name__)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
storage = Storage(Path(sys.argv[1]))
print(storage.clubs.add("room again").number)
"""


@pytest.mark.parametrize("most_bytes", [0, 4096, 40_000])
def test_a_database_that_could_not_be_made_for_want_of_room_is_made_later(
    tmp_path: Path, most_bytes: int
) -> None:
    """The system itself refuses to let the file grow."""
    run = subprocess.run(
        [sys.executable, "-c", FULL_WHILE_MADE, str(tmp_path / "kept.sqlite3"), str(most_bytes)], cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert run.stdout.split() in (["DatabaseUnusable", "1"], ["DiskFull", "1"])


@contextmanager
def away(database: str) -> Iterator[None]:
    """Let nobody into a PostgreSQL database, and show everybody out of it."""
    name = make_url(database).database
    assert name is not None
    allow = SQL("ALTER DATABASE {} ALLOW_CONNECTIONS {}")
    with psycopg.connect(the_server(), autocommit=True) as admin:
        admin.execute(allow.format(Identifier(name), SQL("false")))
        admin.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [name])
        try:
            yield
        finally:
            admin.execute(allow.format(Identifier(name), SQL("true")))


def test_a_server_that_goes_away_is_waited_for(database: Where) -> None:
    if isinstance(database, Path):
        return
    storage = Storage(database)
    filled = fill(storage)
    kept = everything(storage, filled.club)
    storage.check()
    with away(database):
        for ask in (
            storage.check,
            lambda: storage.clubs.get(filled.club),
            lambda: storage.clubs.add("Meanwhile"),
            lambda: storage.scenarios.replace(filled.scenarios[0], NEW, None),
        ):
            with pytest.raises(NotReady, match="the database does not answer"):
                ask()
        with pytest.raises(DatabaseUnusable):
            Storage(database)
    storage.check()
    assert everything(storage, filled.club) == kept
    assert storage.clubs.add("After").name == "After"
    storage.close()


def test_a_server_that_goes_away_in_the_middle_of_a_change_keeps_nothing_of_it(database: Where) -> None:
    if isinstance(database, Path):
        return
    storage = Storage(database)
    before = fill(storage)
    kept, rows = everything(storage, before.club), counts(storage)

    def change() -> None:
        with storage._database.writing() as connection:
            connection.execute(text("DELETE FROM clubs"))
            with away(database):
                connection.execute(text("SELECT 1"))

    with pytest.raises(NotReady):
        change()
    assert everything(storage, before.club) == kept
    assert counts(storage) == rows
    storage.close()


def test_what_was_acknowledged_before_the_server_went_is_there_when_it_is_back(database: Where) -> None:
    if isinstance(database, Path):
        return
    storage = Storage(database)

    def write(number: int) -> str | None:
        try:
            return storage.clubs.add(str(number)).id
        except NotReady:
            return None

    with ThreadPoolExecutor(8) as pool:
        begun_writes = [pool.submit(write, number) for number in range(200)]
        begun_writes[20].result()
        with away(database):
            pass
        tried = [one.result() for one in begun_writes]
    acknowledged = {club for club in tried if club is not None}
    kept = {club.id for club in storage.clubs.page(None, 1000).items}
    assert len(acknowledged) > 20
    assert acknowledged <= kept
    storage.close()


def test_a_file_that_went_bad_is_not_ready(storage: Storage) -> None:
    with storage._database.writing() as connection:
        connection.execute(text("ALTER TABLE scenarios RENAME TO lost"))
    with pytest.raises(NotReady, match="the database does not answer"):
        storage.check()


def test_where_the_database_is_no_stranger_is_told() -> None:
    said = 'connection to server at "192.0.2.7" failed for user "club"'
    with pytest.raises(NotReady, match=r"192\.0\.2\.7") as raised, told_plainly():
        raise OperationalError("SELECT 1", None, Exception(said))
    problem = problem_of(raised.value)
    assert problem["detail"] == problem["reason"] == "the database does not answer"
    assert "192.0.2.7" not in str(problem)


def test_a_fault_of_ours_is_not_taken_for_trouble_of_the_database(storage: Storage) -> None:
    with pytest.raises(IntegrityError), storage._database.writing() as connection:
        connection.execute(text("INSERT INTO clubs (id) VALUES ('x')"))
