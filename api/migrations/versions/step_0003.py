"""Entries of calendars, feeds that show them, collections they are pushed into, and members' busy times.

Calendars that show a plan already stay as they are: their nights come in when a plan is published next.
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the new tables; calendars follow no re-plan and announce nothing until they are told to."""
    _calendars()
    _entries()
    _feeds()
    _collections()
    _engagements()


def _calendars() -> None:
    with _remaking("calendars") as table:
        table.add_column(sa.Column("follows", sa.Boolean, nullable=False, server_default=sa.false()))
        table.add_column(sa.Column("announce_weeks", sa.Integer, nullable=False, server_default="0"))
    with _remaking("calendars") as table:
        table.alter_column("follows", existing_type=sa.Boolean, server_default=None)
        table.alter_column("announce_weeks", existing_type=sa.Integer, server_default=None)


def _entries() -> None:
    op.create_table(
        "entries", _number(),
        sa.Column("calendar", sa.String(32), nullable=False),
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("evening", sa.Date, nullable=False),
        sa.Column("told", sa.JSON, nullable=False),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("sequence", sa.Integer, nullable=False),
        sa.Column("created", MOMENT, nullable=False),
        sa.Column("changed", MOMENT, nullable=False),
        sa.Column("announced", MOMENT),
        sa.Column("carried", sa.Boolean, nullable=False),
        sa.Column("amends", sa.JSON, nullable=False),
        sa.Column("outcome", sa.String(20)),
        sa.PrimaryKeyConstraint("number", name="pk_entries"),
        sa.UniqueConstraint("uid", name="uq_entries_uid"),
        sa.UniqueConstraint("calendar", "evening", name="uq_entries_calendar_evening"),
        _key("entries", "calendar", "calendars"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_entries_calendar", "entries", ["calendar"])


def _feeds() -> None:
    op.create_table(
        "feeds", _number(), _id(),
        sa.Column("club", sa.String(32), nullable=False),
        sa.Column("scenario", sa.String(32)),
        sa.Column("shows", sa.String(20), nullable=False),
        sa.Column("observer", sa.String(200)),
        sa.Column("secret", sa.String(64), nullable=False),
        *_edited(), *_keyed("feeds"),
        sa.UniqueConstraint("secret", name="uq_feeds_secret"),
        _key("feeds", "club", "clubs"),
        _key("feeds", "scenario", "scenarios"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_feeds_club", "feeds", ["club"])
    op.create_index("ix_feeds_scenario", "feeds", ["scenario"])


def _collections() -> None:
    op.create_table(
        "collections", _number(), _id(),
        sa.Column("feed", sa.String(32), nullable=False),
        sa.Column("address", sa.Text, nullable=False),
        sa.Column("username", sa.String(200), nullable=False),
        sa.Column("password", sa.LargeBinary, nullable=False),
        sa.Column("conflicts", sa.String(20), nullable=False),
        sa.Column("told", sa.JSON),
        *_edited(), *_keyed("collections"),
        _key("collections", "feed", "feeds"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_collections_feed", "collections", ["feed"])
    op.create_table(
        "pushed",
        sa.Column("collection", sa.String(32), nullable=False),
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("etag", sa.Text),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("collection", "uid", name="pk_pushed"),
        _key("pushed", "collection", "collections"),
    )


def _engagements() -> None:
    op.create_table(
        "engagements", _number(), _id(),
        sa.Column("member", sa.String(32), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("address", sa.LargeBinary),
        sa.Column("first", sa.Date, nullable=False),
        sa.Column("last", sa.Date, nullable=False),
        sa.Column("told", sa.JSON),
        *_edited(), *_keyed("engagements"),
        sa.UniqueConstraint("member", "name", name="uq_engagements_member_name"),
        _key("engagements", "member", "members"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_engagements_member", "engagements", ["member"])
    op.create_table(
        "busy_times", _number(),
        sa.Column("engagement", sa.String(32), nullable=False),
        sa.Column("start", MOMENT, nullable=False),
        sa.Column("end", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_busy_times"),
        _key("busy_times", "engagement", "engagements"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_busy_times_engagement", "busy_times", ["engagement"])


def _remaking(table: str) -> AbstractContextManager[Any]:
    """SQLite makes the table anew, and must be told again that its numbers are never given twice."""
    return op.batch_alter_table(table, table_kwargs={"sqlite_autoincrement": True})


def _number() -> sa.Column[int]:
    return sa.Column("number", sa.Integer, autoincrement=True)


def _id() -> sa.Column[str]:
    return sa.Column("id", sa.String(32), nullable=False)


def _edited() -> tuple[sa.Column[int], sa.Column[datetime], sa.Column[datetime]]:
    return (
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("created", MOMENT, nullable=False),
        sa.Column("changed", MOMENT, nullable=False),
    )


def _keyed(table: str) -> tuple[sa.PrimaryKeyConstraint, sa.UniqueConstraint]:
    return (
        sa.PrimaryKeyConstraint("number", name=f"pk_{table}"),
        sa.UniqueConstraint("id", name=f"uq_{table}_id"),
    )


def _key(table: str, column: str, there: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{there}.id"], name=f"fk_{table}_{column}", ondelete="CASCADE")
