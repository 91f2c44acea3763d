"""The rows of a class as the tables hold them: names and moves by number, words as small numbers, amounts as exact text.

Invariant: the values of each row stand in the order of the columns of its table. They go to the driver as they are, because to
take each value through the library's own types would cost more than to write it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from functools import cache

from sqlalchemy import Connection, Dialect, Table, insert

from floorclock.store.codes import KINDS, UNITS
from floorclock.store.rows import ClassRows
from floorclock.store.tables import attendance, paces, results, splits, stations, storable

Numbers = Mapping[str, int]
Row = tuple[object, ...]


def rows_of(site: int, numbered: Iterable[tuple[int, ClassRows]], people: Numbers, moves: Numbers) -> dict[Table, list[Row]]:
    """The rows of some classes by table, each in the order of its key."""
    laid: dict[Table, list[Row]] = {table: [] for table in (attendance, splits, paces, stations, results)}
    for class_no, one in sorted(numbered, key=lambda pair: pair[0]):
        laid[attendance] += _attendance(site, class_no, one, people)
        laid[splits] += sorted(_splits(site, class_no, one, people, moves), key=_by_key_of_split)
        laid[paces] += _paces(site, class_no, one, people, moves)
        laid[stations] += _stations(site, class_no, one, moves)
        laid[results] += _results(site, class_no, one, people)
    # One athlete after the other: so each page of the file is come to once and not once a class.
    laid[attendance].sort(key=_by_person)
    laid[paces].sort(key=_by_key_of_pace)
    return laid


def pour(connection: Connection, table: Table, rows: list[Row]) -> None:
    """Writes many rows of a table at once."""
    if rows:
        connection.exec_driver_sql(_statement(table, connection.dialect), rows)


@cache
def _statement(table: Table, dialect: Dialect) -> str:
    columns = [column.name for column in table.columns]
    return str(insert(table).compile(dialect=dialect, column_keys=columns))


def _amount(amount: Fraction | None) -> str | None:
    return None if amount is None else str(amount)


def _by_key_of_split(row: Row) -> Row:
    return row[2:5]


def _by_person(row: Row) -> Row:
    return row[1:3]


def _by_key_of_pace(row: Row) -> Row:
    return (row[1], *row[4:7], *row[2:4])


def _attendance(site: int, class_no: int, one: ClassRows, people: Numbers) -> Iterator[Row]:
    there = set()
    for row in one.attendance:
        there.add(row.name)
        yield site, people[row.name], class_no, row.minutes, row.effort
    others = {row.name for rows in (one.splits, one.paces, one.results) for row in rows} - there
    yield from ((site, people[name], class_no, None, None) for name in sorted(others))


def _splits(site: int, class_no: int, one: ClassRows, people: Numbers, moves: Numbers) -> Iterator[Row]:
    for row in one.splits:
        yield (
            site,
            class_no,
            people[row.name],
            row.part,
            row.interval,
            row.round,
            row.station,
            moves[row.move],
            _amount(row.amount),
            UNITS[row.unit],
            row.window_ms,
            row.margin_ms,
            row.split_ms,
            row.status,
            row.flags,
        )


def _paces(site: int, class_no: int, one: ClassRows, people: Numbers, moves: Numbers) -> Iterator[Row]:
    for row in one.paces:
        yield (
            site,
            people[row.name],
            moves[row.move],
            UNITS[row.unit],
            class_no,
            row.part,
            row.station,
            _amount(row.amount),
            row.rounds,
            row.tapped,
            row.tight,
            row.not_finished,
            row.flags,
            row.median_split_ms,
            row.first_ms,
            row.last_ms,
            row.least_rest_ms,
            row.slope_ms,
            row.cv_percent,
            row.level,
            row.drift,
        )


def _stations(site: int, class_no: int, one: ClassRows, moves: Numbers) -> Iterator[Row]:
    for row in one.stations:
        yield (
            site,
            class_no,
            row.part,
            row.station,
            storable(row.part_title),
            KINDS[row.kind],
            moves[row.move],
            row.athletes,
            row.tapped,
            row.untapped,
            row.tight,
            row.fading,
            row.not_finished,
            row.median_split_ms,
            row.median_rest_ms,
            row.mean_drift,
            row.runs_out,
        )


def _results(site: int, class_no: int, one: ClassRows, people: Numbers) -> Iterator[Row]:
    for row in one.results:
        yield (
            site,
            class_no,
            people[row.name],
            row.part,
            storable(row.title),
            KINDS[row.kind],
            storable(row.choice),
            row.time_ms,
            row.rounds,
            row.reps,
            row.not_finished,
        )
