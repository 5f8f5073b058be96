"""Fresh empty databases of both kinds, gone when they have served."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeAlias

import psycopg
import pytest
from dbos import DBOS
from psycopg.sql import SQL, Identifier
from sqlalchemy import make_url

from api.jobs.engine import _SCHEMA, _work_url
from api.storage import Storage

Where: TypeAlias = Path | str
"""A SQLite file, or the URL of a PostgreSQL database."""

KINDS = ("sqlite", "postgresql")
SERVER = "DUSKWRIGHT_TEST_POSTGRESQL"


@contextmanager
def fresh_database(kind: str, folder: Path, like: Where | None = None) -> Iterator[Where]:
    """Give a database nobody has used: a file in `folder` not made yet, or an empty one of the server's.

    With `like`, a database of the same kind that nobody has open, it is a copy of that.
    """
    if kind == "sqlite":
        if isinstance(like, Path):
            copy_files(like, folder)
        yield folder / "kept.sqlite3"
        return
    server = the_server()
    name = f"duskwright_{secrets.token_hex(8)}"
    model = make_url(like).database if isinstance(like, str) else None
    with psycopg.connect(server, autocommit=True) as admin:
        admin.execute(
            SQL("CREATE DATABASE {} TEMPLATE {}").format(Identifier(name), Identifier(model or "template1"))
        )
        try:
            yield make_url(server).set(database=name).render_as_string(hide_password=False)
        finally:
            admin.execute(SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(Identifier(name)))


@contextmanager
def ready_database(kind: str, folder: Path) -> Iterator[Where]:
    """Give a database to copy: of the newest format, the workflow library's too, with nothing kept in it."""
    with fresh_database(kind, folder) as where:
        storage = Storage(where)
        address = _work_url(storage.address)
        storage.close()
        DBOS.migrate(address, schema=_SCHEMA)
        yield where


def copy_files(database: Path, folder: Path) -> None:
    """Copy a SQLite database that nobody has open, and the file beside it, into a folder."""
    for name in ("kept.sqlite3", "kept.sqlite3-work"):
        shutil.copy(database.with_name(name), folder)


def the_server() -> str:
    """Return the URL of the server databases may be made on; skip the test where there is none."""
    server = os.environ.get(SERVER)
    if not server:
        pytest.skip(f"no PostgreSQL: set {SERVER}, or run `.ci/postgresql`")
    return server
