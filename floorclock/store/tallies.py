"""Who was measured and what was raised, counted by the database: whole years are too many rows to carry here.

Invariant: counts are of athletes who were tapped or did not finish; untapped ones are in none. Rehearsals are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, case, func, select

from floorclock.pace.flags import Flag
from floorclock.store.questions import among, at_place, head, of_class, of_person
from floorclock.store.rows import BITS
from floorclock.store.schema import attendance, classes, moves, paces, persons, stations
from floorclock.store.store import Store

COUNTED = (Flag.FADING, Flag.TIGHT, Flag.NOT_FINISHED)
"""What is counted. `runs out` is not: it rests on forecasts, which the records do not hold."""
_ANY = sum(BITS[flag] for flag in COUNTED)
_COUNTS = ("cases", "held", "fading", "tight", "not_finished")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many cases (an athlete in a class, or at a station of it) were measured, how many of them had no flag, and which."""

    cases: int
    held: int
    fading: int
    tight: int
    not_finished: int

    @property
    def flagged(self) -> int:
        """How many had any."""
        return self.cases - self.held

    def counts(self) -> dict[str, int]:
        """The counts by name."""
        return {name: getattr(self, name) for name in _COUNTS}


def total(tallies: Iterable[Tally]) -> Tally:
    """The sum of some tallies."""
    added = list(tallies)
    return Tally(**{name: sum(getattr(tally, name) for tally in added) for name in _COUNTS})


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassTally(Tally):
    """One class: how many were there, and the tally of those who were measured (by splits)."""

    class_id: str
    started: datetime
    session: str
    athletes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StationTally(Tally):
    """One station of a session, over the classes that followed it."""

    session: str
    part: str
    move: str
    classes: int


def class_tallies(store: Store, since: datetime | None, until: datetime | None) -> tuple[ClassTally, ...]:
    """Each class of a time, the oldest first.

    Raises:
        ResourceError: the store refuses.
    """
    person = _cases(store, since, until, paces.c.class_no, head())
    each = select(person.c.class_no, *_sums(person.c)).group_by(person.c.class_no).subquery()
    query = (
        select(classes.c.class_id, classes.c.started, classes.c.offset_minutes, classes.c.session, classes.c.athletes)
        .add_columns(*(each.c[name] for name in _NAMES))
        .join_from(classes, each, each.c.class_no == classes.c.class_no, isouter=True)
        .where(*among(store.number, since=since, before=until))
        .order_by(classes.c.started, classes.c.class_id)
    )
    with store.reading() as connection:
        return tuple(
            ClassTally(class_id=id_, started=at_place(at, offset), session=title, athletes=athletes, **_tally(counts))
            for id_, at, offset, title, athletes, *counts in connection.execute(query)
        )


def station_tallies(store: Store, since: datetime | None, until: datetime | None) -> tuple[StationTally, ...]:
    """Each station of each session of a time, by session, part and move.

    Raises:
        ResourceError: the store refuses.
    """
    person = _cases(store, since, until, paces.c.class_no, head(), paces.c.part, paces.c.station)
    here = (stations.c.site == store.number, stations.c.class_no == person.c.class_no)
    key = (classes.c.session, stations.c.part_title, moves.c.name)
    query = (
        select(*key, func.count(person.c.class_no.distinct()), *_sums(person.c))
        .join_from(person, stations, and_(*here, stations.c.part == person.c.part, stations.c.station == person.c.station))
        .join(classes, of_class(stations))
        .join(moves, and_(moves.c.site == stations.c.site, moves.c.move_no == stations.c.move_no))
        .where(*_in_time(stations.c.class_no, store.number, since=since, before=until))
        .group_by(*key)
    )
    with store.reading() as connection:
        found = [
            StationTally(session=session, part=part, move=move, classes=count, **_tally(counts))
            for session, part, move, count, *counts in connection.execute(query)
        ]
    return tuple(sorted(found, key=lambda row: (row.session, row.part, row.move)))


def people_there(store: Store, since: datetime | None, until: datetime | None) -> int:
    """How many people were in any class of a time.

    Raises:
        ResourceError: the store refuses.
    """
    query = (
        select(func.count(head().distinct()))
        .join_from(attendance, classes, of_class(attendance))
        .join(persons, of_person(attendance))
        .where(*among(store.number, since=since, before=until))
        .where(attendance.c.site == store.number, attendance.c.minutes.is_not(None))
    )
    with store.reading() as connection:
        return connection.scalar(query) or 0


_NAMES = ("cases", "flagged", "fading", "tight", "not_finished")


def _cases(store: Store, since: datetime | None, until: datetime | None, *key: ColumnElement[Any]) -> Any:
    """One row for each person and key: whether each flag was raised in any of its rows."""
    query: Select[Any] = (
        select(
            *(column.label(name) for column, name in zip(key, ("class_no", "person_no", "part", "station"), strict=False)),
            func.max(_has(_ANY)).label("flagged"),
            *(func.max(_has(BITS[flag])).label(flag.replace(" ", "_")) for flag in COUNTED),
        )
        .join_from(paces, classes, of_class(paces))
        .join(persons, of_person(paces))
        .where(paces.c.site == store.number, paces.c.tapped + paces.c.not_finished > 0)
        .where(*among(store.number, since=since, before=until))
        .where(*_in_time(paces.c.class_no, store.number, since=since, before=until))
        .group_by(*key)
    )
    return query.subquery()


def _in_time(
    column: ColumnElement[int], site: int, *, since: datetime | None, before: datetime | None
) -> Iterator[ColumnElement[bool]]:
    """For a question that joins classes with the rows of a big table: its column `class_no`, held to the classes of a time.

    It says nothing that `among` has not said of the classes. But a database that begins with the big table has to read all years
    of it for a few weeks, and this keeps it to those.
    """
    if since is not None or before is not None:
        other = classes.alias()
        mine = [other.c.site == site]
        if since is not None:
            mine.append(other.c.started >= since)
        if before is not None:
            mine.append(other.c.started < before)
        yield column.in_(select(other.c.class_no).where(*mine))


def _has(bits: int) -> ColumnElement[int]:
    return case((paces.c.flags.bitwise_and(bits) != 0, 1), else_=0)


def _sums(columns: Any) -> tuple[ColumnElement[int], ...]:
    return (func.count().label("cases"), *(func.sum(columns[name]).label(name) for name in _NAMES[1:]))


def _tally(counts: Iterable[Any]) -> dict[str, int]:
    cases, flagged, fading, tight, not_finished = (int(count or 0) for count in counts)
    return {"cases": cases, "held": cases - flagged, "fading": fading, "tight": tight, "not_finished": not_finished}
