"""An open store: classes are put into it and taken out again; `questions` are asked of it.

Invariant: everything that goes through a store concerns its own site; a class is in it whole or not at all, and a name stays only
as long as a class has it or somebody is the same as it. Whatever a database refuses is raised as `ResourceError` in plain words.
A store may be used by several threads; each call has a connection of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import timedelta
from functools import cache
from itertools import islice
from types import TracebackType
from typing import Any, Final, Self, TypeVar

from sqlalchemy import URL, Column, Connection, Engine, Table, and_, delete, exists, func, insert, select, text, update

from floorclock.clock.splits import Split
from floorclock.errors import ResourceError
from floorclock.store.connection import WRITES, file_of, is_file, make_engine, read_url, shown, told_in_words
from floorclock.store.rows import ClassRows, JournalMark
from floorclock.store.schema import OF_A_CLASS, attendance, classes, make_ready, moves, persons, site_number, sites

MOST_IN_LIST: Final = 500
"""So many values are looked up at once."""
T = TypeVar("T")


def open_store(url: str, site: str) -> Store:
    """Opens a store, made on first use and made anew where it is of an earlier version. Close it, or use it in a `with`.

    `url` is one of `store_url`, `site` the name of the gym in a store that several share.

    Raises:
        WrongUsage: the URL names no store.
        DamagedStore: its file is no database, or damaged.
        ResourceError: the store is locked, gone, read-only, full, of a newer version or no store at all.
    """
    place = read_url(url)
    engine = make_engine(place)
    try:
        with told_in_words(place):
            return Store(engine, place, _ready(engine, place, site))
    except BaseException:
        engine.dispose()
        raise


def _ready(engine: Engine, place: URL, site: str) -> int:
    with engine.connect() as connection:
        number = site_number(connection, site)
    if number is not None:
        return number
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        return make_ready(connection, site, place)


class Store:
    """The index of the classes of one site. `open_store` makes one."""

    def __init__(self, engine: Engine, place: URL, number: int) -> None:
        self.number = number
        self.place = place
        self._engine = engine

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Lets go of the database."""
        self._engine.dispose()

    @property
    def shown(self) -> str:
        """The store as it is named to people, without a password."""
        return shown(self.place)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees the store at one moment.

        Raises:
            ResourceError: the database refuses.
        """
        options = {} if is_file(self.place) else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        with told_in_words(self.place), self._engine.connect().execution_options(**options) as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that writes, all of it or nothing, and the only one of this site meanwhile.

        Raises:
            ResourceError: the database refuses.
        """
        if is_file(self.place) and not file_of(self.place).exists():
            # SQLite would go on writing into a file that nobody can find any more.
            raise ResourceError(f"the store {self.shown} was taken away")
        with (
            told_in_words(self.place),
            self._engine.connect().execution_options(**{WRITES: True}) as connection,
            connection.begin(),
        ):
            if connection.dialect.name == "postgresql":
                # Numbers are given out from here on. In SQLite the transaction itself holds everything.
                connection.execute(select(sites.c.site).where(sites.c.site == self.number).with_for_update())
            yield connection

    def put(self, batch: Collection[ClassRows]) -> None:
        """Writes classes in one transaction, each in the place of the one with the same id; of two with one id the later counts.

        Raises:
            UnstorableRows: the database has no room for a value of theirs; nothing was written.
            ResourceError: the database refuses.
        """
        by_id = {rows.id: rows for rows in batch}
        with self.writing() as connection:
            there = _class_numbers(connection, self.number, by_id)
            # Before anything is taken out: a number that is given again must not be given to another one too.
            fresh = _next_number(connection, self.number, classes.c.class_no)
            _take_out(connection, self.number, there.values())
            numbers = {id_: there.get(id_, fresh + place) for place, id_ in enumerate(by_id)}
            _bulk_insert(connection, self.number, [(numbers[id_], rows) for id_, rows in by_id.items()])
            if there:
                _forget_nobodies(connection, self.number)

    def drop(self, class_ids: Iterable[str]) -> int:
        """Takes classes out, and the names that only they had; how many classes there were.

        Raises:
            ResourceError: the database refuses. What was taken out until then stays out.
        """
        dropped = 0
        for some in in_lists(class_ids):
            with self.writing() as connection:
                there = _class_numbers(connection, self.number, some)
                _take_out(connection, self.number, there.values())
                _forget_nobodies(connection, self.number)
            dropped += len(there)
        return dropped

    def marks(self, home: str | None = None) -> dict[str, JournalMark]:
        """Which journal each class was made from, by class id; of one data folder (`ClassRows.home`), or of all.

        Raises:
            ResourceError: the database refuses.
        """
        query = select(classes.c.class_id, classes.c.journal_size, classes.c.journal_mtime_ns)
        query = query.where(classes.c.site == self.number)
        if home is not None:
            query = query.where(classes.c.home == home)
        with self.reading() as connection:
            return {id_: JournalMark(size=size, mtime_ns=mtime_ns) for id_, size, mtime_ns in connection.execute(query)}

    def same(self, canonical: Mapping[str, str]) -> None:
        """Says who is the same person as whom: each name as written, to the name that counts. An empty one parts them all.

        Nothing is written where the store says so already.

        Raises:
            ValueError: somebody is the same as themselves by way of others.
            ResourceError: the database refuses.
        """
        ends = {name: _end(name, canonical) for name in canonical}
        ends = {name: end for name, end in ends.items() if name != end}
        if ends == self._same_now():
            return
        here = persons.c.site == self.number
        with self.writing() as connection:
            people = _numbers_of(connection, self.number, persons, persons.c.person_no, {*ends, *ends.values()})
            connection.execute(update(persons).where(here, persons.c.same_as.is_not(None)).values(same_as=None))
            for name, end in ends.items():
                connection.execute(update(persons).where(here, persons.c.person_no == people[name]).values(same_as=people[end]))
            _forget_nobodies(connection, self.number)

    def _same_now(self) -> dict[str, str]:
        head = persons.alias()
        joined = and_(head.c.site == persons.c.site, head.c.person_no == persons.c.same_as)
        query = select(persons.c.name, head.c.name).join(head, joined).where(persons.c.site == self.number)
        with self.reading() as connection:
            return dict(connection.execute(query).all())

    def scrub(self) -> None:
        """Leaves nothing of what was taken out in the files of the database: for when somebody wants to be forgotten.

        Raises:
            ResourceError: the database refuses, or somebody is using it.
        """
        if not is_file(self.place):
            self._outside_transaction("VACUUM (FULL, ANALYZE) person")
        elif self._outside_transaction("PRAGMA wal_checkpoint(TRUNCATE)"):
            raise ResourceError(f"the store {self.shown} is in use by another program; what was taken out may still be in it")

    def analyze(self) -> None:
        """Tells a server how large its tables have become: it looks things up in the wrong order where they were just filled.

        Raises:
            ResourceError: the database refuses.
        """
        if not is_file(self.place):
            self._outside_transaction("ANALYZE " + ", ".join(table.fullname for table in (*OF_A_CLASS, classes)))

    def _outside_transaction(self, statement: str) -> int:
        """Runs a statement that no transaction may hold; the first number it answers with, 0 where it has no answer."""
        with told_in_words(self.place), self._engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            done = connection.execute(text(statement))
            return int(done.scalars().first() or 0) if done.returns_rows else 0


