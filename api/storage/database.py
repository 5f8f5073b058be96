"""The database: how it is opened, and the two ways to use it. SQLite in a file, or PostgreSQL."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, TypeAlias

from sqlalchemy import URL, Connection, Engine, Select, Table, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError

from ..errors import DatabaseUnusable, DiskFull, NotReady
from ..migrations import bring_up_to_date, check_format

Clock: TypeAlias = Callable[[], datetime]
BUSY_TIMEOUT_MS = 10_000
MOST_THREADS = 64
THE_PEN = 0x6475736B
"""The PostgreSQL advisory lock every writing transaction holds; any number nobody else uses will do."""
FULL = ("database or disk is full", "No space left on device", "could not extend file", "disk I/O error")
DAMAGED = ("malformed", "not a database", "invalid page", "checksum")


def url_of(database: Path | str) -> URL:
    """Return the address of a database: a path is a SQLite file, anything with a scheme a URL.

    Raises
    ------
    DatabaseUnusable
        If it is neither SQLite nor PostgreSQL.

    Examples
    --------
    >>> url_of("postgresql://club:secret@db/duskwright")
    postgresql+psycopg://club:***@db/duskwright
    >>> url_of(Path("duskwright.sqlite3"))
    sqlite:///duskwright.sqlite3
    """
    if isinstance(database, Path) or "://" not in database:
        return URL.create("sqlite", database=str(database))
    try:
        url = make_url(database)
    except ArgumentError as error:
        raise DatabaseUnusable(database.partition(":")[0] + ":...", "no address of a database") from error
    if url.get_backend_name() == "postgresql":
        return url.set(drivername="postgresql+psycopg")
    if url.get_backend_name() == "sqlite":
        return url
    raise DatabaseUnusable(str(url), "only SQLite and PostgreSQL can be used")


class Database:
    """One database; every use of it is one transaction, and a writer holds the only pen from its start.

    SQLite has one writer by nature (BEGIN IMMEDIATE, in WAL mode); on PostgreSQL writers take turns by an
    advisory lock. So what a writing transaction reads stays true until it ends, on both alike, without
    retries; a write takes milliseconds, and reading is never held up.

    Parameters
    ----------
    url : Its address, see `url_of`.
    now : Tells the time, aware UTC.
    upgrade : Whether an older format is brought up to date; never asked where the database is empty.

    Raises
    ------
    DatabaseUnusable
        It cannot be reached or read, is damaged, or of another format.
    """

    def __init__(self, url: URL, now: Clock, upgrade: bool) -> None:
        self.now, self.url = now, url
        self._engine = _engine_of(url)
        self._writer = self._engine.execution_options(writing=True)
        try:
            self._open(upgrade)
        except (SQLAlchemyError, DatabaseUnusable, NotReady) as error:
            self.close()
            reason = getattr(error, "reason", None) or _first_line(error)
            raise DatabaseUnusable(self.name, reason) from error

    @property
    def name(self) -> str:
        """Where it is, without its password."""
        sqlite = self.url.get_backend_name() == "sqlite"
        return str(self.url.database) if sqlite else self.url.render_as_string(hide_password=True)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the database and changes nothing."""
        with _told_plainly(), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that holds the only pen from its start, so that what it reads stays true."""
        with _told_plainly(), self._writer.begin() as connection:
            yield connection

    def check(self) -> None:
        """Raise `NotReady` unless the database answers."""
        with self.reading() as connection:
            connection.execute(text("SELECT count(*) FROM scenarios WHERE number = 0"))

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    def _open(self, upgrade: bool) -> None:
        sqlite = self.url.get_backend_name() == "sqlite"
        with _told_plainly(), self._engine.connect() as connection:
            if sqlite:
                _refuse_damage(connection)
            bring_up_to_date(
                connection, upgrade=upgrade or sqlite, backup_to=self.url.database if sqlite else None
            )
            check_format(connection)


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


def _engine_of(url: URL) -> Engine:
    if url.get_backend_name() == "sqlite":
        engine = create_engine(
            url, pool_size=4, max_overflow=MOST_THREADS, connect_args={"check_same_thread": False}
        )
        event.listen(engine, "connect", _prepare)
        event.listen(engine, "begin", _begin)
        return engine
    engine = create_engine(
        url, pool_size=4, max_overflow=MOST_THREADS, pool_pre_ping=True,
        connect_args={"connect_timeout": 5, "options": "-c timezone=UTC -c lock_timeout=10s"},
    )  # fmt: skip
    event.listen(engine, "begin", _take_the_pen)
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


def _take_the_pen(connection: Connection) -> None:
    if connection.get_execution_options().get("writing", False):
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({THE_PEN})")
    else:
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def _refuse_damage(connection: Connection) -> None:
    found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
    connection.rollback()
    if found != "ok":
        raise DatabaseUnusable("", f"the file is damaged ({found}); put a backup in its place")


@contextmanager
def _told_plainly() -> Iterator[None]:
    """Turn what a driver says of a full disk, damage or a lost connection into errors of our own."""
    try:
        yield
    except DBAPIError as error:
        told = _first_line(error)
        if any(sign in told for sign in FULL):
            raise DiskFull from error
        if any(sign in told for sign in DAMAGED):
            raise NotReady(f"the database is damaged ({told}); put a backup in its place") from error
        if error.connection_invalidated or type(error.orig).__name__ == "OperationalError":
            raise NotReady(f"the database does not answer: {told}") from error
        raise


def _first_line(error: Exception) -> str:
    return str(error).partition("\n")[0]
