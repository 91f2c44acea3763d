"""The questions that a store answers about its classes.

Invariant: every answer is of the site of the store alone, and rehearsals are left out of what is asked over classes unless they
are asked for. Each may raise `ResourceError`, where the database refuses. What is asked about
people is written in `ask_people` and asked here too.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, and_, select

from floorclock.store import reading
from floorclock.store.answers import ClassFacts, ClassLine, StationOf
from floorclock.store.ask_people import athlete_classes, athlete_paces, athlete_results, athletes, past_paces, past_splits
from floorclock.store.engine import Store
from floorclock.store.meant import NEWEST, among, in_time, of_class, of_move
from floorclock.store.rows import ClassRows, JournalMark, PaceRow, SplitRow
from floorclock.store.tables import attendance, moves, paces, persons, results, splits, stations
from floorclock.store.tables import classes as class_table

__all__ = [
    "athlete_classes",
    "athlete_paces",
    "athlete_results",
    "athletes",
    "class_facts",
    "class_ids",
    "class_rows",
    "classes",
    "paces_of",
    "past_paces",
    "past_splits",
    "session_classes",
    "splits_of",
    "station_rows",
]


def classes(
    store: Store, *, limit: int | None = None, before: datetime | None = None, rehearsals: bool = False
) -> tuple[ClassLine, ...]:
    """The newest classes first; at most `limit`, only those that started before `before`."""
    query = select(*reading.CLASS).where(*among(store.number, rehearsals, before=before)).order_by(*NEWEST).limit(limit)
    with store.reading() as connection:
        return tuple(reading.class_line(row) for row in connection.execute(query))


def session_classes(store: Store, title: str, *, limit: int | None = None, rehearsals: bool = False) -> tuple[ClassLine, ...]:
    """The classes that followed a session of this title, the newest first."""
    query = select(*reading.CLASS).where(*among(store.number, rehearsals), class_table.c.session == title)
    with store.reading() as connection:
        return tuple(reading.class_line(row) for row in connection.execute(query.order_by(*NEWEST).limit(limit)))


def class_ids(store: Store, start: str = "") -> tuple[str, ...]:
    """The ids that begin so, rehearsals too, in their order."""
    mine = (class_table.c.site == store.number, class_table.c.class_id.startswith(start, autoescape=True))
    with store.reading() as connection:
        found = connection.scalars(select(class_table.c.class_id).where(*mine))
        # Sorted here: a database may sort by the rules of a language.
        return tuple(sorted(found))


def class_facts(store: Store, class_id: str) -> ClassFacts | None:
    """One class, a rehearsal or not; None where it is not in the store."""
    with store.reading() as connection:
        number, line = _class(connection, store, class_id)
        return None if line is None else _facts(connection, store, number, line)


def splits_of(store: Store, class_id: str) -> tuple[SplitRow, ...]:
    """Every split of a class, by name, part and interval; none where it is not in the store."""
    with store.reading() as connection:
        number, _ = _class(connection, store, class_id)
        return tuple(_splits(connection, store, number))


def paces_of(store: Store, class_id: str) -> tuple[PaceRow, ...]:
    """Everybody's pace at every station of a class, by name, part and station."""
    with store.reading() as connection:
        number, _ = _class(connection, store, class_id)
        return tuple(_paces(connection, store, number))


def class_rows(store: Store, class_id: str) -> ClassRows | None:
    """A class as it was put, its rows in the order of their keys; None where it is not in the store."""
    with store.reading() as connection:
        number, line = _class(connection, store, class_id)
        if line is None:
            return None
        facts = _facts(connection, store, number, line)
        marks = select(class_table.c.journal_size, class_table.c.journal_mtime_ns)
        size, mtime_ns = connection.execute(
            marks.where(class_table.c.site == store.number, class_table.c.class_no == number)
        ).one()
        return ClassRows(
            id=line.id,
            started=line.started,
            session=line.session,
            rehearsal=line.rehearsal,
            source=line.source,
            rest_margin_ms=line.rest_margin_ms,
            minutes=line.minutes,
            ended=line.ended,
            damage=line.damage,
            mark=JournalMark(size=size, mtime_ns=mtime_ns),
            forgotten=line.forgotten,
            home=line.home,
            attendance=facts.attendance,
            splits=tuple(_splits(connection, store, number)),
            paces=tuple(_paces(connection, store, number)),
            stations=facts.stations,
            results=facts.results,
        )


