"""The tables of the index, and how a store comes to have them.

Invariant: every key begins with `site`, so that the sites of one database are apart, and so that PostgreSQL can be told to
partition by it. Nothing but `person.name` holds the name of a person. Whoever is handed a site's number finds the tables of this
version; two programs that open a new store at the same time make it once.

The index can be made again from the journals, so a store of an earlier version is not converted: its tables are dropped and made
anew, and each data folder fills in its own classes the next time it is asked something.

What the keys are for: a class is read from `split`, `station` and `result` by its number, an athlete's page from `pace`,
`attendance` and `result` by theirs. In SQLite the big tables are stored in the order of their key (no rowid), so that each of
these is one stretch of the file. The rows of a class name their class, person and move by number and without a foreign key: they
are written and taken away with their class alone, and a check of each would cost more than the row itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final

from sqlalchemy import (
    URL,
    BigInteger,
    Boolean,
    Column,
    Connection,
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
    insert,
    inspect,
    select,
    text,
)

from floorclock.clock.splits import Status
from floorclock.errors import ResourceError
from floorclock.plan.work import LoadUnit, Unit
from floorclock.store.connection import SCHEMA, replace_words, shown

LAYOUT: Final = "0004"
"""The version of these tables; a higher one for every change of a table, or of what its figures mean."""
_ONE_AT_A_TIME: Final = 7_246_001
"""The number of the lock under which tables are made in PostgreSQL. Any would do, as long as it is always the same."""
UNITS: Final = (None, Unit.REPS, Unit.METRES, Unit.CALORIES, Unit.SECONDS, Unit.WHOLE)
KINDS: Final = ("open", "rotation", "intervals", "for_time", "amrap", "paced", "rest")
SCORES: Final = (None, "reps", "calories", "metres", "load")
LOAD_UNITS: Final = (LoadUnit.KG, LoadUnit.LB)
STATUSES: Final = (Status.DONE, Status.UNTAPPED, Status.NOT_FINISHED)


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


class Words(TypeDecorator[str]):
    """Any text that Python can hold. What a database refuses (NUL, half a surrogate pair) becomes U+0010 and its number."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return value if value is None else _UNSTORABLE.sub(lambda found: f"\x10{ord(found[0]):04x}", value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> str | None:
        if value is None or "\x10" not in value:
            return value
        return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), value)


class ExactFraction(TypeDecorator[Fraction]):
    """A fraction as text: a whole number, or one such as 25/2."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Fraction | None, dialect: Dialect) -> str | None:
        return None if value is None else str(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Fraction | None:
        return None if value is None else _fraction(value)


@lru_cache(maxsize=4096)
def _fraction(written: str) -> Fraction:
    return Fraction(written)


class Counted(TypeDecorator[tuple[tuple[int, Fraction], ...]]):
    """What was counted in each interval, as text: `0:14 2:25/2`."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: tuple[tuple[int, Fraction], ...] | None, dialect: Dialect) -> str:
        return " ".join(f"{interval}:{amount}" for interval, amount in value or ())

    def process_result_value(self, value: str | None, dialect: Dialect) -> tuple[tuple[int, Fraction], ...]:
        pairs = (written.split(":") for written in (value or "").split())
        return tuple((int(interval), _fraction(amount)) for interval, amount in pairs)


