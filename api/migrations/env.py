"""Run by alembic: takes the steps on the connection it was given, inside its transaction."""

from __future__ import annotations

from alembic import context

from api.migrations import FORMAT_TABLE

context.configure(
    connection=context.config.attributes["connection"], transactional_ddl=False,
    version_table=FORMAT_TABLE,
)  # fmt: skip
context.run_migrations()
