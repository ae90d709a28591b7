"""Runs the steps on the connection handed in; there is no other way to call them."""

from alembic import context

from cakewright.storage.store.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
