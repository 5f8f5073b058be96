"""The format of the database, step by step: each step of `versions` brings an older one nearer to today's.

A new SQLite file takes every step when it is opened; an older one too, after a copy of it has been put
beside it. On PostgreSQL steps are taken by command only (`duskwright database upgrade`), since several
processes may be at work on it; an empty one takes them all at once.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from threading import Lock
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, text

from ..errors import DatabaseUnusable

FORMAT_TABLE = "duskwright_format"
"""Names the format a database has; not alembic's own name, which whoever shares a PostgreSQL may use too."""
FIRST_USER_VERSION = 1
"""How the format before the first step of these was marked, in SQLite's `user_version`."""
OUR_USER_VERSION = 2
"""So marked, a file is refused by the versions that only looked there."""

_ONE_AT_A_TIME = Lock()
"""Alembic's steps speak to the connection through names of their modules, which threads share."""


def newest_format() -> str:
    """Return the name of the newest format.

    Examples
    --------
    >>> newest_format()
    '0004'
    """
    head = ScriptDirectory.from_config(_config()).get_current_head()
    assert head is not None
    return head


def format_of(connection: Connection) -> str | None:
    """Return the format a database has, None where it is empty."""
    return MigrationContext.configure(connection, opts={"version_table": FORMAT_TABLE}).get_current_revision()


def bring_up_to_date(connection: Connection, *, upgrade: bool, copy_of: Path | None) -> None:
    """Take the steps that lack, all or none; where there is something to lose, only if `upgrade`.

    Parameters
    ----------
    connection : In no transaction.
    copy_of : The SQLite file, a copy of which is put beside it before an older format is changed; None on
        PostgreSQL.

    Raises
    ------
    DatabaseUnusable
        The database holds something else, or a format this version does not know.
    """
    writer = connection.execution_options(writing=True)  # so that two starts at once take turns
    with _ONE_AT_A_TIME, _without_cascades(connection), writer.begin():
        _take_steps(writer, upgrade, copy_of)


@contextmanager
def _without_cascades(connection: Connection) -> Iterator[None]:
    """Let SQLite's tables be remade without taking along what belongs to them; no matter elsewhere.

    The pragma does nothing inside a transaction, and SQLAlchemy's own calls begin one.
    """
    if connection.dialect.name != "sqlite":
        yield
        return
    driver: Any = connection.connection.driver_connection
    driver.execute("PRAGMA foreign_keys = OFF")
    assert driver.execute("PRAGMA foreign_keys").fetchone() == (0,)
    try:
        yield
    finally:
        driver.execute("PRAGMA foreign_keys = ON")


def check_format(connection: Connection) -> None:
    """Raise `DatabaseUnusable` unless the database has today's format."""
    found = format_of(connection)
    connection.rollback()
    if found != newest_format():
        raise DatabaseUnusable("", f"its format is {found}, this version reads {newest_format()}; "
                               'bring it up to date with "duskwright database upgrade"')  # fmt: skip


def _take_steps(connection: Connection, upgrade: bool, copy_of: Path | None) -> None:
    config = _config()
    config.attributes["connection"] = connection
    found = format_of(connection) or _first_format(connection)
    if found == newest_format():
        return
    if found is not None:
        if found not in {step.revision for step in ScriptDirectory.from_config(config).walk_revisions()}:
            raise DatabaseUnusable("", f"its format is {found}, this version reads {newest_format()}: "
                                   "it was written by a newer Duskwright")  # fmt: skip
        if not upgrade:
            return
        if copy_of:
            _copy_beside(copy_of, found)
        if format_of(connection) is None:
            command.stamp(config, found)
    given = _numbers_given(connection)
    command.upgrade(config, "head")
    if connection.dialect.name == "sqlite":
        _keep_numbers_given(connection, given)
        connection.exec_driver_sql(f"PRAGMA user_version = {OUR_USER_VERSION}")
        if broken := connection.exec_driver_sql("PRAGMA foreign_key_check").first():
            raise DatabaseUnusable("", f"its parts do not fit together: {tuple(broken)}")


def _first_format(connection: Connection) -> str | None:
    """Return the format of a database that does not tell it: None for an empty one, else the first."""
    tables = set(inspect(connection).get_table_names())
    if connection.dialect.name != "sqlite":  # its owner may keep other things in it
        if ours := sorted(tables & {"clubs", "scenarios", "plans", "jobs", "keys", "workers"}):
            raise DatabaseUnusable("", f"it has tables that are not Duskwright's: {', '.join(ours)}")
        return None
    version: int = connection.exec_driver_sql("PRAGMA user_version").scalar_one()
    if not tables and not version:
        return None
    if "scenarios" not in tables:
        raise DatabaseUnusable("", "it is not a database of Duskwright's")
    if version != FIRST_USER_VERSION:
        raise DatabaseUnusable("", f"its format is {version}, which no version wrote")
    return "0001"


def _numbers_given(connection: Connection) -> dict[str, int]:
    """Return the highest number each SQLite table ever gave; PostgreSQL's sequences keep them themselves."""
    if connection.dialect.name != "sqlite" or not inspect(connection).get_table_names():
        return {}
    return {row.name: row.seq for row in connection.execute(text("SELECT name, seq FROM sqlite_sequence"))}


def _keep_numbers_given(connection: Connection, given: dict[str, int]) -> None:
    """Let a table that was made anew remember the numbers of rows deleted long ago."""
    for name, number in given.items():
        row = {"name": name, "number": number}
        if _numbers_given(connection).get(name) is None:
            connection.execute(text("INSERT INTO sqlite_sequence (name, seq) VALUES (:name, :number)"), row)
        connection.execute(text("UPDATE sqlite_sequence SET seq = max(seq, :number) WHERE name = :name"), row)


def _copy_beside(path: Path, found: str) -> None:
    """Keep the file as it was, under a name that tells its format and when; the write lock is ours.

    By SQLite's own means: to open the file in any other way would let go of the locks held on it.
    """
    copy = path.with_name(f"{path.name}.format-{found}-{datetime.now(UTC):%Y%m%dT%H%M%SZ}")
    unfinished = copy.with_name(f"{copy.name}.unfinished")
    try:
        with closing(sqlite3.connect(path)) as before, closing(sqlite3.connect(unfinished)) as after:
            unfinished.chmod(path.stat().st_mode & 0o777)
            before.backup(after)
        with unfinished.open("rb") as written:
            os.fsync(written.fileno())
        unfinished.rename(copy)
    except (sqlite3.Error, OSError) as error:
        unfinished.unlink(missing_ok=True)
        raise DatabaseUnusable("", f"no copy of its old format could be put beside it ({error})") from error


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    return config
