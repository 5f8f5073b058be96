"""The format of the database, step by step: each step of `versions` brings an older one nearer to today's.

A new SQLite file takes every step when it is opened; an older one too, after a copy of it has been put
beside it. On PostgreSQL steps are taken by command only (`duskwright database upgrade`), since several
processes may be at work on it; an empty one takes them all at once.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect

from ..errors import DatabaseUnusable

FIRST_USER_VERSION = 1
"""How the format before the first step of these was marked, in SQLite's `user_version`."""


def newest_format() -> str:
    """Return the name of the newest format.

    Examples
    --------
    >>> newest_format()
    '0002'
    """
    head = ScriptDirectory.from_config(_config()).get_current_head()
    assert head is not None
    return head


def format_of(connection: Connection) -> str | None:
    """Return the format a database has, None where it is empty."""
    return MigrationContext.configure(connection).get_current_revision()


def bring_up_to_date(connection: Connection, *, upgrade: bool, backup_to: str | None) -> None:
    """Take the steps that lack, all or none; where there is something to lose, only if `upgrade`.

    Parameters
    ----------
    connection : In no transaction.
    backup_to : Path of the SQLite file, a copy of which is put beside it first; None elsewhere.

    Raises
    ------
    DatabaseUnusable
        The database holds something else, or a format this version does not know.
    """
    writer = connection.execution_options(writing=True)  # so that two starts at once take turns
    with _without_cascades(connection), writer.begin():
        _take_steps(writer, upgrade, backup_to)


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


def _take_steps(connection: Connection, upgrade: bool, backup_to: str | None) -> None:
    found, tables = format_of(connection), set(inspect(connection).get_table_names())
    config = _config()
    config.attributes["connection"] = connection
    if found is None and "scenarios" in tables:
        if backup_to is None or _user_version(connection) != FIRST_USER_VERSION:
            raise DatabaseUnusable("", f"its format is {_user_version(connection)}, which no version wrote")
        command.stamp(config, "0001")
        found = "0001"
    if found == newest_format():
        return
    if found is not None:
        if found not in {step.revision for step in ScriptDirectory.from_config(config).walk_revisions()}:
            raise DatabaseUnusable("", f"its format is {found}, this version reads {newest_format()}: "
                                   "it was written by a newer Duskwright")  # fmt: skip
        if not upgrade:
            return
        if backup_to:
            _copy_beside(Path(backup_to), found)
    command.upgrade(config, "head")
    if backup_to is not None and (broken := connection.exec_driver_sql("PRAGMA foreign_key_check").first()):
        raise DatabaseUnusable("", f"its parts do not fit together: {tuple(broken)}")


def _copy_beside(path: Path, found: str) -> None:
    """Keep the file as it was, under a name that tells its format and when; the write lock is ours."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    shutil.copy2(path, path.with_name(f"{path.name}.format-{found}-{stamp}"))
    log = path.with_name(path.name + "-wal")
    if log.exists():
        shutil.copy2(log, path.with_name(f"{path.name}.format-{found}-{stamp}-wal"))


def _user_version(connection: Connection) -> int:
    if connection.dialect.name != "sqlite":
        return 0
    found: int = connection.exec_driver_sql("PRAGMA user_version").scalar_one()
    return found


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    return config
