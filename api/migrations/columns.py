"""What steps make tables of; a step is never changed once it has landed, and so nothing here is."""

from __future__ import annotations

from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

MOMENT = sa.DateTime(timezone=True)


def remaking(table: str) -> AbstractContextManager[Any]:
    """SQLite makes the table anew, and must be told again that its numbers are never given twice."""
    return op.batch_alter_table(table, table_kwargs={"sqlite_autoincrement": True})


def number() -> sa.Column[int]:
    """Never given twice: pages are cut along it."""
    return sa.Column("number", sa.Integer, autoincrement=True)


def id_() -> sa.Column[str]:
    """The id of a row, unguessable."""
    return sa.Column("id", sa.String(32), nullable=False)


def name() -> sa.Column[str]:
    """What something is called."""
    return sa.Column("name", sa.String(200), nullable=False)


def edited() -> tuple[sa.Column[int], sa.Column[datetime], sa.Column[datetime]]:
    """What counts its changes."""
    return (
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("created", MOMENT, nullable=False),
        sa.Column("changed", MOMENT, nullable=False),
    )


def keyed(table: str) -> tuple[sa.PrimaryKeyConstraint, sa.UniqueConstraint]:
    """The keys of a table whose rows have numbers and ids."""
    return (
        sa.PrimaryKeyConstraint("number", name=f"pk_{table}"),
        sa.UniqueConstraint("id", name=f"uq_{table}_id"),
    )


def key(table: str, column: str, there: str) -> sa.ForeignKeyConstraint:
    """The way to what a row belongs to, and goes with."""
    return sa.ForeignKeyConstraint([column], [f"{there}.id"], name=f"fk_{table}_{column}", ondelete="CASCADE")
