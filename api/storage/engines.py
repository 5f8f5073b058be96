"""How SQLite and PostgreSQL are spoken to, and what their complaints mean."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from ..errors import DatabaseUnusable, DiskFull, NotReady

BUSY_TIMEOUT_MS = 10_000
MOST_THREADS = 64
MOST_CONNECTIONS = 16
"""Of one process to PostgreSQL, whose server lets a hundred in if nobody told it otherwise."""
THE_PEN = 0x6475736B
"""The PostgreSQL advisory lock every writing transaction holds; any number nobody else uses will do."""

FULL = {"SQLITE_FULL", "SQLITE_IOERR_SHMSIZE", "53100"}
DAMAGED = {"SQLITE_NOTADB", "XX001", "XX002"}
"""Names of SQLite's result codes, and codes of PostgreSQL's errors (its manual, appendix A)."""


def url_of(database: Path | str) -> URL:
    """Return the address of a database: a path is a SQLite file, anything with a scheme a URL.

    Raises
    ------
    DatabaseUnusable
        If it is neither a SQLite file nor PostgreSQL.

    Examples
    --------
    >>> url_of("postgresql://club:secret@db/duskwright")
    postgresql+psycopg://club:***@db/duskwright
    >>> url_of(Path("duskwright.sqlite3"))
    sqlite:///duskwright.sqlite3
    """
    if isinstance(database, Path) or "://" not in database:
        url = URL.create("sqlite", database=str(database))
    else:
        try:
            url = make_url(database)
        except (ArgumentError, ValueError) as error:
            raise DatabaseUnusable(database.partition(":")[0] + ":...", "no address of a database") from error
    kind = url.get_backend_name()
    if kind == "postgresql":
        return url.set(drivername="postgresql+psycopg")
    if kind != "sqlite":
        raise DatabaseUnusable(name_of(url), "only SQLite and PostgreSQL can be used")
    if url.database in {None, "", ":memory:"}:
        raise DatabaseUnusable(name_of(url), "a SQLite database must be a file")
    return url.set(drivername="sqlite")


def name_of(url: URL) -> str:
    """Return where a database is, without passwords.

    Examples
    --------
    >>> name_of(url_of("postgresql://club:secret@db/duskwright?password=secret"))
    'postgresql://club:***@db/duskwright'
    >>> name_of(url_of("kept.sqlite3"))
    'kept.sqlite3'
    """
    if url.get_backend_name() == "sqlite" and url.database:
        return url.database
    return url.set(drivername=url.get_backend_name(), query={}).render_as_string(hide_password=True)


def engine_of(url: URL) -> Engine:
    """Return what connects to a database; a transaction with the option `writing` holds the pen."""
    if url.get_backend_name() == "sqlite":
        engine = create_engine(
            url, pool_size=4, max_overflow=MOST_THREADS, connect_args={"check_same_thread": False}
        )
        event.listen(engine, "connect", _prepare)
        event.listen(engine, "begin", _begin)
        return engine
    # What a writer reads after it got the pen must be what the writer before it left: read committed.
    options = r"-c timezone=UTC -c default_transaction_isolation=read\ committed"
    options += f" -c lock_timeout={BUSY_TIMEOUT_MS}"
    engine = create_engine(
        url, pool_size=4, max_overflow=MOST_CONNECTIONS - 4, pool_timeout=10, pool_pre_ping=True,
        connect_args={"connect_timeout": 5, "tcp_user_timeout": 15_000, "options": options},
    )  # fmt: skip
    event.listen(engine, "begin", _take_the_pen)
    return engine


def _prepare(connection: Any, _record: object) -> None:
    connection.isolation_level = None  # we write BEGIN; the driver would only begin at the first change
    for pragma in (f"busy_timeout = {BUSY_TIMEOUT_MS}", "foreign_keys = ON", "synchronous = FULL"):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    # Who reads first and writes later cannot wait for another writer; who begins as a writer can.
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def _take_the_pen(connection: Connection) -> None:
    if connection.get_execution_options().get("writing", False):
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({THE_PEN})")
    else:
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def refuse_damage(connection: Connection) -> None:
    """Raise `DatabaseUnusable` where a SQLite file is damaged; nothing of it is changed."""
    found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
    connection.rollback()
    if found != "ok":
        raise DatabaseUnusable("", f"the file is damaged ({found}); put a backup in its place")


def write_ahead(connection: Connection) -> None:
    """Put a SQLite file in WAL mode; for this alone SQLite does not wait for others by itself."""
    driver: Any = connection.connection.driver_connection
    deadline = time.monotonic() + BUSY_TIMEOUT_MS / 1000
    while True:
        try:
            driver.execute("PRAGMA journal_mode = WAL").close()
        except sqlite3.OperationalError as error:
            if time.monotonic() > deadline:
                raise NotReady("the database does not answer", str(error)) from error
            time.sleep(0.01)
        else:
            return


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turn what a driver says of a full disk, damage or a lost connection into errors of our own."""
    try:
        yield
    except PoolTimeout as error:
        raise NotReady("every connection to the database is in use") from error
    except DBAPIError as error:
        code = getattr(error.orig, "sqlite_errorname", None) or getattr(error.orig, "sqlstate", None) or ""
        if code in FULL:
            raise DiskFull from error
        if code in DAMAGED or code.startswith("SQLITE_CORRUPT"):
            reason = f"the database is damaged ({first_line(error)}); put a backup in its place"
            raise NotReady(reason) from error
        if error.connection_invalidated or isinstance(error, OperationalError):
            raise NotReady("the database does not answer", first_line(error)) from error
        raise


def first_line(error: Exception) -> str:
    """Return the first line of what is wrong, in the driver's own words where it is the driver's."""
    told = error.orig if isinstance(error, DBAPIError) else error
    return str(told).partition("\n")[0]