def in_lists(values: Iterable[T]) -> Iterator[list[T]]:
    """Values in lists that every database takes."""
    rest = iter(values)
    while some := list(islice(rest, MOST_IN_LIST)):
        yield some


def _bulk_insert(connection: Connection, site: int, batch: Collection[tuple[int, ClassRows]]) -> None:
    """Writes the rows of classes with their numbers, table by table in the order of its key."""
    people = _numbers_of(connection, site, persons, persons.c.person_no, {name for _, rows in batch for name in rows.names})
    of_moves = _numbers_of(connection, site, moves, moves.c.move_no, {move for _, rows in batch for move in rows.moves})
    connection.execute(insert(classes), [_class_values(site, number, rows) for number, rows in batch])
    for table, field in OF_A_CLASS.items():
        key = [column.name for column in table.primary_key if column.name != "unit"]
        found = [
            {"site": site, "class_no": number, **_values(row, table, people, of_moves)}
            for number, rows in batch
            for row in getattr(rows, field)
        ]
        if found:
            connection.execute(insert(table), sorted(found, key=lambda values: [values[name] for name in key]))
    absent = [
        {"site": site, "class_no": number, "person_no": people[name]}
        for number, rows in batch
        for name in rows.names - {row.name for row in rows.attendance}
    ]
    if absent:
        connection.execute(insert(attendance), absent)


