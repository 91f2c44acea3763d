"""How a store of an earlier version becomes one of this version: alembic revisions, forward only."""
