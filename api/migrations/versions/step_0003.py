"""Entries of calendars, feeds that show them, collections they are pushed into, and members' busy times.

Calendars that show a plan already stay as they are: their nights come in when a plan is published next.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.migrations.columns import MOMENT, edited, id_, key, keyed, number, remaking

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the new tables; calendars follow no re-plan and announce nothing until they are told to."""
    _calendars()
    _entries()
    _feeds()
    _collections()
    _engagements()


def _calendars() -> None:
    with remaking("calendars") as table:
        table.add_column(sa.Column("follows", sa.Boolean, nullable=False, server_default=sa.false()))
        table.add_column(sa.Column("announce_weeks", sa.Integer, nullable=False, server_default="0"))
    with remaking("calendars") as table:
        table.alter_column("follows", existing_type=sa.Boolean, server_default=None)
        table.alter_column("announce_weeks", existing_type=sa.Integer, server_default=None)


def _entries() -> None:
    op.create_table(
        "entries", number(),
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
        key("entries", "calendar", "calendars"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_entries_calendar", "entries", ["calendar"])


def _feeds() -> None:
    op.create_table(
        "feeds", number(), id_(),
        sa.Column("club", sa.String(32), nullable=False),
        sa.Column("scenario", sa.String(32)),
        sa.Column("shows", sa.String(20), nullable=False),
        sa.Column("observer", sa.String(200)),
        sa.Column("secret", sa.String(64), nullable=False),
        *edited(), *keyed("feeds"),
        sa.UniqueConstraint("secret", name="uq_feeds_secret"),
        key("feeds", "club", "clubs"),
        key("feeds", "scenario", "scenarios"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_feeds_club", "feeds", ["club"])
    op.create_index("ix_feeds_scenario", "feeds", ["scenario"])


def _collections() -> None:
    op.create_table(
        "collections", number(), id_(),
        sa.Column("feed", sa.String(32), nullable=False),
        sa.Column("address", sa.Text, nullable=False),
        sa.Column("username", sa.String(200), nullable=False),
        sa.Column("password", sa.LargeBinary, nullable=False),
        sa.Column("conflicts", sa.String(20), nullable=False),
        sa.Column("told", sa.JSON),
        *edited(), *keyed("collections"),
        key("collections", "feed", "feeds"),
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
        key("pushed", "collection", "collections"),
    )


def _engagements() -> None:
    op.create_table(
        "engagements", number(), id_(),
        sa.Column("member", sa.String(32), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("address", sa.LargeBinary),
        sa.Column("first", sa.Date, nullable=False),
        sa.Column("last", sa.Date, nullable=False),
        sa.Column("told", sa.JSON),
        *edited(), *keyed("engagements"),
        sa.UniqueConstraint("member", "name", name="uq_engagements_member_name"),
        key("engagements", "member", "members"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_engagements_member", "engagements", ["member"])
    op.create_table(
        "busy_times", number(),
        sa.Column("engagement", sa.String(32), nullable=False),
        sa.Column("start", MOMENT, nullable=False),
        sa.Column("end", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_busy_times"),
        key("busy_times", "engagement", "engagements"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_busy_times_engagement", "busy_times", ["engagement"])