def _values(row: Any, table: Table, people: Mapping[str, int], of_moves: Mapping[str, int]) -> dict[str, Any]:
    """The columns of a row but for its site and class."""
    values = {name: getattr(row, name) for name in own_columns(table)}
    if "person_no" in table.c:
        values["person_no"] = people[row.athlete if isinstance(row, Split) else row.name]
    if "move_no" in table.c:
        values["move_no"] = of_moves[row.move]
    return values


@cache
def own_columns(table: Table) -> tuple[str, ...]:
    """The columns that a row has as fields of the same name."""
    return tuple(column.name for column in table.columns if column.name not in ("site", "class_no", "person_no", "move_no"))


def _class_values(site: int, number: int, rows: ClassRows) -> dict[str, object]:
    started = rows.started.astimezone() if rows.started.tzinfo is None else rows.started
    offset = started.utcoffset() or timedelta(0)
    return {
        "site": site,
        "class_no": number,
        "class_id": rows.id,
        "started": started,
        # One that is no whole number of minutes is told in UTC, as in a journal.
        "offset_minutes": 0 if offset % timedelta(minutes=1) else offset // timedelta(minutes=1),
        "session": rows.session,
        "rehearsal": rows.rehearsal,
        "athletes": len(rows.attendance),
        "home": rows.home,
        "journal_size": rows.mark.size,
        "journal_mtime_ns": rows.mark.mtime_ns,
    }


def _class_numbers(connection: Connection, site: int, class_ids: Iterable[str]) -> dict[str, int]:
    """The numbers of those classes that are there, by id."""
    found: dict[str, int] = {}
    for some in in_lists(class_ids):
        query = select(classes.c.class_id, classes.c.class_no).where(classes.c.site == site, classes.c.class_id.in_(some))
        found.update(connection.execute(query).all())
    return found


def _take_out(connection: Connection, site: int, class_nos: Iterable[int]) -> None:
    for some in in_lists(class_nos):
        for table in (*OF_A_CLASS, classes):
            connection.execute(delete(table).where(table.c.site == site, table.c.class_no.in_(some)))


def _forget_nobodies(connection: Connection, site: int) -> None:
    """Takes out the names that no class has, unless they are one of two spellings."""
    other = persons.alias()
    connection.execute(
        delete(persons).where(
            persons.c.site == site,
            persons.c.same_as.is_(None),
            ~exists().where(attendance.c.site == site, attendance.c.person_no == persons.c.person_no),
            ~exists().where(other.c.site == site, other.c.same_as == persons.c.person_no),
        )
    )


def _numbers_of(connection: Connection, site: int, table: Table, column: Column[int], names: Iterable[str]) -> dict[str, int]:
    """The number of each name; new names get new numbers."""
    wanted = sorted(names)
    found: dict[str, int] = {}
    for some in in_lists(wanted):
        query = select(table.c.name, column).where(table.c.site == site, table.c.name.in_(some))
        found.update(connection.execute(query).all())
    new = [name for name in wanted if name not in found]
    if new:
        first = _next_number(connection, site, column)
        numbered = {name: first + place for place, name in enumerate(new)}
        connection.execute(
            insert(table), [{"site": site, column.name: number, "name": name} for name, number in numbered.items()]
        )
        found.update(numbered)
    return found


def _next_number(connection: Connection, site: int, column: Column[int]) -> int:
    highest = connection.scalar(select(func.max(column)).where(column.table.c.site == site))
    return 1 if highest is None else highest + 1


def _end(name: str, canonical: Mapping[str, str]) -> str:
    seen = {name}
    while (following := canonical.get(name, name)) != name:
        if following in seen:
            raise ValueError("somebody is the same as themselves by way of others")
        seen.add(following)
        name = following
    return name
