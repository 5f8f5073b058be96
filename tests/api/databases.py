"""Fresh empty databases of both kinds, gone when they have served."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeAlias

import psycopg
import pytest
from psycopg.sql import SQL, Identifier
from sqlalchemy import make_url

Where: TypeAlias = Path | str
"""A SQLite file, or the URL of a PostgreSQL database."""

KINDS = ("sqlite", "postgresql")
SERVER = "DUSKWRIGHT_TEST_POSTGRESQL"


@contextmanager
def fresh_database(kind: str, folder: Path) -> Iterator[Where]:
    """Give a database nobody has used: a file in `folder` not made yet, or an empty one of the server's."""
    if kind == "sqlite":
        yield folder / "kept.sqlite3"
        return
    server = the_server()
    name = f"duskwright_{secrets.token_hex(8)}"
    with psycopg.connect(server, autocommit=True) as admin:
        admin.execute(SQL("CREATE DATABASE {}").format(Identifier(name)))
        try:
            yield make_url(server).set(database=name).render_as_string(hide_password=False)
        finally:
            admin.execute(SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(Identifier(name)))


def the_server() -> str:
    """Return the URL of the server databases may be made on; skip the test where there is none."""
    server = os.environ.get(SERVER)
    if not server:
        pytest.skip(f"no PostgreSQL: set {SERVER}, or run `.ci/postgresql`")
    return server
