"""Copies of a whole database: as one file while the server writes, and into another database for good."""

from __future__ import annotations

import errno
import os
import secrets
import sqlite3
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from itertools import zip_longest
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, CursorResult, Row, String, Table, func, insert, select, text
from sqlalchemy.exc import DataError

from scheduler.errors import CannotWrite

from ..errors import DatabaseUnusable, DiskFull
from .database import Database
from .engines import first_line, told_plainly, url_of
from .tables import schema, workers

WATCH_S = 3.0
"""How long a worker's beat is watched for; a living one raises it every second."""
ROWS_AT_ONCE = 200


def back_up(source: Database, to: Path) -> Mapping[str, int]:
    """Write everything a database keeps at one moment into a new SQLite file, and count its rows by table.

    Who reads and writes meanwhile is not held up. The file has the name `to` only once it is whole, checked
    and on the disk.

    Raises
    ------
    CannotWrite
        If there is such a file already, or none can be made.
    DiskFull
        If there is no room for it; nothing is left of it.
    """
    if to.exists():
        raise CannotWrite(to, "there is a file of this name already")
    if not to.parent.is_dir():
        raise CannotWrite(to, f"there is no folder {to.parent}")
    unfinished = to.with_name(f"{to.name}.{secrets.token_hex(4)}.unfinished")
    try:
        with _told_of_file(to):
            unfinished.touch(mode=0o600)  # it holds what only the service may read
            with source.reading() as connection:
                counts = _count(connection)
                copy = _copy_of_file if source.sqlite else _copy_of_rows
                copy(connection, unfinished)
            _check_file(unfinished, counts)
            _name_for_good(unfinished, to)
    finally:
        for rest in ("", "-wal", "-shm", "-journal"):
            unfinished.with_name(unfinished.name + rest).unlink(missing_ok=True)
    return counts


def move(source: Database, target: Database, although_at_work: bool = False) -> Mapping[str, int]:
    """Copy every row into another, empty database, all or none, and count the rows by table.

    Numbers stay as they are, and none given before is given again. Before anything counts, both databases
    are compared row by row. Nobody can write to either of them meanwhile.

    Raises
    ------
    DatabaseUnusable
        If the target is not empty, or cannot hold a row; or if workers are at work on the source, unless
        that is told to be no matter.
    """
    if source.url == target.url:
        raise DatabaseUnusable(target.name, "it is the one to be moved")
    if not although_at_work and (alive := _at_work(source)):
        told = f"{alive} is at work on it; stop the service first"
        raise DatabaseUnusable(source.name, told)
    with source.writing() as before, target.writing() as after:
        if kept := {table: rows for table, rows in _count(after).items() if rows}:
            raise DatabaseUnusable(target.name, f"it is not empty: {_listed(kept)}")
        _copy_rows(before, after, target.name)
        for table in schema.sorted_tables:
            _compare(before, after, table, target.name)
        return _count(after)


def _at_work(source: Database) -> str | None:
    """Return the name of a process whose beat is raised while we look, None where there is none."""

    def beats() -> dict[str, int]:
        with source.reading() as connection:
            return {row.executor: row.beat for row in connection.execute(select(workers))}

    before, deadline = beats(), time.monotonic() + WATCH_S
    while before and time.monotonic() < deadline:
        time.sleep(0.1)
        for executor, beat in beats().items():
            if before.get(executor) != beat:
                return executor
    return None


def _copy_of_file(connection: Connection, path: Path) -> None:
    driver: Any = connection.connection.driver_connection
    with closing(sqlite3.connect(path)) as copy:
        driver.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, which can be opened where nothing is written


def _copy_of_rows(connection: Connection, path: Path) -> None:
    copy = Database(url_of(path), lambda: datetime.now(UTC), False)
    try:
        with copy.writing() as after:
            _copy_rows(connection, after, copy.name)
    finally:
        copy.close()
    with closing(sqlite3.connect(path)) as file:
        file.execute("PRAGMA journal_mode = DELETE")


