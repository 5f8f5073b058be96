"""The tables. Scenarios keep every revision, so that a plan can always say what it answers."""

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

SCHEMA_VERSION = 1

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
        return None if value is None else value.replace(tzinfo=UTC)


def _number() -> Column[int]:
    """Never given twice, even after a deletion: pages are cut along it."""
    return Column("number", Integer, primary_key=True, autoincrement=True)


def _id() -> Column[str]:
    return Column("id", String(32), nullable=False, unique=True)


def _scenario() -> Column[str]:
    return Column(
        "scenario", String(32), ForeignKey("scenarios.id", ondelete="CASCADE"), nullable=False, index=True
    )


def _revision_of_scenario() -> ForeignKeyConstraint:
    kept = ["revisions.scenario", "revisions.revision"]
    return ForeignKeyConstraint(["scenario", "revision"], kept, ondelete="CASCADE")


scenarios = Table(
    "scenarios", schema, _number(), _id(),
    Column("revision", Integer, nullable=False),
    Column("name", String(200), nullable=False),
    Column("title", Text, nullable=False),
    Column("targets", Integer, nullable=False),
    Column("season_start", Date, nullable=False),
    Column("season_nights", Integer, nullable=False),
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
)  # fmt: skip

plans = Table(
    "plans", schema, _number(), _id(), _scenario(),
    Column("revision", Integer, nullable=False),
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

jobs = Table(
    "jobs", schema, _number(), _id(), _scenario(),
    Column("revision", Integer, nullable=False),
    Column("seed", Integer, nullable=False),
    Column("seconds", Float, nullable=False),
    Column("key", String(200), unique=True),
    Column("state", String(20), nullable=False, index=True),
    Column("cancelling", Boolean, nullable=False),
    Column("stage", Text, nullable=False),
    Column("fraction", Float, nullable=False),
    Column("objective", Float),
    Column("bound", Float),
    Column("plan", String(32), ForeignKey("plans.id", ondelete="CASCADE")),
    Column("problem", JSON(none_as_null=True)),
    Column("created", UtcDateTime, nullable=False),
    Column("started", UtcDateTime),
    Column("ended", UtcDateTime),
    _revision_of_scenario(),
    sqlite_autoincrement=True,
)  # fmt: skip
