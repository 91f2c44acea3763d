"""What goes into the index, and what goes out.

Invariant: a class is in it whole or not at all, and a name stays only as long as a class has it or somebody is the same as it.
Every function works in a transaction that writes, which it is handed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from sqlalchemy import Column, Connection, Table, delete, exists, func, insert, select, update

from floorclock.store.codes import DONE, NOT_FINISHED, SOURCES
from floorclock.store.laying import pour, rows_of
from floorclock.store.rows import ClassRows, JournalMark
from floorclock.store.tables import OF_A_CLASS, attendance, classes, moves, persons, sites

MOST_SPLITS = 100_000
"""About so many splits are written in one transaction, so that another program never waits long."""
MOST_IN_LIST = 500
"""So many values are looked up at once."""

GROWING = (*OF_A_CLASS, classes)


def batches(rows: Iterable[ClassRows]) -> Iterator[list[ClassRows]]:
    """Classes in batches of about MOST_SPLITS splits."""
    batch: list[ClassRows] = []
    held = 0
    for one in rows:
        batch.append(one)
        # A class without splits is not for nothing either.
        held += len(one.splits) + 100
        if held >= MOST_SPLITS:
            yield batch
            batch, held = [], 0
    if batch:
        yield batch


def put_batch(connection: Connection, site: int, batch: Iterable[ClassRows]) -> None:
    """Writes classes, each in the place of the one with the same id; of two with one id the later counts."""
    by_id = {one.id: one for one in batch}
    hold_site(connection, site)
    there = class_numbers(connection, site, by_id)
    # Before anything is taken out: a number that is given again must not be given to another one too.
    fresh = next_number(connection, site, classes.c.class_no)
    _take_out(connection, site, there.values())
    numbers = {id_: there[id_] if id_ in there else fresh + place for place, id_ in enumerate(by_id)}
    everybody = {name for one in by_id.values() for name in _names(one)}
    people = numbers_of(connection, site, persons, persons.c.person_no, everybody)
    moved = {move for one in by_id.values() for move in _moves(one)}
    of_moves = numbers_of(connection, site, moves, moves.c.move_no, moved)
    connection.execute(insert(classes), [class_row(site, numbers[one.id], one) for one in by_id.values()])
    for table, rows in rows_of(site, ((numbers[one.id], one) for one in by_id.values()), people, of_moves).items():
        pour(connection, table, rows)
    if there:
        _forget_nobodies(connection, site)


def drop_classes(connection: Connection, site: int, class_ids: Iterable[str]) -> int:
    """Takes classes out, and the names that only they had; how many there were."""
    hold_site(connection, site)
    there = class_numbers(connection, site, class_ids)
    _take_out(connection, site, there.values())
    if there:
        _forget_nobodies(connection, site)
    return len(there)


def replace_same(connection: Connection, site: int, canonical: Mapping[str, str]) -> None:
    """Replaces who is the same person as whom: the name as written to the name that counts.

    Raises:
        ValueError: somebody is the same as themselves by way of others.
    """
    ends = {name: _end(name, canonical) for name in canonical}
    ends = {name: end for name, end in ends.items() if name != end}
    hold_site(connection, site)
    people = numbers_of(connection, site, persons, persons.c.person_no, {*ends, *ends.values()})
    here = persons.c.site == site
    connection.execute(update(persons).where(here, persons.c.same_as.is_not(None)).values(same_as=None))
    for name, end in ends.items():
        connection.execute(update(persons).where(here, persons.c.person_no == people[name]).values(same_as=people[end]))
    _forget_nobodies(connection, site)


def clear_site(connection: Connection, site: int, home: str | None) -> None:
    """Takes out every class of a site, or those that came from one data folder; without one, who is who as well."""
    hold_site(connection, site)
    if home is not None:
        found = connection.scalars(select(classes.c.class_no).where(classes.c.site == site, classes.c.home == home))
        _take_out(connection, site, found.all())
        _forget_nobodies(connection, site)
        return
    # SQLite empties a whole table at once, but only where nothing is asked of its rows.
    alone = connection.scalar(select(func.count()).select_from(sites)) == 1
    for table in (*OF_A_CLASS, classes, moves):
        connection.execute(delete(table) if alone else delete(table).where(table.c.site == site))
    connection.execute(update(persons).where(persons.c.site == site).values(same_as=None))
    connection.execute(delete(persons).where(persons.c.site == site))


def read_marks(connection: Connection, site: int, home: str | None) -> dict[str, JournalMark]:
    """Which journal each class was made from, by class id; those of one data folder, or all."""
    query = select(classes.c.class_id, classes.c.journal_size, classes.c.journal_mtime_ns).where(classes.c.site == site)
    if home is not None:
        query = query.where(classes.c.home == home)
    return {id_: JournalMark(size=size, mtime_ns=mtime_ns) for id_, size, mtime_ns in connection.execute(query)}


def hold_site(connection: Connection, site: int) -> None:
    """One writer a site: numbers are given out from here on. In SQLite the transaction itself holds everything."""
    if connection.dialect.name == "postgresql":
        connection.execute(select(sites.c.site).where(sites.c.site == site).with_for_update())


def class_numbers(connection: Connection, site: int, class_ids: Iterable[str]) -> dict[str, int]:
    """The numbers of those classes that are there, by id."""
    found: dict[str, int] = {}
    for some in in_lists(class_ids):
        query = select(classes.c.class_id, classes.c.class_no).where(classes.c.site == site, classes.c.class_id.in_(some))
        found.update((id_, number) for id_, number in connection.execute(query))
    return found


def _take_out(connection: Connection, site: int, class_nos: Iterable[int]) -> None:
    for some in in_lists(class_nos):
        for table in GROWING:
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


def numbers_of(connection: Connection, site: int, table: Table, column: Column[int], names: Iterable[str]) -> dict[str, int]:
    """The number of each name; new names get new numbers."""
    wanted = sorted(names)
    found: dict[str, int] = {}
    for some in in_lists(wanted):
        query = select(table.c.name, column).where(table.c.site == site, table.c.name.in_(some))
        found.update((name, number) for name, number in connection.execute(query))
    new = [name for name in wanted if name not in found]
    if new:
        first = next_number(connection, site, column)
        rows = [{"site": site, column.name: first + place, "name": name} for place, name in enumerate(new)]
        connection.execute(insert(table), rows)
        found.update((name, first + place) for place, name in enumerate(new))
    return found


def next_number(connection: Connection, site: int, column: Column[int]) -> int:
    """The first number that nothing of a site has yet."""
    highest = connection.scalar(select(func.max(column)).where(column.table.c.site == site))
    return 1 if highest is None else highest + 1


def in_lists(values: Iterable[Any]) -> Iterator[list[Any]]:
    """Values in lists that every database takes."""
    rest = iter(values)
    while some := list(islice(rest, MOST_IN_LIST)):
        yield some


def _end(name: str, canonical: Mapping[str, str]) -> str:
    seen = {name}
    while (following := canonical.get(name, name)) != name:
        if following in seen:
            raise ValueError("somebody is the same as themselves by way of others")
        seen.add(following)
        name = following
    return name


def _names(one: ClassRows) -> Iterator[str]:
    yield from {row.name for row in one.attendance}
    yield from {row.name for row in one.splits}
    yield from {row.name for row in one.paces}
    yield from {row.name for row in one.results}


def _moves(one: ClassRows) -> Iterator[str]:
    yield from {row.move for row in one.splits}
    yield from {row.move for row in one.paces}
    yield from {row.move for row in one.stations}


def class_row(site: int, number: int, one: ClassRows) -> dict[str, object]:
    """A class as a row."""
    started = one.started.astimezone() if one.started.tzinfo is None else one.started
    return {
        "site": site,
        "class_no": number,
        "class_id": one.id,
        "started": started,
        "offset_minutes": _offset_minutes(started),
        "session": one.session,
        "rehearsal": one.rehearsal,
        "source": SOURCES[one.source],
        "rest_margin_ms": one.rest_margin_ms,
        "minutes": one.minutes,
        "ended": one.ended,
        "damage": one.damage,
        "athletes": len(one.attendance),
        "splits": len(one.splits),
        "tapped": sum(split.status == DONE for split in one.splits),
        "not_finished": sum(split.status == NOT_FINISHED for split in one.splits),
        "home": one.home,
        "journal_size": one.mark.size,
        "journal_mtime_ns": one.mark.mtime_ns,
        "forgotten": one.forgotten,
    }


def _offset_minutes(started: datetime) -> int:
    """The place's own offset; one that is no whole number of minutes is told in UTC, as in a journal."""
    offset = started.utcoffset() or timedelta(0)
    return 0 if offset % timedelta(minutes=1) else offset // timedelta(minutes=1)
