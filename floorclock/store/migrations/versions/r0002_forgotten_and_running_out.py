"""How many people were taken out of a class, and at which station how many were running out of rest; paces class by class.

Neither count can be told from what the store had; so every class is marked as changed, and is read again from its journal the
next time the store is brought up to date. The paces of somebody stood move by move: one year of them was in as many places as
there are moves.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Adds the two counts and gives paces another key."""
    op.add_column("class", sa.Column("forgotten", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("station", sa.Column("runs_out", sa.Integer(), nullable=False, server_default="0"))
    # No journal has such a size: none is taken for unchanged.
    op.execute(sa.text("UPDATE class SET journal_size = -1"))
    _paces_by_class()


def _paces_by_class() -> None:
    """No database changes the key that a table is kept by; so it is made anew."""
    op.drop_index("pace_by_class", "pace")
    op.rename_table("pace", "pace_by_move")
    small = ("unit", "part", "station", "flags")
    op.create_table(
        "pace",
        *(_needed(name, small) for name in ("site", "person_no", "move_no", "unit", "class_no", "part", "station")),
        sa.Column("amount", sa.Text()),
        *(_needed(name, small) for name in ("rounds", "tapped", "tight", "not_finished", "flags")),
        sa.Column("median_split_ms", sa.Double()),
        *(sa.Column(name, sa.Integer()) for name in ("first_ms", "last_ms", "least_rest_ms")),
        *(sa.Column(name, sa.Double()) for name in ("slope_ms", "cv_percent", "level", "drift")),
        sa.PrimaryKeyConstraint("site", "person_no", "class_no", "part", "station", "move_no", "unit", name="pace_key"),
        sqlite_with_rowid=False,
    )
    op.execute(sa.text("INSERT INTO pace SELECT * FROM pace_by_move"))
    op.drop_table("pace_by_move")
    op.create_index("pace_by_class", "pace", ["site", "class_no", "person_no"])


def _needed(name: str, small: tuple[str, ...]) -> sa.Column[int]:
    return sa.Column(name, sa.SmallInteger() if name in small else sa.Integer(), nullable=False)