def station_rows(
    store: Store, *, since: datetime | None = None, until: datetime | None = None, rehearsals: bool = False
) -> tuple[StationOf, ...]:
    """How classes fared at each station, the oldest first; of classes that started at `since` or later, and before `until`."""
    query = (
        select(*reading.WHEN, *reading.STATION)
        .join_from(class_table, stations, of_class(stations))
        .join(moves, of_move(stations))
        .where(*among(store.number, rehearsals, since=since, before=until))
        .where(*in_time(stations.c.class_no, store.number, since=since, before=until))
        .order_by(class_table.c.started, class_table.c.class_id, stations.c.part, stations.c.station)
    )
    with store.reading() as connection:
        return tuple(
            StationOf(class_id=id_, started=reading.at_place(at, offset), session=title, station=reading.station_row(row))
            for id_, at, offset, title, *row in connection.execute(query)
        )


def _class(connection: Connection, store: Store, class_id: str) -> tuple[int, ClassLine | None]:
    query = select(class_table.c.class_no, *reading.CLASS)
    row = connection.execute(query.where(class_table.c.site == store.number, class_table.c.class_id == class_id)).one_or_none()
    return (0, None) if row is None else (row[0], reading.class_line(row[1:]))


def _facts(connection: Connection, store: Store, number: int, line: ClassLine) -> ClassFacts:
    there = (
        select(*reading.ATTENDANCE)
        .join_from(attendance, persons, and_(persons.c.site == attendance.c.site, persons.c.person_no == attendance.c.person_no))
        .where(attendance.c.site == store.number, attendance.c.class_no == number, attendance.c.minutes.is_not(None))
    )
    how = select(*reading.STATION).join_from(stations, moves, of_move(stations))
    what = select(*reading.RESULT).where(results.c.site == store.number, results.c.class_no == number)
    names = _names(connection, store, number)
    reached = [reading.result_row(row, names[row[0]]) for row in connection.execute(what)]
    fared = connection.execute(how.where(stations.c.site == store.number, stations.c.class_no == number))
    return ClassFacts(
        line=line,
        attendance=tuple(sorted(map(reading.attendance_row, connection.execute(there)), key=lambda row: row.name)),
        stations=tuple(sorted(map(reading.station_row, fared), key=lambda row: (row.part, row.station))),
        results=tuple(sorted(reached, key=lambda row: (row.name, row.part))),
    )


def _splits(connection: Connection, store: Store, number: int) -> list[SplitRow]:
    names = _names(connection, store, number)
    query = select(moves.c.name, *reading.SPLIT).join_from(splits, moves, of_move(splits))
    found = connection.execute(query.where(splits.c.site == store.number, splits.c.class_no == number))
    rows = [reading.split_row(row, names[row[0]], move) for move, *row in found]
    return sorted(rows, key=lambda row: (row.name, row.part, row.interval))


def _paces(connection: Connection, store: Store, number: int) -> list[PaceRow]:
    names = _names(connection, store, number)
    query = select(moves.c.name, *reading.PACE).join_from(paces, moves, of_move(paces))
    found = connection.execute(query.where(paces.c.site == store.number, paces.c.class_no == number))
    rows = [reading.pace_row(row, names[row[0]], move) for move, *row in found]
    return sorted(rows, key=lambda row: (row.name, row.part, row.station, row.move, row.unit or ""))


def _names(connection: Connection, store: Store, number: int) -> dict[int, str]:
    """Everybody who stands in a class, by number, as written there."""
    query = (
        select(persons.c.person_no, persons.c.name)
        .join_from(attendance, persons, and_(persons.c.site == attendance.c.site, persons.c.person_no == attendance.c.person_no))
        .where(attendance.c.site == store.number, attendance.c.class_no == number)
    )
    return {row.person_no: row.name for row in connection.execute(query)}
