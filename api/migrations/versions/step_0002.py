"""Clubs with keys, members, sites and telescopes; logs, forecasts, calendars; jobs of every sort; workers.

What one observer had before becomes a club called "Home".
"""

from __future__ import annotations

import secrets
from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

from api.migrations.columns import MOMENT, edited, id_, key, keyed, name, number, remaking

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the new tables, and give what is there an owner."""
    _clubs()
    home = _home()
    _scenarios(home)
    _plans()
    _jobs(home)
    _workers()


def _clubs() -> None:
    op.create_table("clubs", number(), id_(), name(), *edited(), *keyed("clubs"), sqlite_autoincrement=True)
    op.create_table(
        "keys", number(), id_(),
        sa.Column("club", sa.String(32)),
        sa.Column("role", sa.String(20), nullable=False),
        name(),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("created", MOMENT, nullable=False),
        sa.Column("expires", MOMENT),
        sa.Column("revoked", MOMENT),
        *keyed("keys"),
        key("keys", "club", "clubs"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_keys_club", "keys", ["club"])
    for table in ("members", "sites", "telescopes"):
        op.create_table(
            table, number(), id_(),
            sa.Column("club", sa.String(32), nullable=False),
            name(),
            sa.Column("settings", sa.JSON, nullable=False),
            *edited(), *keyed(table),
            sa.UniqueConstraint("club", "name", name=f"uq_{table}_club_name"),
            key(table, "club", "clubs"),
            sqlite_autoincrement=True,
        )  # fmt: skip
        op.create_index(f"ix_{table}_club", table, ["club"])


def _home() -> str | None:
    """Return the id of the club that takes over what is there, None where nothing is."""
    connection = op.get_bind()
    if connection.execute(sa.text("SELECT 1 FROM scenarios LIMIT 1")).first() is None:
        return None
    home, now = secrets.token_hex(10), datetime.now(UTC)
    clubs = sa.table(
        "clubs", sa.column("id"), sa.column("name"), sa.column("revision"),
        sa.column("created", MOMENT), sa.column("changed", MOMENT),
    )  # fmt: skip
    op.bulk_insert(clubs, [{"id": home, "name": "Home", "revision": 1, "created": now, "changed": now}])
    return home


def _scenarios(home: str | None) -> None:
    with remaking("scenarios") as table:
        table.add_column(sa.Column("club", sa.String(32)))
        table.add_column(sa.Column("uses", sa.JSON))
    op.execute(sa.text("UPDATE scenarios SET club = :home, uses = '{}'").bindparams(home=home))
    with remaking("scenarios") as table:
        table.alter_column("club", existing_type=sa.String(32), nullable=False)
        table.alter_column("uses", existing_type=sa.JSON, nullable=False)
        table.create_foreign_key("fk_scenarios_club", "clubs", ["club"], ["id"], ondelete="CASCADE")
    op.create_index("ix_scenarios_club", "scenarios", ["club"])
    with op.batch_alter_table("revisions") as table:
        table.add_column(sa.Column("forecast_csv", sa.LargeBinary))
    op.execute(sa.text("UPDATE revisions SET forecast_csv = :none").bindparams(none=b""))
    with op.batch_alter_table("revisions") as table:
        table.alter_column("forecast_csv", existing_type=sa.LargeBinary, nullable=False)
    op.create_table(
        "outcomes",
        sa.Column("scenario", sa.String(32), nullable=False),
        sa.Column("line", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("evening", sa.Date, nullable=False),
        sa.Column("outcome", sa.String(20), nullable=False),
        sa.Column("usable_min", sa.Integer),
        sa.Column("seen", sa.JSON, nullable=False),
        sa.Column("seen_poorly", sa.JSON, nullable=False),
        sa.Column("not_seen", sa.JSON, nullable=False),
        sa.Column("notes", sa.Text, nullable=False),
        sa.Column("logged", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("scenario", "line", name="pk_outcomes"),
        key("outcomes", "scenario", "scenarios"),
    )


def _plans() -> None:
    with remaking("plans") as table:
        table.add_column(sa.Column("outcomes", sa.Integer, nullable=False, server_default="0"))
        table.add_column(sa.Column("previous", sa.String(32)))
    with remaking("plans") as table:
        table.alter_column("outcomes", existing_type=sa.Integer, server_default=None)
    op.create_table(
        "calendars", number(), id_(),
        sa.Column("scenario", sa.String(32), nullable=False),
        sa.Column("plan", sa.String(32), nullable=False),
        *edited(), *keyed("calendars"),
        sa.UniqueConstraint("scenario", name="uq_calendars_scenario"),
        key("calendars", "scenario", "scenarios"),
        key("calendars", "plan", "plans"),
        sqlite_autoincrement=True,
    )  # fmt: skip
    op.create_index("ix_calendars_plan", "calendars", ["plan"])


def _jobs(home: str | None) -> None:
    with remaking("jobs") as table:
        table.add_column(sa.Column("club", sa.String(32)))
        table.add_column(sa.Column("outcomes", sa.Integer, nullable=False, server_default="0"))
        table.add_column(sa.Column("work", sa.String(20), nullable=False, server_default="plan"))
        table.add_column(sa.Column("wish", sa.JSON))
        table.add_column(sa.Column("answer", sa.Text))
    jobs = sa.table("jobs", *(sa.column(name) for name in ("number", "seed", "seconds", "club")),
                    sa.column("wish", sa.JSON))  # fmt: skip
    connection = op.get_bind()
    for job in connection.execute(sa.select(jobs.c.number, jobs.c.seed, jobs.c.seconds)).all():
        wish = {"seed": job.seed, "seconds": job.seconds}
        connection.execute(sa.update(jobs).where(jobs.c.number == job.number).values(club=home, wish=wish))
    with remaking("jobs") as table:
        table.alter_column("club", existing_type=sa.String(32), nullable=False)
        table.alter_column("wish", existing_type=sa.JSON, nullable=False)
        table.alter_column("outcomes", existing_type=sa.Integer, server_default=None)
        table.alter_column("work", existing_type=sa.String(20), server_default=None)
        table.drop_column("seed")
        table.drop_column("seconds")
        table.drop_constraint("uq_jobs_key", type_="unique")
        table.create_unique_constraint("uq_jobs_club_key", ["club", "key"])
        table.create_foreign_key("fk_jobs_club", "clubs", ["club"], ["id"], ondelete="CASCADE")
    op.create_index("ix_jobs_club", "jobs", ["club"])
    op.create_index("ix_jobs_plan", "jobs", ["plan"])


def _workers() -> None:
    op.create_table(
        "workers",
        sa.Column("executor", sa.String(64), nullable=False),
        sa.Column("host", sa.String(200), nullable=False),
        sa.Column("beat", sa.Integer, nullable=False),
        sa.Column("started", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("executor", name="pk_workers"),
    )
