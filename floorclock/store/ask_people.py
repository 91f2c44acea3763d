"""The questions that a store answers about people.

Invariant: a name is asked for in any of its spellings and answered for all of them. Rehearsals are nobody's history unless they
are asked for.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, and_, func, select

from floorclock.store import reading
from floorclock.store.answers import AthleteClass, AthleteLine, PaceOf, ResultOf, SplitOf
from floorclock.store.engine import Store
from floorclock.store.meant import NEWEST, among, of_class, of_move
from floorclock.store.people import Person, head, people_of, person_of
from floorclock.store.tables import attendance, classes, moves, paces, persons, results, splits
from floorclock.store.write import in_lists

LOOKED_AT_FOR_ONE = 3
"""So many classes are looked at for each one that is wanted: in some, nobody was timed by splits."""


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
        query = (
            select(*reading.WHEN, classes.c.rehearsal, attendance.c.person_no, attendance.c.minutes, attendance.c.effort)
            .join_from(attendance, classes, of_class(attendance))
            .where(attendance.c.site == store.number, attendance.c.person_no.in_(tuple(person.written)))
            .where(*among(store.number, rehearsals, since=since), attendance.c.minutes.is_not(None))
            .order_by(*NEWEST, attendance.c.person_no)
            .limit(limit)
        )
        return tuple(
            AthleteClass(
                class_id=id_,
                started=reading.at_place(at, offset),
                session=session,
                rehearsal=rehearsal,
                name=person.written[number],
                minutes=minutes,
                effort=effort,
            )
            for id_, at, offset, session, rehearsal, number, minutes, effort in connection.execute(query)
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
        query = (
            select(*reading.WHEN, *reading.PACE)
            .join_from(paces, classes, of_class(paces))
            .join(moves, of_move(paces))
            .where(paces.c.site == store.number, paces.c.person_no.in_(tuple(person.written)))
            .where(*among(store.number, rehearsals, since=since))
            .order_by(*NEWEST, paces.c.part, paces.c.station, paces.c.person_no, paces.c.move_no, paces.c.unit)
            .limit(limit)
        )
        if move is not None:
            # As a number, so that the rows of the move are one stretch of the key.
            named = select(moves.c.move_no).where(moves.c.site == store.number, moves.c.name == move)
            query = query.where(paces.c.move_no == connection.scalar(named))
        return tuple(_pace(row, person.written) for row in connection.execute(query))


def athlete_results(
    store: Store, name: str, *, since: datetime | None = None, limit: int | None = None, rehearsals: bool = False
) -> tuple[ResultOf, ...]:
    """What a person reached in parts with a result, the newest class first."""
    with store.reading() as connection:
        person = person_of(connection, store.number, name)
        if person is None:
            return ()
        query = (
            select(*reading.WHEN, *reading.RESULT)
            .join_from(results, classes, of_class(results))
            .where(results.c.site == store.number, results.c.person_no.in_(tuple(person.written)))
            .where(*among(store.number, rehearsals, since=since))
            .order_by(*NEWEST, results.c.part, results.c.person_no)
            .limit(limit)
        )
        return tuple(
            ResultOf(
                class_id=id_,
                started=reading.at_place(at, offset),
                session=session,
                result=reading.result_row(row, person.written[row[0]]),
            )
            for id_, at, offset, session, *row in connection.execute(query)
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
        query = (
            select(*reading.WHEN, *reading.PACE)
            .join_from(paces, classes, of_class(paces))
            .join(moves, of_move(paces))
            .where(classes.c.site == store.number, classes.c.class_no.in_(numbers))
            .where(paces.c.site == store.number, paces.c.class_no.in_(numbers), paces.c.tapped > 0)
            .where(paces.c.person_no.in_(_numbers(asked.values())))
            .order_by(*NEWEST, paces.c.person_no, paces.c.part, paces.c.station, paces.c.move_no, paces.c.unit)
        )
        called = _called(asked)
        return tuple(_pace(row, {row[4]: name}) for row in connection.execute(query) for name in called[row[4]])


def past_splits(
    store: Store, names: Collection[str], *, before: datetime | None = None, most_classes: int = 12
) -> tuple[SplitOf, ...]:
    """The tapped splits of these people in the same classes as `past_paces`, the newest class first."""
    with store.reading() as connection:
        asked = people_of(connection, store.number, names)
        numbers = _last_classes(connection, store, asked.values(), before, most_classes)
        query = (
            select(*reading.WHEN, *reading.SPLIT)
            .join_from(splits, classes, of_class(splits))
            .join(moves, of_move(splits))
            .where(classes.c.site == store.number, classes.c.class_no.in_(numbers))
            .where(splits.c.site == store.number, splits.c.class_no.in_(numbers), splits.c.split_ms.is_not(None))
            .where(splits.c.person_no.in_(_numbers(asked.values())))
            .order_by(*NEWEST, splits.c.person_no, splits.c.part, splits.c.interval)
        )
        called = _called(asked)
        return tuple(
            SplitOf(class_id=id_, started=reading.at_place(at, offset), session=session, split=reading.split_row(row, name))
            for id_, at, offset, session, *row in connection.execute(query)
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


def _pace(row: Iterable[Any], names: Mapping[int, str]) -> PaceOf:
    id_, at, offset, session, *rest = row
    pace = reading.pace_row(rest, names[rest[0]])
    return PaceOf(class_id=id_, started=reading.at_place(at, offset), session=session, pace=pace)


def _places(connection: Connection, store: Store, instants: Collection[datetime]) -> dict[datetime, datetime]:
    """Instants at which classes started, each with the offset of its place."""
    found: dict[datetime, datetime] = {}
    for some in in_lists(instants):
        query = select(classes.c.started, classes.c.offset_minutes)
        for at, offset in connection.execute(query.where(classes.c.site == store.number, classes.c.started.in_(some))):
            found[at] = reading.at_place(at, offset)
    return found
