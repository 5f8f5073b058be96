"""The SQLite file: how it is opened, and the two ways to use it."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, TypeAlias

from sqlalchemy import URL, Connection, Engine, Select, Table, create_engine, event, text
from sqlalchemy.exc import SQLAlchemyError

from ..errors import DatabaseUnusable, NotReady
from .tables import SCHEMA_VERSION, schema

Clock: TypeAlias = Callable[[], datetime]
BUSY_TIMEOUT_MS = 10_000
MOST_THREADS = 64


class Database:
    """One SQLite file in WAL mode, with foreign keys; every use of it is one transaction."""

    def __init__(self, path: Path, now: Clock) -> None:
        self.now = now
        self._engine = _engine_of(path)
        self._writer = self._engine.execution_options(writing=True)
        try:
            self._make_tables()
        except (SQLAlchemyError, DatabaseUnusable) as error:
            self.close()
            reason = error.reason if isinstance(error, DatabaseUnusable) else _first_line(error)
            raise DatabaseUnusable(str(path), reason) from error

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the database and changes nothing."""
        with self._engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that holds the only pen from its start, so that what it reads stays true."""
        with self._writer.begin() as connection:
            yield connection

    def check(self) -> None:
        """Raise `NotReady` unless the database answers."""
        try:
            with self.reading() as connection:
                connection.execute(text("SELECT count(*) FROM scenarios WHERE number = 0"))
        except SQLAlchemyError as error:
            raise NotReady(f"the database does not answer: {_first_line(error)}") from error

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    def _make_tables(self) -> None:
        with self.writing() as connection:
            found = connection.execute(text("PRAGMA user_version")).scalar_one()
            if found not in (0, SCHEMA_VERSION):
                raise DatabaseUnusable("", f"its format is {found}, this version reads {SCHEMA_VERSION}")
            schema.create_all(connection)
            connection.execute(text(f"PRAGMA user_version = {SCHEMA_VERSION}"))


def new_id() -> str:
    """Return an id nobody can guess: 20 lower-case hexadecimal digits."""
    return secrets.token_hex(10)


def page_of(
    connection: Connection, table: Table, query: Select[Any], cursor: int | None, limit: int
) -> tuple[list[dict[str, Any]], int | None]:
    """Return up to `limit` rows older than `cursor`, newest first, and the cursor of what follows."""
    if cursor is not None:
        query = query.where(table.c.number < cursor)
    found = connection.execute(query.order_by(table.c.number.desc()).limit(limit + 1)).mappings().all()
    rows = [dict(row) for row in found[:limit]]
    return rows, rows[-1]["number"] if len(found) > limit else None


def _engine_of(path: Path) -> Engine:
    engine = create_engine(
        URL.create("sqlite", database=str(path)), pool_size=4, max_overflow=MOST_THREADS,
        connect_args={"check_same_thread": False},
    )  # fmt: skip
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _prepare(connection: Any, _record: object) -> None:
    connection.isolation_level = (
        None  # we write BEGIN ourselves; the driver would only begin at the first change
    )
    for pragma in (f"busy_timeout = {BUSY_TIMEOUT_MS}", "journal_mode = WAL", "foreign_keys = ON",
                   "synchronous = FULL"):  # fmt: skip
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    # Who reads first and writes later cannot wait for another writer; who begins as a writer can.
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def _first_line(error: Exception) -> str:
    return str(error).partition("\n")[0]
