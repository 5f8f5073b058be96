"""The first format: scenarios with their revisions, plans with their files, and jobs, of one observer."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

UTC = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables."""
    _scenarios()
    _plans()
    _jobs()


def _scenarios() -> None:
    op.create_table(
        "scenarios",
        sa.Column("number", sa.Integer, autoincrement=True),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("targets", sa.Integer, nullable=False),
        sa.Column("season_start", sa.Date, nullable=False),
        sa.Column("season_nights", sa.Integer, nullable=False),
        sa.Column("created", UTC, nullable=False),
        sa.Column("changed", UTC, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_scenarios"),
        sa.UniqueConstraint("id", name="uq_scenarios_id"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "revisions",
        sa.Column("scenario", sa.String(32), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("scenario_toml", sa.LargeBinary, nullable=False),
        sa.Column("wish_list_csv", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("scenario", "revision", name="pk_revisions"),
        _key("revisions", ["scenario"], ["scenarios.id"]),
    )


def _plans() -> None:
    op.create_table(
        "plans",
        sa.Column("number", sa.Integer, autoincrement=True),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("scenario", sa.String(32), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("objective", sa.Float, nullable=False),
        sa.Column("bound", sa.Float, nullable=False),
        sa.Column("visits", sa.Integer, nullable=False),
        sa.Column("unplaced", sa.Integer, nullable=False),
        sa.Column("created", UTC, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_plans"),
        sa.UniqueConstraint("id", name="uq_plans_id"),
        sa.UniqueConstraint("scenario", "version", name="uq_plans_scenario_version"),
        _key("plans", ["scenario"], ["scenarios.id"]),
        _key("plans", ["scenario", "revision"], ["revisions.scenario", "revisions.revision"], "_revision"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_plans_scenario", "plans", ["scenario"])
    op.create_table(
        "plan_files",
        sa.Column("plan", sa.String(32), nullable=False),
        sa.Column("name", sa.String(100), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("plan", "name", name="pk_plan_files"),
        _key("plan_files", ["plan"], ["plans.id"]),
    )


def _jobs() -> None:
    op.create_table(
        "jobs",
        sa.Column("number", sa.Integer, autoincrement=True),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("scenario", sa.String(32), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("seed", sa.Integer, nullable=False),
        sa.Column("seconds", sa.Float, nullable=False),
        sa.Column("key", sa.String(200)),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("cancelling", sa.Boolean, nullable=False),
        sa.Column("stage", sa.Text, nullable=False),
        sa.Column("fraction", sa.Float, nullable=False),
        sa.Column("objective", sa.Float),
        sa.Column("bound", sa.Float),
        sa.Column("plan", sa.String(32)),
        sa.Column("problem", sa.JSON),
        sa.Column("created", UTC, nullable=False),
        sa.Column("started", UTC),
        sa.Column("ended", UTC),
        sa.PrimaryKeyConstraint("number", name="pk_jobs"),
        sa.UniqueConstraint("id", name="uq_jobs_id"),
        sa.UniqueConstraint("key", name="uq_jobs_key"),
        _key("jobs", ["scenario"], ["scenarios.id"]),
        _key("jobs", ["plan"], ["plans.id"]),
        _key("jobs", ["scenario", "revision"], ["revisions.scenario", "revisions.revision"], "_revision"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_jobs_scenario", "jobs", ["scenario"])
    op.create_index("ix_jobs_state", "jobs", ["state"])


def _key(table: str, columns: list[str], there: list[str], more: str = "") -> sa.ForeignKeyConstraint:
    name = f"fk_{table}_{columns[0]}{more}"
    return sa.ForeignKeyConstraint(columns, there, name=name, ondelete="CASCADE")
