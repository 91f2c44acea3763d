"""The first layout: sites, classes, people, moves, and what each class came to."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the tables of an empty store."""
    _who_and_what()
    _attendance_and_splits()
    _paces()
    _stations_and_results()


def _key(name: str, kind: type[sa.types.TypeEngine[int]] = sa.Integer) -> sa.Column[int]:
    return sa.Column(name, kind(), primary_key=True, autoincrement=False, nullable=False)


def _needed(name: str, kind: sa.types.TypeEngine[Any]) -> sa.Column[Any]:
    return sa.Column(name, kind, nullable=False)


def _counts(*names: str) -> list[sa.Column[Any]]:
    return [_needed(name, sa.Integer()) for name in names]


def _measures(*names: str) -> list[sa.Column[float]]:
    return [sa.Column(name, sa.Double()) for name in names]


def _who_and_what() -> None:
    op.create_table(
        "site",
        sa.Column("site", sa.Integer(), primary_key=True),
        sa.Column("name", sa.Text(), nullable=False, unique=True),
    )
    op.create_table(
        "class",
        sa.Column("site", sa.Integer(), sa.ForeignKey("site.site"), primary_key=True, autoincrement=False),
        _key("class_no"),
        _needed("class_id", sa.Text()),
        _needed("started", sa.DateTime(timezone=True)),
        _needed("offset_minutes", sa.SmallInteger()),
        _needed("session", sa.Text()),
        _needed("rehearsal", sa.Boolean()),
        _needed("source", sa.SmallInteger()),
        _needed("rest_margin_ms", sa.Integer()),
        _needed("minutes", sa.Double()),
        _needed("ended", sa.Boolean()),
        *_counts("damage", "athletes", "splits", "tapped", "not_finished"),
        _needed("home", sa.Text()),
        _needed("journal_size", sa.BigInteger()),
        _needed("journal_mtime_ns", sa.BigInteger()),
        sa.UniqueConstraint("site", "class_id", name="class_by_id"),
    )
    op.create_index("class_by_start", "class", ["site", "started"])
    op.create_index("class_by_session", "class", ["site", "session", "started"])
    op.create_table(
        "person",
        sa.Column("site", sa.Integer(), sa.ForeignKey("site.site"), primary_key=True, autoincrement=False),
        _key("person_no"),
        _needed("name", sa.Text()),
        sa.Column("same_as", sa.Integer()),
        sa.ForeignKeyConstraint(["site", "same_as"], ["person.site", "person.person_no"], name="person_same_as"),
        sa.UniqueConstraint("site", "name", name="person_by_name"),
    )
    op.create_index("person_by_same", "person", ["site", "same_as"])
    op.create_table(
        "move",
        sa.Column("site", sa.Integer(), sa.ForeignKey("site.site"), primary_key=True, autoincrement=False),
        _key("move_no"),
        _needed("name", sa.Text()),
        sa.UniqueConstraint("site", "name", name="move_by_name"),
    )


def _attendance_and_splits() -> None:
    op.create_table(
        "attendance",
        _key("site"),
        _key("person_no"),
        _key("class_no"),
        *_measures("minutes", "effort"),
        sqlite_with_rowid=False,
    )
    op.create_index("attendance_by_class", "attendance", ["site", "class_no"])
    op.create_table(
        "split",
        _key("site"),
        _key("class_no"),
        _key("person_no"),
        _key("part", sa.SmallInteger),
        _key("interval"),
        _needed("round", sa.Integer()),
        _needed("station", sa.SmallInteger()),
        _needed("move_no", sa.Integer()),
        sa.Column("amount", sa.Text()),
        _needed("unit", sa.SmallInteger()),
        *_counts("window_ms", "margin_ms"),
        sa.Column("split_ms", sa.Integer()),
        _needed("status", sa.SmallInteger()),
        _needed("flags", sa.SmallInteger()),
        sqlite_with_rowid=False,
    )


def _paces() -> None:
    op.create_table(
        "pace",
        _key("site"),
        _key("person_no"),
        _key("move_no"),
        _key("unit", sa.SmallInteger),
        _key("class_no"),
        _key("part", sa.SmallInteger),
        _key("station", sa.SmallInteger),
        sa.Column("amount", sa.Text()),
        *_counts("rounds", "tapped", "tight", "not_finished"),
        _needed("flags", sa.SmallInteger()),
        *_measures("median_split_ms"),
        sa.Column("first_ms", sa.Integer()),
        sa.Column("last_ms", sa.Integer()),
        sa.Column("least_rest_ms", sa.Integer()),
        *_measures("slope_ms", "cv_percent", "level", "drift"),
        sqlite_with_rowid=False,
    )
    op.create_index("pace_by_class", "pace", ["site", "class_no", "person_no"])


def _stations_and_results() -> None:
    op.create_table(
        "station",
        _key("site"),
        _key("class_no"),
        _key("part", sa.SmallInteger),
        _key("station", sa.SmallInteger),
        _needed("part_title", sa.Text()),
        _needed("kind", sa.SmallInteger()),
        *_counts("move_no", "athletes", "tapped", "untapped", "tight", "fading", "not_finished"),
        *_measures("median_split_ms", "median_rest_ms", "mean_drift"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "result",
        _key("site"),
        _key("class_no"),
        _key("person_no"),
        _key("part", sa.SmallInteger),
        _needed("title", sa.Text()),
        _needed("kind", sa.SmallInteger()),
        _needed("choice", sa.Text()),
        sa.Column("time_ms", sa.Integer()),
        sa.Column("rounds", sa.Integer()),
        sa.Column("reps", sa.Integer()),
        _needed("not_finished", sa.Boolean()),
        sqlite_with_rowid=False,
    )
    op.create_index("result_by_person", "result", ["site", "person_no"])
