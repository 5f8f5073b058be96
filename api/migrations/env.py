"""Run by alembic: takes the steps on the connection it was given, inside its transaction."""

from __future__ import annotations

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=False)
context.run_migrations()
