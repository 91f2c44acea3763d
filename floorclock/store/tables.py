"""The tables of the index, as they are in this version. How they became so is in `migrations/`.

Invariant: every key begins with `site`, so that the sites of one database are apart, and so that PostgreSQL can be told to
partition by it. Nothing but `person.name` holds the name of a person.

What the keys are for: a class is read from `split`, `station` and `result` by its number, an athlete's page from `pace`,
`attendance` and `result` by theirs, the list of classes from the index on `started`. In SQLite the big tables are stored in the
order of their key (no rowid), so that each of these is one stretch of the file.

The rows of `split`, `pace` and the other tables of a class name their class, person and move by number and without a foreign
key: they are written and taken away with their class by `write` alone, and a check of each would cost more than the row itself.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    DateTime,
    Dialect,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    SmallInteger,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

LAYOUT: Final = "0002"
"""The revision in `migrations/versions` that these tables are."""
LAYOUT_TABLE: Final = "layout"


class Instant(TypeDecorator[datetime]):
    """An instant, always in UTC: `timestamptz` in PostgreSQL, text of one length in SQLite, which has no zones.

    The place's own offset stands beside it in a column of its own, in minutes. A time without a zone is taken for the
    machine's own, as in a journal.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


_UNSTORABLE = re.compile("[\x00\x10\ud800-\udfff]")
_ESCAPED = re.compile("\x10([0-9a-f]{4})")


def storable(text: str) -> str:
    """A text as `Words` holds it."""
    return _UNSTORABLE.sub(lambda found: f"\x10{ord(found[0]):04x}", text)