class CodedWord(TypeDecorator[Any]):
    """One of a few words as a small number: its place among them. A new word goes to the end, and no place is given twice."""

    impl = SmallInteger
    cache_ok = True

    def __init__(self, words: Sequence[Any]) -> None:
        super().__init__()
        self.words = tuple(words)

    def process_bind_param(self, value: Any, dialect: Dialect) -> int:
        return self.words.index(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> Any:
        return None if value is None else self.words[value]


metadata = MetaData()


def _number(name: str) -> Column[int]:
    return Column(name, Integer, primary_key=True, autoincrement=False)


def _small(name: str) -> Column[int]:
    return Column(name, SmallInteger, primary_key=True, autoincrement=False)


def _of_site() -> Column[int]:
    return Column("site", Integer, ForeignKey("site.site"), primary_key=True)


def _counts(*names: str) -> tuple[Column[int], ...]:
    return tuple(Column(name, Integer, nullable=False) for name in names)


layout = Table("layout", metadata, Column("version_num", Text, primary_key=True))

sites = Table(
    "site",
    metadata,
    Column("site", Integer, primary_key=True),
    Column("name", Words, nullable=False, unique=True),
)

classes = Table(
    "class",
    metadata,
    _of_site(),
    _number("class_no"),
    Column("class_id", Words, nullable=False),
    Column("started", Instant, nullable=False),
    Column("offset_minutes", SmallInteger, nullable=False),
    Column("session", Words, nullable=False),
    Column("rehearsal", Boolean, nullable=False),
    *_counts("athletes"),
    Column("home", Words, nullable=False),
    Column("journal_size", BigInteger, nullable=False),
    Column("journal_mtime_ns", BigInteger, nullable=False),
    UniqueConstraint("site", "class_id", name="class_by_id"),
    Index("class_by_start", "site", "started"),
)

persons = Table(
    "person",
    metadata,
    _of_site(),
    _number("person_no"),
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
    _of_site(),
    _number("move_no"),
    Column("name", Words, nullable=False),
    UniqueConstraint("site", "name", name="move_by_name"),
)

attendance = Table(
    "attendance",
    metadata,
    _number("site"),
    _number("person_no"),
    _number("class_no"),
    # Null for somebody who stands in the rows of a class without having been there; so everybody in a class is found here.
    Column("minutes", Double),
    Column("effort", Double),
    Index("attendance_by_class", "site", "class_no"),
    sqlite_with_rowid=False,
)

splits = Table(
    "split",
    metadata,
    _number("site"),
    _number("class_no"),
    _number("person_no"),
    _small("part"),
    _number("interval"),
    *_counts("round"),
    Column("station", SmallInteger, nullable=False),
    *_counts("move_no"),
    Column("amount", ExactFraction),
    Column("unit", CodedWord(UNITS), nullable=False),
    *_counts("window_ms", "margin_ms"),
    Column("split_ms", Integer),
    Column("status", CodedWord(STATUSES), nullable=False),
    Column("credited", Boolean, nullable=False),
    Column("corrected", Boolean, nullable=False),
    sqlite_with_rowid=False,
)

paces = Table(
    "pace",
    metadata,
    *_counts("site", "person_no", "move_no"),
    Column("unit", CodedWord(UNITS), nullable=False),
    *_counts("class_no"),
    Column("part", SmallInteger, nullable=False),
    Column("station", SmallInteger, nullable=False),
    Column("amount", ExactFraction),
    Column("target", ExactFraction),
    *_counts("rounds", "tapped", "not_finished"),
    Column("flags", SmallInteger, nullable=False),
    Column("median_split_ms", Double),
    Column("least_rest_ms", Integer),
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
    _number("site"),
    _number("class_no"),
    _small("part"),
    _small("station"),
    Column("part_title", Words, nullable=False),
    *_counts("move_no", "tapped", "not_finished"),
    Column("median_rest_ms", Double),
    Column("mean_drift", Double),
    sqlite_with_rowid=False,
)

results = Table(
    "result",
    metadata,
    _number("site"),
    _number("class_no"),
    _number("person_no"),
    _small("part"),
    Column("title", Words, nullable=False),
    Column("kind", CodedWord(KINDS), nullable=False),
    Column("choice", Words, nullable=False),
    Column("time_ms", Integer),
    Column("rounds", Integer),
    Column("reps", Integer),
    Column("not_finished", Boolean, nullable=False),
    Column("score_unit", CodedWord(SCORES), nullable=False),
    Column("scores", Counted, nullable=False),
    Index("result_by_person", "site", "person_no"),
    sqlite_with_rowid=False,
)

lifts = Table(
    "lift",
    metadata,
    *_counts("site", "person_no", "class_no", "move_no"),
    Column("reps", ExactFraction, nullable=False),
    Column("amount", ExactFraction, nullable=False),
    Column("heaviest", ExactFraction, nullable=False),
    Column("unit", CodedWord(LOAD_UNITS), nullable=False),
    *_counts("shared_by"),
    # As in `pace`: a year of somebody is one stretch of the key.
    PrimaryKeyConstraint("site", "person_no", "class_no", "move_no", name="lift_key"),
    Index("lift_by_class", "site", "class_no"),
    sqlite_with_rowid=False,
)

OF_A_CLASS: Final = {
    splits: "splits",
    paces: "paces",
    stations: "stations",
    results: "results",
    lifts: "lifts",
    attendance: "attendance",
}
"""The tables whose rows come and go with their class, each with the field of `ClassRows` that has them."""


def site_number(connection: Connection, site: str) -> int | None:
    """The number of a site in a store of this version; None where the store or the site is still to be made."""
    if _layout_of(connection) != LAYOUT:
        return None
    return connection.scalar(select(sites.c.site).where(sites.c.name == site))


def make_ready(connection: Connection, site: str, place: URL) -> int:
    """The number of a site, in a store that is made, or made anew, if it is not there or of an earlier version.

    `connection` is in a transaction that writes. `place` is where the store is.

    Raises:
        ResourceError: it is no store of floorclock, or one of a newer version.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _ONE_AT_A_TIME})
        connection.execute(text("SET LOCAL statement_timeout TO 0"))
        connection.execute(text(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}"))
    found = _layout_of(connection)
    if found is None and inspect(connection).get_table_names():
        raise ResourceError(f"the store {shown(place)} holds something else than classes of floorclock; name another one")
    if found is not None and found > LAYOUT:
        raise ResourceError(f"the store {shown(place)} is of a newer floorclock: install that one, or {replace_words(place)}")
    if found != LAYOUT:
        if found is not None:
            _drop_all(connection)
        metadata.create_all(connection)
        connection.execute(insert(layout).values(version_num=LAYOUT))
    number = site_number(connection, site)
    if number is None:
        connection.execute(insert(sites).values(name=site))
        number = site_number(connection, site)
    assert number is not None
    return number


def _layout_of(connection: Connection) -> str | None:
    """The version of a store's tables; None where there is none."""
    if not inspect(connection).has_table(layout.name):
        return None
    return connection.scalar(select(layout.c.version_num))


def _drop_all(connection: Connection) -> None:
    if connection.dialect.name == "postgresql":
        # Partitions too, which somebody may have made by hand.
        connection.execute(text(f"DROP SCHEMA {SCHEMA} CASCADE"))
        connection.execute(text(f"CREATE SCHEMA {SCHEMA}"))
        return
    earlier = MetaData()
    earlier.reflect(connection)
    earlier.drop_all(connection)
