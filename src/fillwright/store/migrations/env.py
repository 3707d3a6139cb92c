"""Runs the migrations in the transaction that `database.open_store` has begun."""

from __future__ import annotations

from alembic import context

from fillwright.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=False,  # the caller's transaction holds everything
)
context.run_migrations()