class Words(TypeDecorator[str]):
    """Any text that Python can hold. What a database refuses (NUL, half a surrogate pair) becomes U+0010 and its number."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return value if value is None else storable(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> str | None:
        if value is None or "\x10" not in value:
            return value
        return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), value)


metadata = MetaData()

sites = Table(
    "site",
    metadata,
    Column("site", Integer, primary_key=True),
    Column("name", Words, nullable=False, unique=True),
)

classes = Table(
    "class",
    metadata,
    Column("site", Integer, ForeignKey("site.site"), primary_key=True),
    Column("class_no", Integer, primary_key=True, autoincrement=False),
    Column("class_id", Words, nullable=False),
    Column("started", Instant, nullable=False),
    Column("offset_minutes", SmallInteger, nullable=False),
    Column("session", Words, nullable=False),
    Column("rehearsal", Boolean, nullable=False),
    Column("source", SmallInteger, nullable=False),
    Column("rest_margin_ms", Integer, nullable=False),
    Column("minutes", Double, nullable=False),
    Column("ended", Boolean, nullable=False),
    Column("damage", Integer, nullable=False),
    Column("athletes", Integer, nullable=False),
    Column("splits", Integer, nullable=False),
    Column("tapped", Integer, nullable=False),
    Column("not_finished", Integer, nullable=False),
    Column("home", Words, nullable=False),
    Column("journal_size", BigInteger, nullable=False),
    Column("journal_mtime_ns", BigInteger, nullable=False),
    Column("forgotten", Integer, nullable=False, server_default="0"),
    UniqueConstraint("site", "class_id", name="class_by_id"),
    Index("class_by_start", "site", "started"),
    Index("class_by_session", "site", "session", "started"),
)

persons = Table(
    "person",
    metadata,
    Column("site", Integer, ForeignKey("site.site"), primary_key=True),
    Column("person_no", Integer, primary_key=True, autoincrement=False),
    Column("name", Words, nullable=False),
    # Who this is, where the name is another spelling; the chain is never longer than that.
    Column("same_as", Integer),
    ForeignKeyConstraint(["site", "same_as"], ["person.site", "person.person_no"], name="person_same_as"),
    UniqueConstraint("site", "name", name="person_by_name"),
    Index("person_by_same", "site", "same_as"),
)

moves = Table(
    "move",
    metadata,
    Column("site", Integer, ForeignKey("site.site"), primary_key=True),
    Column("move_no", Integer, primary_key=True, autoincrement=False),
    Column("name", Words, nullable=False),
    UniqueConstraint("site", "name", name="move_by_name"),
)

attendance = Table(
    "attendance",
    metadata,
    Column("site", Integer, primary_key=True),
    Column("person_no", Integer, primary_key=True, autoincrement=False),
    Column("class_no", Integer, primary_key=True, autoincrement=False),
    # Null for somebody who stands in the rows of a class without having been there; so everybody in a class is found here.
    Column("minutes", Double),
    Column("effort", Double),
    Index("attendance_by_class", "site", "class_no"),
    sqlite_with_rowid=False,
)

splits = Table(
    "split",
    metadata,
    Column("site", Integer, primary_key=True),
    Column("class_no", Integer, primary_key=True, autoincrement=False),
    Column("person_no", Integer, primary_key=True, autoincrement=False),
    Column("part", SmallInteger, primary_key=True, autoincrement=False),
    Column("interval", Integer, primary_key=True, autoincrement=False),
    Column("round", Integer, nullable=False),
    Column("station", SmallInteger, nullable=False),
    Column("move_no", Integer, nullable=False),
    # Exact: a whole number, or a fraction such as 25/2.
    Column("amount", Text),
    Column("unit", SmallInteger, nullable=False),
    Column("window_ms", Integer, nullable=False),
    Column("margin_ms", Integer, nullable=False),
    Column("split_ms", Integer),
    Column("status", SmallInteger, nullable=False),
    Column("flags", SmallInteger, nullable=False),
    sqlite_with_rowid=False,
)

paces = Table(
    "pace",
    metadata,
    Column("site", Integer, nullable=False),
    Column("person_no", Integer, nullable=False),
    Column("move_no", Integer, nullable=False),
    Column("unit", SmallInteger, nullable=False),
    Column("class_no", Integer, nullable=False),
    Column("part", SmallInteger, nullable=False),
    Column("station", SmallInteger, nullable=False),
    Column("amount", Text),
    Column("rounds", Integer, nullable=False),
    Column("tapped", Integer, nullable=False),
    Column("tight", Integer, nullable=False),
    Column("not_finished", Integer, nullable=False),
    Column("flags", SmallInteger, nullable=False),
    Column("median_split_ms", Double),
    Column("first_ms", Integer),
    Column("last_ms", Integer),
    Column("least_rest_ms", Integer),
    Column("slope_ms", Double),
    Column("cv_percent", Double),
    Column("level", Double),
    Column("drift", Double),
    # Class by class for each person, so that a year of somebody is one stretch of the key, however many years there are.
    PrimaryKeyConstraint("site", "person_no", "class_no", "part", "station", "move_no", "unit", name="pace_key"),
    Index("pace_by_class", "site", "class_no", "person_no"),
    sqlite_with_rowid=False,
)

stations = Table(
    "station",
    metadata,
    Column("site", Integer, primary_key=True),
    Column("class_no", Integer, primary_key=True, autoincrement=False),
    Column("part", SmallInteger, primary_key=True, autoincrement=False),
    Column("station", SmallInteger, primary_key=True, autoincrement=False),
    Column("part_title", Words, nullable=False),
    Column("kind", SmallInteger, nullable=False),
    Column("move_no", Integer, nullable=False),
    Column("athletes", Integer, nullable=False),
    Column("tapped", Integer, nullable=False),
    Column("untapped", Integer, nullable=False),
    Column("tight", Integer, nullable=False),
    Column("fading", Integer, nullable=False),
    Column("not_finished", Integer, nullable=False),
    Column("median_split_ms", Double),
    Column("median_rest_ms", Double),
    Column("mean_drift", Double),
    Column("runs_out", Integer, nullable=False, server_default="0"),
    sqlite_with_rowid=False,
)

results = Table(
    "result",
    metadata,
    Column("site", Integer, primary_key=True),
    Column("class_no", Integer, primary_key=True, autoincrement=False),
    Column("person_no", Integer, primary_key=True, autoincrement=False),
    Column("part", SmallInteger, primary_key=True, autoincrement=False),
    Column("title", Words, nullable=False),
    Column("kind", SmallInteger, nullable=False),
    Column("choice", Words, nullable=False),
    Column("time_ms", Integer),
    Column("rounds", Integer),
    Column("reps", Integer),
    Column("not_finished", Boolean, nullable=False),
    Index("result_by_person", "site", "person_no"),
    sqlite_with_rowid=False,
)

OF_A_CLASS: Final = (splits, paces, stations, results, attendance)
"""The tables whose rows come and go with their class."""
