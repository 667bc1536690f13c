"""What Alembic runs to bring a store up to date; the connection is handed in by the store."""

from alembic import context

from ohmwright.storage.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
