"""The questions that a store answers about people.

Invariant: a name is asked for in any of its spellings and answered for all of them. Rehearsals are nobody's history unless they
are asked for.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Select, and_, func, select

from floorclock.store import reading
from floorclock.store.answers import AthleteClass, AthleteLine, PaceOf, ResultOf, SplitOf
from floorclock.store.engine import Store
from floorclock.store.meant import NEWEST, among, of_class
from floorclock.store.people import Person, head, people_of, person_of
from floorclock.store.tables import attendance, classes, moves, paces, persons, results, splits
from floorclock.store.write import in_lists

LOOKED_AT_FOR_ONE = 3
"""So many classes are looked at for each one that is wanted: in some, nobody was timed by splits."""


class _When(NamedTuple):
    """A class that rows belong to; `place` is 0 for the newest one that was asked about."""

    place: int
    id: str
    started: datetime
    session: str
    rehearsal: bool


def athletes(store: Store, *, rehearsals: bool = False) -> tuple[AthleteLine, ...]:
    """Everybody who was in a class, by name, with how many classes, the first and the last."""
    counted = (
        select(head(), func.count(attendance.c.class_no.distinct()), func.min(classes.c.started), func.max(classes.c.started))
        .join_from(attendance, classes, of_class(attendance))
        .join(persons, and_(persons.c.site == attendance.c.site, persons.c.person_no == attendance.c.person_no))
        .where(*among(store.number, rehearsals), attendance.c.site == store.number, attendance.c.minutes.is_not(None))
        .group_by(head())
    )
    everybody = select(head(), persons.c.person_no, persons.c.name).where(persons.c.site == store.number)
    with store.reading() as connection:
        found = connection.execute(counted).all()
        places = _places(connection, store, {at for _, _, first, last in found for at in (first, last)})
        names: dict[int, dict[int, str]] = {}
        for number, own, name in connection.execute(everybody):
            names.setdefault(number, {})[own] = name
    lines = (
        AthleteLine(
            name=names[number][number],
            spellings=tuple(sorted(name for own, name in names[number].items() if own != number)),
            classes=count,
            first=places[first],
            last=places[last],
        )
        for number, count, first, last in found
    )
    return tuple(sorted(lines, key=lambda line: line.name))


def athlete_classes(
    store: Store, name: str, *, since: datetime | None = None, limit: int | None = None, rehearsals: bool = False
) -> tuple[AthleteClass, ...]:
    """The classes that a person was in, the newest first. Somebody on the board under two spellings is in it twice."""
    with store.reading() as connection:
        person = person_of(connection, store.number, name)
        if person is None:
            return ()
        when = _classes_of(connection, store, person, since=since, rehearsals=rehearsals)
        query = select(attendance.c.class_no, attendance.c.person_no, attendance.c.minutes, attendance.c.effort).where(
            attendance.c.site == store.number,
            attendance.c.person_no.in_(tuple(person.written)),
            attendance.c.minutes.is_not(None),
        )
        found = connection.execute(query).all()
    there = sorted((row for row in found if row[0] in when), key=lambda row: (when[row[0]].place, row[1]))
    return tuple(
        AthleteClass(
            class_id=when[class_no].id,
            started=when[class_no].started,
            session=when[class_no].session,
            rehearsal=when[class_no].rehearsal,
            name=person.written[number],
            minutes=minutes,
            effort=effort,
        )
        for class_no, number, minutes, effort in there[:limit]
    )


def athlete_paces(
    store: Store,
    name: str,
    *,
    move: str | None = None,
    since: datetime | None = None,
    limit: int | None = None,
    rehearsals: bool = False,
) -> tuple[PaceOf, ...]:
    """A person's paces at one move or at every one, the newest class first, in it by part and station; at most `limit` rows."""
    with store.reading() as connection:
        person = person_of(connection, store.number, name)
        if person is None:
            return ()
        when = _classes_of(connection, store, person, since=since, rehearsals=rehearsals)
        query = select(paces.c.class_no, paces.c.move_no, *reading.PACE).where(
            paces.c.site == store.number, paces.c.person_no.in_(tuple(person.written))
        )
        if move is not None:
            named = select(moves.c.move_no).where(moves.c.site == store.number, moves.c.name == move)
            query = query.where(paces.c.move_no == connection.scalar(named))
        found = _rows_of(connection, query, paces.c.class_no, when, limit)
        called = _move_names(connection, store, found)
    found.sort(key=lambda row: (when[row[0]].place, row[3], row[4], row[2], row[1], row[5]))
    return tuple(_pace(row, person.written[row[2]], when, called) for row in found[:limit])


