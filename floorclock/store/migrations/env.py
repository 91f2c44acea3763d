"""What alembic runs: the revisions, on the connection and in the transaction it is handed."""

from __future__ import annotations

from alembic import context

from floorclock.store.tables import LAYOUT_TABLE, metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=LAYOUT_TABLE,
)
with context.begin_transaction():
    context.run_migrations()
