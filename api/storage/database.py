"""The database: how it is opened, and the two ways to use it. SQLite in a file, or PostgreSQL."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import Any, TypeAlias

from sqlalchemy import URL, Column, ColumnElement, Connection, Float, Select, Table, cast, func, text
from sqlalchemy.exc import SQLAlchemyError

from ..errors import DatabaseUnusable, NotReady
from ..migrations import bring_up_to_date, check_format
from .engines import BUSY_TIMEOUT_MS, engine_of, first_line, name_of, refuse_damage, told_plainly, write_ahead

Clock: TypeAlias = Callable[[], datetime]
_ID = re.compile("[0-9a-f]{20}")
LARGEST = 2**31 - 1
"""The largest whole number every column of numbers can hold."""


class Database:
    """One database; every use of it is one transaction, and a writer holds the only pen from its start.

    SQLite has one writer by nature (BEGIN IMMEDIATE, in WAL mode); on PostgreSQL writers take turns by an
    advisory lock. So what a writing transaction reads stays true until it ends, on both alike, without
    retries; a write takes milliseconds, and reading is never held up.

    Parameters
    ----------
    url : Its address, see `url_of`.
    now : Tells the time, aware UTC.
    upgrade : Whether an older format is brought up to date on PostgreSQL; on SQLite it always is.

    Raises
    ------
    DatabaseUnusable
        It cannot be reached or read, is damaged, or of another format.
    DiskFull
        There is no room to make it or to bring it up to date.
    """

    def __init__(self, url: URL, now: Clock, upgrade: bool) -> None:
        self.now, self.url = now, url
        self.sqlite = url.get_backend_name() == "sqlite"
        self._pen = Lock()
        self._engine = engine_of(url)
        self._writer = self._engine.execution_options(writing=True)
        try:
            self._open(upgrade)
        except (SQLAlchemyError, DatabaseUnusable, NotReady, OSError) as error:
            self.close()
            reason = error.reason if isinstance(error, DatabaseUnusable) else first_line(error)
            raise DatabaseUnusable(self.name, reason) from error
        except BaseException:
            self.close()
            raise

    @property
    def name(self) -> str:
        """Where it is, without its password."""
        return name_of(self.url)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the database and changes nothing."""
        with told_plainly(), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that holds the only pen from its start, so that what it reads stays true."""
        with told_plainly(), self._turn(), self._writer.begin() as connection:
            yield connection

    @contextmanager
    def _turn(self) -> Iterator[None]:
        """Let the threads of this process come to SQLite's pen one after the other.

        SQLite itself lets whoever waits look for it ever more seldom, so that some wait for seconds.
        """
        if not self.sqlite:
            yield
            return
        if not self._pen.acquire(timeout=BUSY_TIMEOUT_MS / 1000):
            raise NotReady("the database does not answer: others write to it all the time")
        try:
            yield
        finally:
            self._pen.release()

    def seconds_between(self, begin: Column[datetime], end: Column[datetime]) -> ColumnElement[float]:
        """Return the time from one moment to another, as this database counts it; null where one is. [s]"""
        if self.url.get_backend_name() == "sqlite":
            return (func.julianday(end) - func.julianday(begin)) * 86400.0
        return cast(func.extract("epoch", end - begin), Float)

    def check(self) -> None:
        """Raise `NotReady` unless the database answers."""
        try:
            with self.reading() as connection:
                connection.execute(text("SELECT count(*) FROM scenarios WHERE number = 0"))
        except SQLAlchemyError as error:
            raise NotReady("the database does not answer", first_line(error)) from error

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    def _open(self, upgrade: bool) -> None:
        path = Path(str(self.url.database)) if self.sqlite else None
        if path is not None:
            _make_private(path)
        with told_plainly(), self._engine.connect() as connection:
            if path is None:
                bring_up_to_date(connection, upgrade=upgrade, copy_of=None)
                check_format(connection)
                return
            refuse_damage(connection)
            bring_up_to_date(connection, upgrade=True, copy_of=path)
            check_format(connection)
            write_ahead(connection)  # only now: it changes the file, which before might have been anybody's


def _make_private(path: Path) -> None:
    """Make a file that was not there one that only its owner reads: addresses of calendars are secrets."""
    if not path.parent.is_dir():
        raise DatabaseUnusable("", f"there is no folder {path.parent}")
    with suppress(FileExistsError):  # not opened then, which would let go of SQLite's locks on it
        path.touch(mode=0o600, exist_ok=False)


def new_id() -> str:
    """Return an id nobody can guess: 20 lower-case hexadecimal digits."""
    return secrets.token_hex(10)


def is_id(text: str) -> bool:
    """Tell whether a text can be an id at all; nothing else is looked for.

    Examples
    --------
    >>> is_id("3f9a0c52d1e84b7766aa"), is_id("../x"), is_id("")
    (True, False, False)
    """
    return _ID.fullmatch(text) is not None


def page_of(
    connection: Connection, table: Table, query: Select[Any], cursor: int | None, limit: int
) -> tuple[list[dict[str, Any]], int | None]:
    """Return up to `limit` rows older than `cursor`, newest first, and the cursor of what follows."""
    if cursor is not None:
        query = query.where(table.c.number < max(0, min(cursor, LARGEST)))
    found = connection.execute(query.order_by(table.c.number.desc()).limit(limit + 1)).mappings().all()
    rows = [dict(row) for row in found[:limit]]
    return rows, rows[-1]["number"] if len(found) > limit else None