def athlete_results(
    store: Store, name: str, *, since: datetime | None = None, limit: int | None = None, rehearsals: bool = False
) -> tuple[ResultOf, ...]:
    """What a person reached in parts with a result, the newest class first."""
    with store.reading() as connection:
        person = person_of(connection, store.number, name)
        if person is None:
            return ()
        when = _classes_of(connection, store, person, since=since, rehearsals=rehearsals)
        query = select(results.c.class_no, *reading.RESULT).where(
            results.c.site == store.number, results.c.person_no.in_(tuple(person.written))
        )
        found = _rows_of(connection, query, results.c.class_no, when, limit)
    found.sort(key=lambda row: (when[row[0]].place, row[2], row[1]))
    return tuple(
        ResultOf(
            class_id=when[class_no].id,
            started=when[class_no].started,
            session=when[class_no].session,
            result=reading.result_row(row, person.written[row[0]]),
        )
        for class_no, *row in found[:limit]
    )


def past_paces(
    store: Store, names: Collection[str], *, before: datetime | None = None, most_classes: int = 12
) -> tuple[PaceOf, ...]:
    """The paces of these people in the last classes in which any of them was timed by splits, the newest class first.

    Each pace bears the name that was asked for, whatever it was written as. Only paces with a split; never of a rehearsal.
    """
    with store.reading() as connection:
        asked = people_of(connection, store.number, names)
        numbers = _last_classes(connection, store, asked.values(), before, most_classes)
        query = select(paces.c.class_no, paces.c.move_no, *reading.PACE).where(
            paces.c.site == store.number, paces.c.person_no.in_(_numbers(asked.values())), paces.c.tapped > 0
        )
        when = _when(connection, store, numbers)
        found = _rows_of(connection, query, paces.c.class_no, when)
        moved = _move_names(connection, store, found)
    found.sort(key=lambda row: (when[row[0]].place, row[2], row[3], row[4], row[1], row[5]))
    called = _called(asked)
    return tuple(_pace(row, name, when, moved) for row in found for name in called[row[2]])


def past_splits(
    store: Store, names: Collection[str], *, before: datetime | None = None, most_classes: int = 12
) -> tuple[SplitOf, ...]:
    """The tapped splits of these people in the same classes as `past_paces`, the newest class first."""
    with store.reading() as connection:
        asked = people_of(connection, store.number, names)
        numbers = _last_classes(connection, store, asked.values(), before, most_classes)
        query = select(splits.c.class_no, splits.c.move_no, *reading.SPLIT).where(
            splits.c.site == store.number, splits.c.person_no.in_(_numbers(asked.values())), splits.c.split_ms.is_not(None)
        )
        when = _when(connection, store, numbers)
        found = _rows_of(connection, query, splits.c.class_no, when)
        moved = _move_names(connection, store, found)
    found.sort(key=lambda row: (when[row[0]].place, row[2], row[3], row[4]))
    called = _called(asked)
    return tuple(
        SplitOf(class_id=one.id, started=one.started, session=one.session, split=reading.split_row(row, name, moved[move_no]))
        for class_no, move_no, *row in found
        for one in (when[class_no],)
        for name in called[row[0]]
    )


