"""Lines of the log hold the measured sky, and the key they were sent under, so that none is added twice."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add both columns, empty; lines kept so far were sent under no key, and any number may have none."""
    with op.batch_alter_table("outcomes") as table:
        table.add_column(sa.Column("sky_brightness", sa.Float))
        table.add_column(sa.Column("key", sa.String(200)))
        table.create_unique_constraint("uq_outcomes_scenario_key", ["scenario", "key"])
