"""The tables. Scenarios keep every revision, so that a plan can always say what it answers.

How a database gets them, and how an older one catches up, `api.migrations` tells; a test keeps both alike.
"""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)  # fmt: skip

schema = MetaData(naming_convention={
    "ix": "ix_%(column_0_N_label)s", "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s", "pk": "pk_%(table_name)s",
})  # fmt: skip


class UtcDateTime(TypeDecorator[datetime]):
    """An aware UTC time; SQLite itself forgets zones."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the database the time in UTC."""
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give back an aware time."""
        if value is None or value.tzinfo is None:
            return value and value.replace(tzinfo=UTC)
        return value.astimezone(UTC)


def _number() -> Column[int]:
    """Never given twice, even after a deletion: pages are cut along it."""
    return Column("number", Integer, primary_key=True, autoincrement=True)


def _id() -> Column[str]:
    return Column("id", String(32), nullable=False, unique=True)


def _of(owner: str, *, nullable: bool = False) -> Column[str]:
    """What belongs to something goes with it."""
    key = ForeignKey(f"{owner}s.id", ondelete="CASCADE")
    return Column(owner, String(32), key, nullable=nullable, index=True)


def _revision_of_scenario() -> ForeignKeyConstraint:
    kept = ["revisions.scenario", "revisions.revision"]
    return ForeignKeyConstraint(["scenario", "revision"], kept, ondelete="CASCADE")


def _edited() -> tuple[Column[int], Column[datetime], Column[datetime]]:
    return (
        Column("revision", Integer, nullable=False),
        Column("created", UtcDateTime, nullable=False),
        Column("changed", UtcDateTime, nullable=False),
    )


def _shared(name: str) -> Table:
    """Something the club has, in the words of scenario.toml: `settings` holds the keys of its table."""
    return Table(
        name, schema, _number(), _id(), _of("club"),
        Column("name", String(200), nullable=False),
        Column("settings", JSON, nullable=False),
        *_edited(),
        UniqueConstraint("club", "name"),
        sqlite_autoincrement=True,
    )  # fmt: skip


clubs = Table(
    "clubs", schema, _number(), _id(), Column("name", String(200), nullable=False), *_edited(),
    sqlite_autoincrement=True,
)  # fmt: skip

keys = Table(
    "keys", schema, _number(), _id(), _of("club", nullable=True),
    Column("role", String(20), nullable=False),
    Column("name", String(200), nullable=False),
    Column("digest", String(64), nullable=False),
    Column("created", UtcDateTime, nullable=False),
    Column("expires", UtcDateTime),
    Column("revoked", UtcDateTime),
    sqlite_autoincrement=True,
)  # fmt: skip

members, sites, telescopes = _shared("members"), _shared("sites"), _shared("telescopes")

scenarios = Table(
    "scenarios", schema, _number(), _id(), _of("club"),
    Column("revision", Integer, nullable=False),
    Column("name", String(200), nullable=False),
    Column("title", Text, nullable=False),
    Column("targets", Integer, nullable=False),
    Column("season_start", Date, nullable=False),
    Column("season_nights", Integer, nullable=False),
    Column("uses", JSON, nullable=False),
    Column("created", UtcDateTime, nullable=False),
    Column("changed", UtcDateTime, nullable=False),
    sqlite_autoincrement=True,
)  # fmt: skip

revisions = Table(
    "revisions", schema,
    Column("scenario", String(32), ForeignKey("scenarios.id", ondelete="CASCADE"), primary_key=True),
    Column("revision", Integer, primary_key=True, autoincrement=False),
    Column("scenario_toml", LargeBinary, nullable=False),
    Column("wish_list_csv", LargeBinary, nullable=False),
    Column("forecast_csv", LargeBinary, nullable=False),
)  # fmt: skip

outcomes = Table(
    "outcomes", schema,
    Column("scenario", String(32), ForeignKey("scenarios.id", ondelete="CASCADE"), primary_key=True),
    Column("line", Integer, primary_key=True, autoincrement=False),
    Column("evening", Date, nullable=False),
    Column("outcome", String(20), nullable=False),
    Column("usable_min", Integer),
    Column("seen", JSON, nullable=False),
    Column("seen_poorly", JSON, nullable=False),
    Column("not_seen", JSON, nullable=False),
    Column("notes", Text, nullable=False),
    Column("sky_brightness", Float),
    Column("logged", UtcDateTime, nullable=False),
    Column("key", String(200)),
    UniqueConstraint("scenario", "key"),
)  # fmt: skip

plans = Table(
    "plans", schema, _number(), _id(), _of("scenario"),
    Column("revision", Integer, nullable=False),
    Column("outcomes", Integer, nullable=False),
    Column("previous", String(32)),
    Column("version", Integer, nullable=False),
    Column("objective", Float, nullable=False),
    Column("bound", Float, nullable=False),
    Column("visits", Integer, nullable=False),
    Column("unplaced", Integer, nullable=False),
    Column("created", UtcDateTime, nullable=False),
    UniqueConstraint("scenario", "version"),
    _revision_of_scenario(),
    sqlite_autoincrement=True,
)  # fmt: skip

plan_files = Table(
    "plan_files", schema,
    Column("plan", String(32), ForeignKey("plans.id", ondelete="CASCADE"), primary_key=True),
    Column("name", String(100), primary_key=True),
    Column("text", Text, nullable=False),
    Column("digest", String(64), nullable=False),
)  # fmt: skip

calendars = Table(
    "calendars", schema, _number(), _id(),
    Column(
        "scenario", String(32), ForeignKey("scenarios.id", ondelete="CASCADE"), nullable=False, unique=True
    ),
    Column("plan", String(32), ForeignKey("plans.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("follows", Boolean, nullable=False),
    Column("announce_weeks", Integer, nullable=False),
    *_edited(),
    sqlite_autoincrement=True,
)  # fmt: skip

entries = Table(
    "entries", schema, _number(), _of("calendar"),
    Column("uid", String(36), nullable=False, unique=True),
    Column("evening", Date, nullable=False),
    Column("told", JSON, nullable=False),
    Column("state", String(20), nullable=False),
    Column("sequence", Integer, nullable=False),
    Column("created", UtcDateTime, nullable=False),
    Column("changed", UtcDateTime, nullable=False),
    Column("announced", UtcDateTime),
    Column("carried", Boolean, nullable=False),
    Column("amends", JSON, nullable=False),
    Column("outcome", String(20)),
    UniqueConstraint("calendar", "evening"),
    sqlite_autoincrement=True,
)  # fmt: skip

feeds = Table(
    "feeds", schema, _number(), _id(), _of("club"), _of("scenario", nullable=True),
    Column("shows", String(20), nullable=False),
    Column("observer", String(200)),
    Column("secret", String(64), nullable=False, unique=True),
    *_edited(),
    sqlite_autoincrement=True,
)  # fmt: skip

collections = Table(
    "collections", schema, _number(), _id(), _of("feed"),
    Column("address", Text, nullable=False),
    Column("username", String(200), nullable=False),
    Column("password", LargeBinary, nullable=False),
    Column("conflicts", String(20), nullable=False),
    Column("told", JSON(none_as_null=True)),
    *_edited(),
    sqlite_autoincrement=True,
)  # fmt: skip

pushed = Table(
    "pushed", schema,
    Column("collection", String(32), ForeignKey("collections.id", ondelete="CASCADE"), primary_key=True),
    Column("uid", String(36), primary_key=True),
    Column("etag", Text),
    Column("digest", String(64), nullable=False),
)  # fmt: skip

engagements = Table(
    "engagements", schema, _number(), _id(), _of("member"),
    Column("name", String(200), nullable=False),
    Column("address", LargeBinary),
    Column("first", Date, nullable=False),
    Column("last", Date, nullable=False),
    Column("told", JSON(none_as_null=True)),
    *_edited(),
    UniqueConstraint("member", "name"),
    sqlite_autoincrement=True,
)  # fmt: skip

busy_times = Table(
    "busy_times", schema, _number(), _of("engagement"),
    Column("start", UtcDateTime, nullable=False),
    Column("end", UtcDateTime, nullable=False),
    sqlite_autoincrement=True,
)  # fmt: skip

jobs = Table(
    "jobs", schema, _number(), _id(), _of("club"), _of("scenario"),
    Column("revision", Integer, nullable=False),
    Column("outcomes", Integer, nullable=False),
    Column("work", String(20), nullable=False),
    Column("wish", JSON, nullable=False),
    Column("key", String(200)),
    Column("state", String(20), nullable=False, index=True),
    Column("cancelling", Boolean, nullable=False),
    Column("stage", Text, nullable=False),
    Column("fraction", Float, nullable=False),
    Column("objective", Float),
    Column("bound", Float),
    Column("plan", String(32), ForeignKey("plans.id", ondelete="CASCADE"), index=True),
    Column("answer", Text),
    Column("problem", JSON(none_as_null=True)),
    Column("created", UtcDateTime, nullable=False),
    Column("started", UtcDateTime),
    Column("ended", UtcDateTime),
    UniqueConstraint("club", "key"),
    _revision_of_scenario(),
    sqlite_autoincrement=True,
)  # fmt: skip

workers = Table(
    "workers", schema,
    Column("executor", String(64), primary_key=True),
    Column("host", String(200), nullable=False),
    Column("beat", Integer, nullable=False),
    Column("started", UtcDateTime, nullable=False),
)  # fmt: skip