def _last_classes(
    connection: Connection, store: Store, people: Collection[Person], before: datetime | None, most: int
) -> list[int]:
    """The numbers of the last classes in which any of these people was timed."""
    if not people:
        return []
    numbers = _numbers(people)
    there = (
        select(classes.c.class_no)
        .join_from(attendance, classes, of_class(attendance))
        .where(attendance.c.site == store.number, attendance.c.person_no.in_(numbers))
        .where(*among(store.number, False, before=before))
        .group_by(classes.c.started, classes.c.class_no)
        .order_by(*NEWEST)
        .limit(LOOKED_AT_FOR_ONE * most)
    )
    newest = list(connection.scalars(there))
    timed = (
        select(paces.c.class_no)
        .distinct()
        .where(paces.c.site == store.number, paces.c.class_no.in_(newest), paces.c.person_no.in_(numbers), paces.c.tapped > 0)
    )
    found = set(connection.scalars(timed))
    return [number for number in newest if number in found][:most]


def _numbers(people: Iterable[Person]) -> list[int]:
    return sorted({number for person in people for number in person.written})


def _called(asked: Mapping[str, Person]) -> dict[int, list[str]]:
    """By number, the names that somebody was asked for under."""
    called: dict[int, list[str]] = {}
    for name, person in sorted(asked.items()):
        for number in person.written:
            called.setdefault(number, []).append(name)
    return called


def _pace(row: Sequence[Any], name: str, when: Mapping[int, _When], moved: Mapping[int, str]) -> PaceOf:
    class_no, move_no, *rest = row
    one = when[class_no]
    return PaceOf(class_id=one.id, started=one.started, session=one.session, pace=reading.pace_row(rest, name, moved[move_no]))


def _classes_of(
    connection: Connection, store: Store, person: Person, *, since: datetime | None, rehearsals: bool
) -> dict[int, _When]:
    """The classes in which somebody stands, the newest first.

    Attendance first and classes by their numbers then, and no join: which of the two tables a database begins with it would
    guess, and guess wrong for a gym of ten years.
    """
    stands = select(attendance.c.class_no).where(
        attendance.c.site == store.number, attendance.c.person_no.in_(tuple(person.written))
    )
    return _when(connection, store, set(connection.scalars(stands)), *among(store.number, rehearsals, since=since))


def _when(connection: Connection, store: Store, numbers: Iterable[int], *only: ColumnElement[bool]) -> dict[int, _When]:
    """Classes by number, the newest first: read once each and not for every row of years."""
    found: list[Any] = []
    for some in in_lists(numbers):
        query = select(classes.c.class_no, classes.c.rehearsal, *reading.WHEN)
        found += connection.execute(query.where(classes.c.site == store.number, classes.c.class_no.in_(some), *only)).all()
    # In the order of `NEWEST`.
    found.sort(key=lambda row: (row[3], row[0]), reverse=True)
    return {
        number: _When(place, id_, reading.at_place(at, offset), session, rehearsal)
        for place, (number, rehearsal, id_, at, offset, session) in enumerate(found)
    }


def _rows_of(
    connection: Connection, query: Select[Any], of: ColumnElement[int], when: Iterable[int], limit: int | None = None
) -> list[Any]:
    """The rows of some classes, the newest class first, until there are enough."""
    found: list[Any] = []
    for some in in_lists(when):
        found += connection.execute(query.where(of.in_(some))).all()
        if limit is not None and len(found) >= limit:
            break
    return found


def _move_names(connection: Connection, store: Store, found: Iterable[Sequence[Any]]) -> dict[int, str]:
    """The moves of rows whose second value is the number of a move."""
    told: dict[int, str] = {}
    for some in in_lists({row[1] for row in found}):
        query = select(moves.c.move_no, moves.c.name).where(moves.c.site == store.number, moves.c.move_no.in_(some))
        told.update((number, name) for number, name in connection.execute(query))
    return told


def _places(connection: Connection, store: Store, instants: Collection[datetime]) -> dict[datetime, datetime]:
    """Instants at which classes started, each with the offset of its place."""
    found: dict[datetime, datetime] = {}
    for some in in_lists(instants):
        query = select(classes.c.started, classes.c.offset_minutes)
        for at, offset in connection.execute(query.where(classes.c.site == store.number, classes.c.started.in_(some))):
            found[at] = reading.at_place(at, offset)
    return found
