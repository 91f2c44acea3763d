"""Packed classes into the tables of the store, many at once.

Invariant: what stands in the tables afterwards is what `Store.put` would have put there for the same classes, but for the numbers
that people, moves and classes go by.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, repeat

from sqlalchemy import Connection, Table, insert
from sqlalchemy.exc import DBAPIError

from floorclock.store import write
from floorclock.store.codes import KINDS
from floorclock.store.engine import Store
from floorclock.store.indexing.columns import DONE, NOT_FINISHED
from floorclock.store.indexing.from_journal import unpacked
from floorclock.store.indexing.packed import Packed
from floorclock.store.indexing.reading import Named
from floorclock.store.laying import Numbers, Row, pour
from floorclock.store.tables import attendance, classes, moves, paces, persons, results, splits, stations, storable


def put_packed(store: Store, batch: Sequence[Named], home: str) -> None:
    """Writes classes, each in the place of the one with the same id, in one transaction.

    Raises:
        ResourceError: the store refuses.
    """
    with store.writing() as connection:
        site = store.number
        write.hold_site(connection, site)
        there = write.class_numbers(connection, site, [class_id for class_id, _, _ in batch])
        replacing = [unpacked(one, class_id, mark, home) for class_id, mark, one in batch if class_id in there]
        if replacing:
            write.put_batch(connection, site, replacing)
        fresh = [named for named in batch if named[0] not in there]
        if fresh:
            _put_fresh(connection, site, fresh, home)


def _put_fresh(connection: Connection, site: int, fresh: Sequence[Named], home: str) -> None:
    everybody = {name for _, _, one in fresh for name in _names(one)}
    people = write.numbers_of(connection, site, persons, persons.c.person_no, everybody)
    moved = {move for _, _, one in fresh for move in _moves(one)}
    numbers = write.numbers_of(connection, site, moves, moves.c.move_no, moved)
    first = write.next_number(connection, site, classes.c.class_no)
    numbered = [(first + place, one) for place, (_, _, one) in enumerate(fresh)]
    rows = [_class_row(site, number, named, home) for (number, _), named in zip(numbered, fresh, strict=True)]
    connection.execute(insert(classes), rows)
    laid: dict[Table, list[Row]] = {table: [] for table in (attendance, splits, paces, stations, results)}
    for number, one in numbered:
        who = [people.get(name, 0) for name in one.people]
        what = [numbers[move] for move, _, _ in one.works]
        laid[attendance] += _attendance(site, number, one, who)
        laid[splits] += _splits(site, number, one, who, what)
        laid[paces] += _paces(site, number, one, who, what)
        laid[stations] += _stations(site, number, one, numbers)
        laid[results] += _results(site, number, one, who)
    for table, poured in laid.items():
        if connection.dialect.name == "postgresql":
            _copy(connection, table, poured)
        else:
            pour(connection, table, poured)


def _copy(connection: Connection, table: Table, rows: Sequence[Row]) -> None:
    """As `pour`, the way a PostgreSQL server takes rows most quickly."""
    names = ", ".join(column.name for column in table.columns)
    driver = connection.connection.driver_connection
    assert driver is not None
    try:
        with driver.cursor() as cursor, cursor.copy(f"COPY {table.name} ({names}) FROM STDIN") as copy:
            for row in rows:
                copy.write_row(row)
    except connection.dialect.loaded_dbapi.Error as error:
        raise DBAPIError("COPY", None, error, hide_parameters=True) from None


def _present(one: Packed) -> set[int]:
    """Everybody who stands in a row."""
    here = {row[0] for rows in (one.attendance, one.paces, one.results) for row in rows}
    return here


def _names(one: Packed) -> Iterator[str]:
    return (one.people[who] for who in _present(one))


def _moves(one: Packed) -> Iterator[str]:
    return chain((move for move, _, _ in one.works), (move for _, _, _, move in one.stations))


def _class_row(site: int, number: int, named: Named, home: str) -> dict[str, object]:
    class_id, mark, one = named
    status: Sequence[int | None] = one.splits[9] if one.splits else ()
    bare = unpacked(one._replace(splits=[], paces=[], stations=[], results=[]), class_id, mark, home)
    counts = {"splits": len(status), "tapped": status.count(DONE), "not_finished": status.count(NOT_FINISHED)}
    return {**write.class_row(site, number, bare), **counts}


def _attendance(site: int, number: int, one: Packed, who: Sequence[int]) -> Iterator[Row]:
    there = set()
    for place, minutes, effort in one.attendance:
        there.add(place)
        yield site, who[place], number, minutes, effort
    yield from ((site, who[place], number, None, None) for place in sorted(_present(one) - there))


def _splits(site: int, number: int, one: Packed, who: Sequence[int], what: Sequence[int]) -> Iterable[Row]:
    if not one.splits:
        return ()
    athlete, part, interval, round_number, station, work, window, margin, split_ms, status, flags = one.splits
    amounts, units = [amount for _, amount, _ in one.works], [unit for _, _, unit in one.works]
    return zip(
        repeat(site),
        repeat(number),
        map(who.__getitem__, athlete),  # type: ignore[arg-type]
        part,
        interval,
        round_number,
        station,
        map(what.__getitem__, work),  # type: ignore[arg-type]
        map(amounts.__getitem__, work),  # type: ignore[arg-type]
        map(units.__getitem__, work),  # type: ignore[arg-type]
        window,
        margin,
        split_ms,
        status,
        flags,
        strict=False,
    )


def _paces(site: int, number: int, one: Packed, who: Sequence[int], what: Sequence[int]) -> Iterator[Row]:
    for athlete, (part, station, work, *rest) in one.paces:
        _, amount, unit = one.works[work]
        yield site, who[athlete], what[work], unit, number, part, station, amount, *rest


def _stations(site: int, number: int, one: Packed, numbers: Numbers) -> Iterator[Row]:
    for (part, station, *counts), title, kind, move in one.stations:
        athletes, tapped, untapped, tight, fading, runs_out, missed, *medians = counts
        there = (athletes, tapped, untapped, tight, fading, missed, *medians, runs_out)
        yield site, number, part, station, storable(title), KINDS[kind], numbers[move], *there


def _results(site: int, number: int, one: Packed, who: Sequence[int]) -> Iterator[Row]:
    for athlete, part, title, kind, choice, *reached in one.results:
        yield site, number, who[athlete], part, storable(title), KINDS[kind], storable(choice), *reached
