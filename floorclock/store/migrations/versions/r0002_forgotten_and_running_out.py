"""How many people were taken out of a class, and at which station how many were running out of rest.

Neither can be told from what the store had; so every class is marked as changed, and is read again from its journal the next
time the store is brought up to date.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Adds the two counts."""
    op.add_column("class", sa.Column("forgotten", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("station", sa.Column("runs_out", sa.Integer(), nullable=False, server_default="0"))
    # No journal has such a size: none is taken for unchanged.
    op.execute(sa.text("UPDATE class SET journal_size = -1"))