def _copy_rows(before: Connection, after: Connection, name: str) -> None:
    for table in schema.sorted_tables:  # what belongs to something after it
        with _rows(before, table) as rows:
            for some in rows.partitions(ROWS_AT_ONCE):
                _insert(after, table, some, name)
        if "number" in table.c:
            _remember_given(after, table, _given(before, table))


def _insert(after: Connection, table: Table, rows: Sequence[Row[Any]], name: str) -> None:
    try:
        after.execute(insert(table), [dict(row._mapping) for row in rows])
    except DataError as error:
        raise DatabaseUnusable(name, f"it cannot hold a row of {table.name}: {first_line(error)}") from error


def _rows(connection: Connection, table: Table) -> CursorResult[Any]:
    """Every row of a table, in the order of its key, which is the same on every database."""
    sqlite = connection.dialect.name == "sqlite"
    order = [
        column.collate("BINARY" if sqlite else "C") if isinstance(column.type, String) else column
        for column in table.primary_key
    ]
    streamed = {"yield_per": ROWS_AT_ONCE}
    return connection.execute(select(table).order_by(*order), execution_options=streamed)


def _compare(before: Connection, after: Connection, table: Table, name: str) -> None:
    with _rows(before, table) as ours, _rows(after, table) as theirs:
        for one, other in zip_longest(ours, theirs):
            if one != other:
                raise DatabaseUnusable(name, f"a row of {table.name} would not stand there as it was")


def _given(connection: Connection, table: Table) -> int:
    """Return the highest number a table ever gave, rows deleted since included."""
    if connection.dialect.name == "sqlite":
        query = text("SELECT seq FROM sqlite_sequence WHERE name = :name")
        return connection.execute(query, {"name": table.name}).scalar() or 0
    sequence = connection.execute(select(func.pg_get_serial_sequence(table.name, "number"))).scalar_one()
    last, called = connection.execute(text(f"SELECT last_value, is_called FROM {sequence}")).one()
    return int(last) if called else 0


def _remember_given(connection: Connection, table: Table, number: int) -> None:
    if not number:
        return
    if connection.dialect.name == "sqlite":
        row = {"name": table.name, "number": number}
        connection.execute(text("DELETE FROM sqlite_sequence WHERE name = :name"), row)
        connection.execute(text("INSERT INTO sqlite_sequence (name, seq) VALUES (:name, :number)"), row)
    else:
        sequence = func.pg_get_serial_sequence(table.name, "number")
        connection.execute(select(func.setval(sequence, number)))


def _count(connection: Connection) -> dict[str, int]:
    return {
        table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
        for table in schema.sorted_tables
    }


def _check_file(path: Path, counts: Mapping[str, int]) -> None:
    with closing(sqlite3.connect(path)) as copy:
        found = {name: copy.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in counts}
        sound = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
        torn = copy.execute("PRAGMA foreign_key_check").fetchone()
    if found != counts or sound != "ok" or torn:
        raise CannotWrite(path, "the copy is not like the database; nothing was kept of it")


def _name_for_good(unfinished: Path, to: Path) -> None:
    with unfinished.open("rb") as written:
        os.fsync(written.fileno())
    try:
        to.hardlink_to(unfinished)  # unlike a renaming this never takes another file's place
    except FileExistsError:
        raise CannotWrite(to, "there is a file of this name already") from None
    except OSError:  # some file systems know one name a file
        unfinished.rename(to)
    folder = os.open(to.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


@contextmanager
def _told_of_file(to: Path) -> Iterator[None]:
    """Turn what goes wrong with a new file into errors of our own."""
    try:
        with told_plainly():
            yield
    except sqlite3.Error as error:
        if error.sqlite_errorname in {"SQLITE_FULL", "SQLITE_IOERR_SHMSIZE"}:
            raise DiskFull from error
        raise CannotWrite(to, str(error)) from error
    except OSError as error:
        if error.errno == errno.ENOSPC:
            raise DiskFull from error
        raise CannotWrite(to, error.strerror or str(error)) from error


def _listed(counts: Mapping[str, int]) -> str:
    return ", ".join(f"{rows} {table}" for table, rows in counts.items())
