"""The questions that a store answers about classes and people.

Invariant: every answer is of the site of the store alone. A name is asked for in any of its spellings and answered for all of
them. Rehearsals are nobody's history. An instant has the offset of the place where the class was, so that its day is the day
that people lived. Each question may raise `ResourceError`, where the database refuses.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
from typing import Any, Final, NamedTuple, TypeVar

from sqlalchemy import ColumnElement, Connection, FromClause, Table, and_, func, literal, or_, select

from floorclock.clock.splits import Split
from floorclock.pace.prior import Key, PastClass
from floorclock.store.rows import AttendanceRow, ClassRows, JournalMark, LiftRow, PaceRow, ResultRow, StationRow
from floorclock.store.schema import attendance, classes, lifts, moves, paces, persons, results, splits, stations
from floorclock.store.store import Store, in_lists, own_columns

MOST_PAST: Final = 12
"""A forecast rests on the last so many classes."""
LOOKED_AT_FOR_ONE: Final = 3
"""So many classes are looked at for each one that is wanted: in some, nobody was timed by splits."""
NEWEST: Final = (classes.c.started.desc(), classes.c.class_no.desc())
"""The newest class first; of two at the same instant, always the same one."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteLine:
    """One person: the name that counts, other spellings of it, and how often and when they were there in all."""

    name: str
    spellings: tuple[str, ...]
    classes: int
    first: datetime
    last: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One class that one person was in, under whatever spellings: there may be two in one class."""

    class_id: str
    started: datetime
    session: str
    attendance: tuple[AttendanceRow, ...]
    paces: tuple[PaceRow, ...]
    results: tuple[ResultRow, ...]
    lifts: tuple[LiftRow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StationOf:
    """How a class fared at one station."""

    class_id: str
    started: datetime
    session: str
    station: StationRow


class KnownPerson(NamedTuple):
    """One person: the name that counts, and the name as written by its number in the store."""

    name: str
    written: Mapping[int, str]


class _When(NamedTuple):
    class_id: str
    started: datetime
    session: str


def class_ids(store: Store, start: str = "") -> tuple[str, ...]:
    """The ids that begin so, rehearsals too, in their order."""
    mine = (classes.c.site == store.number, classes.c.class_id.startswith(start, autoescape=True))
    with store.reading() as connection:
        # Sorted here: a database may sort by the rules of a language.
        return tuple(sorted(connection.scalars(select(classes.c.class_id).where(*mine))))


def class_rows(store: Store, class_id: str) -> ClassRows | None:
    """A class as it was put, its rows in the order of their keys; None where it is not in the store. A rehearsal too."""
    with store.reading() as connection:
        query = select(classes).where(classes.c.site == store.number, classes.c.class_id == class_id)
        line = connection.execute(query).one_or_none()
        if line is None:
            return None
        names = _names_in(connection, store, line.class_no)

        def own(table: Table, make: Callable[..., T], key: Callable[[T], Any]) -> tuple[T, ...]:
            found = _rows(connection, store, table, make, names, table.c.class_no == line.class_no)
            return tuple(sorted((row for _, row in found), key=key))

        return ClassRows(
            id=line.class_id,
            started=at_place(line.started, line.offset_minutes),
            session=line.session,
            rehearsal=line.rehearsal,
            mark=JournalMark(size=line.journal_size, mtime_ns=line.journal_mtime_ns),
            home=line.home,
            attendance=own(attendance, AttendanceRow, lambda row: row.name),
            splits=own(splits, Split, lambda row: (row.athlete, row.part, row.interval)),
            paces=own(paces, PaceRow, lambda row: (row.name, row.part, row.station, row.move, row.unit or "")),
            stations=own(stations, StationRow, lambda row: (row.part, row.station)),
            results=own(results, ResultRow, lambda row: (row.name, row.part)),
            lifts=own(lifts, LiftRow, lambda row: (row.name, row.move)),
        )


def station_rows(store: Store, *, since: datetime | None = None, until: datetime | None = None) -> tuple[StationOf, ...]:
    """How classes fared at each station, the oldest first; of classes that started at `since` or later, and before `until`."""
    with store.reading() as connection:
        numbers = set(connection.scalars(select(classes.c.class_no).where(*among(store.number, since=since, before=until))))
        when = _when(connection, store, numbers)
        found = [
            (number, row)
            for some in in_lists(when)
            for number, row in _rows(connection, store, stations, StationRow, {}, stations.c.class_no.in_(some))
        ]
    found.sort(key=lambda pair: (when[pair[0]].started, when[pair[0]].class_id, pair[1].part, pair[1].station))
    return tuple(StationOf(**when[number]._asdict(), station=row) for number, row in found)


def known_names(store: Store) -> tuple[str, ...]:
    """Every name that stands in any class, as written."""
    with store.reading() as connection:
        return tuple(connection.scalars(select(persons.c.name).where(persons.c.site == store.number)))


def names_that_count(store: Store, names: Collection[str]) -> dict[str, str]:
    """The name that counts for each name as written."""
    with store.reading() as connection:
        found = _people_of(connection, store, names)
    return {name: found[name].name if name in found else name for name in names}


def athletes(store: Store, names: Collection[str]) -> tuple[AthleteLine, ...]:
    """The people behind some spellings, by name; those who were in no class but rehearsals are left out."""
    with store.reading() as connection:
        people = {person.name: person for person in _people_of(connection, store, names).values()}
        counts: dict[int, Any] = {}
        for some in in_lists({number for person in people.values() for number in person.written}):
            counted = (
                select(head(), func.count(attendance.c.class_no.distinct()), func.min(classes.c.started))
                .add_columns(func.max(classes.c.started))
                .join_from(attendance, classes, of_class(attendance))
                .join(persons, of_person(attendance))
                .where(attendance.c.site == store.number, attendance.c.person_no.in_(some), attendance.c.minutes.is_not(None))
                .where(*among(store.number))
                .group_by(head())
            )
            counts.update((number, values) for number, *values in connection.execute(counted))
        offsets = _offsets(connection, store, {at for _, *ends in counts.values() for at in ends})
    found = []
    for person in people.values():
        own = next((counts[number] for number in person.written if number in counts), None)
        if own is None:
            continue
        count, first, last = own
        others = tuple(sorted(name for name in person.written.values() if name != person.name))
        ends = {"first": at_place(first, offsets[first]), "last": at_place(last, offsets[last])}
        found.append(AthleteLine(name=person.name, spellings=others, classes=count, **ends))
    return tuple(sorted(found, key=lambda line: line.name))


def history_of(store: Store, name: str, *, since: datetime | None = None) -> tuple[Visit, ...]:
    """The classes that a person stands in, the oldest first; those that started at `since` or later, where it is given.

    Attendance first and classes by their numbers then, and no join: which of the two tables a database begins with it would
    guess, and guess wrong for a gym of ten years.
    """
    found: dict[tuple[int, Table], list[Any]] = {}
    with store.reading() as connection:
        person = _people_of(connection, store, (name,)).get(name)
        if person is None:
            return ()
        numbers = tuple(person.written)
        stands = select(attendance.c.class_no).where(attendance.c.site == store.number, attendance.c.person_no.in_(numbers))
        when = _when(connection, store, set(connection.scalars(stands)), *among(store.number, since=since))
        for some in in_lists(when):
            for table, make in {attendance: AttendanceRow, paces: PaceRow, results: ResultRow, lifts: LiftRow}.items():
                mine = (table.c.person_no.in_(numbers), table.c.class_no.in_(some))
                for class_no, row in _rows(connection, store, table, make, person.written, *mine):
                    found.setdefault((class_no, table), []).append(row)

    def own(number: int, table: Table, key: Callable[[Any], Any]) -> tuple[Any, ...]:
        return tuple(sorted(found.get((number, table), ()), key=key))

    return tuple(
        Visit(
            **when[number]._asdict(),
            attendance=own(number, attendance, lambda row: row.name),
            paces=own(number, paces, lambda row: (row.part, row.station, row.name, row.move, row.unit or "")),
            results=own(number, results, lambda row: (row.part, row.name)),
            lifts=own(number, lifts, lambda row: (row.move, row.name)),
        )
        for number in when
    )


def past_classes(store: Store, names: Collection[str], *, before: datetime | None = None) -> tuple[PastClass, ...]:
    """The last classes in which any of these people was timed by splits, the newest first, with all their splits in them.

    Each split bears the name that was asked for, whatever it was written as. `amounts` are the round-1 targets that stood at the
    end, where the athlete still did the same move then.
    """
    taken: dict[int, list[Split]] = {}
    targets: dict[int, dict[Key, Any]] = {}
    with store.reading() as connection:
        asked = _people_of(connection, store, names)
        written = {number: name for person in asked.values() for number, name in person.written.items()}
        called: dict[str, list[str]] = {}
        for name, person in sorted(asked.items()):
            for other in person.written.values():
                called.setdefault(other, []).append(name)
        numbers = _last_timed(connection, store, list(written), before)
        when = _when(connection, store, numbers)
        mine = (splits.c.person_no.in_(list(written)), splits.c.class_no.in_(numbers))
        for class_no, split in _rows(connection, store, splits, Split, written, *mine):
            own = called[split.athlete]
            taken.setdefault(class_no, []).extend(
                split if name == split.athlete else replace(split, athlete=name) for name in own
            )
        mine = (paces.c.person_no.in_(list(written)), paces.c.class_no.in_(numbers))
        for class_no, pace in _rows(connection, store, paces, PaceRow, written, *mine):
            if pace.tapped and pace.unit is not None and pace.target is not None:
                for name in called[pace.name]:
                    targets.setdefault(class_no, {})[name, pace.move, pace.unit] = pace.target
    return tuple(
        PastClass(
            day=when[number].started.date(),
            splits=sorted(taken.get(number, []), key=lambda split: (split.athlete, split.part, split.interval)),
            amounts=targets.get(number, {}),
        )
        for number in numbers
    )


def _last_timed(connection: Connection, store: Store, people: Collection[int], before: datetime | None) -> list[int]:
    """The numbers of the last classes in which any of these people was timed, the newest first."""
    there = (
        select(classes.c.class_no)
        .join_from(attendance, classes, of_class(attendance))
        .where(attendance.c.site == store.number, attendance.c.person_no.in_(people))
        .where(*among(store.number, before=before))
        .group_by(classes.c.started, classes.c.class_no)
        .order_by(*NEWEST)
        .limit(LOOKED_AT_FOR_ONE * MOST_PAST)
    )
    newest = list(connection.scalars(there))
    timed = (
        select(paces.c.class_no)
        .distinct()
        .where(paces.c.site == store.number, paces.c.class_no.in_(newest), paces.c.person_no.in_(people), paces.c.tapped > 0)
    )
    found = set(connection.scalars(timed))
    return [number for number in newest if number in found][:MOST_PAST]


def among(site: int, *, since: datetime | None = None, before: datetime | None = None) -> Iterator[ColumnElement[bool]]:
    """Which classes are asked about; never a rehearsal."""
    yield classes.c.site == site
    yield classes.c.rehearsal.is_(False)
    if since is not None:
        yield classes.c.started >= since
    if before is not None:
        yield classes.c.started < before


def of_class(table: FromClause) -> ColumnElement[bool]:
    """The rows of a table that belong to a class."""
    return and_(table.c.site == classes.c.site, table.c.class_no == classes.c.class_no)


def of_person(table: FromClause) -> ColumnElement[bool]:
    """The rows of a table that belong to a name as written."""
    return and_(persons.c.site == table.c.site, persons.c.person_no == table.c.person_no)


def head() -> ColumnElement[int]:
    """The number of the spelling that counts."""
    return func.coalesce(persons.c.same_as, persons.c.person_no)


def at_place(instant: datetime, offset_minutes: int) -> datetime:
    """An instant with the offset of its place."""
    return instant.astimezone(timezone(timedelta(minutes=offset_minutes)))


def _people_of(connection: Connection, store: Store, names: Collection[str]) -> dict[str, KnownPerson]:
    """The person that each name stands for; names that no class has are left out."""
    heads: dict[str, int] = {}
    written: dict[int, dict[int, str]] = {}
    mine = persons.c.site == store.number
    for some in in_lists(names):
        heads.update(connection.execute(select(persons.c.name, head()).where(mine, persons.c.name.in_(some))).all())
    for numbers in in_lists(set(heads.values())):
        either = or_(persons.c.person_no.in_(numbers), persons.c.same_as.in_(numbers))
        for number, own, name in connection.execute(select(head(), persons.c.person_no, persons.c.name).where(mine, either)):
            written.setdefault(number, {})[own] = name
    return {name: KnownPerson(written[number][number], written[number]) for name, number in heads.items()}


def _names_in(connection: Connection, store: Store, class_no: int) -> dict[int, str]:
    """Everybody who stands in a class, by number, as written there."""
    query = select(persons.c.person_no, persons.c.name).join_from(attendance, persons, of_person(attendance))
    mine = (attendance.c.site == store.number, attendance.c.class_no == class_no)
    return dict(connection.execute(query.where(*mine)).all())


def _when(connection: Connection, store: Store, numbers: Iterable[int], *only: ColumnElement[bool]) -> dict[int, _When]:
    """Classes by number, the oldest first: read once each and not for every row of years."""
    found: list[Any] = []
    for some in in_lists(numbers):
        query = select(classes).where(classes.c.site == store.number, classes.c.class_no.in_(some), *only)
        found += connection.execute(query).all()
    found.sort(key=lambda row: (row.started, row.class_no))
    return {row.class_no: _When(row.class_id, at_place(row.started, row.offset_minutes), row.session) for row in found}


def _rows(
    connection: Connection,
    store: Store,
    table: Table,
    make: Callable[..., T],
    names: Mapping[int, str],
    *only: ColumnElement[bool],
) -> list[tuple[int, T]]:
    """Rows of a table as they were put, each with the number of its class; `names` are those of the people in them."""
    own, called = own_columns(table), "athlete" if table is splits else "name"
    person, move = (table.c.get(name, literal(0)) for name in ("person_no", "move_no"))
    query = select(table.c.class_no, person, move, *(table.c[name] for name in own)).where(table.c.site == store.number, *only)
    if table is attendance:
        query = query.where(attendance.c.minutes.is_not(None))
    found = connection.execute(query).all()
    moved = _moves(connection, store) if "move_no" in table.c and found else {}
    made = []
    for class_no, person_no, move_no, *values in found:
        fields = dict(zip(own, values, strict=True))
        if person_no:
            fields[called] = names[person_no]
        if moved:
            fields["move"] = moved[move_no]
        made.append((class_no, make(**fields)))
    return made


def _moves(connection: Connection, store: Store) -> dict[int, str]:
    """Every move of the site; there are few."""
    query = select(moves.c.move_no, moves.c.name).where(moves.c.site == store.number)
    return dict(connection.execute(query).all())


def _offsets(connection: Connection, store: Store, instants: Collection[datetime]) -> dict[datetime, int]:
    """The offset of the place, for instants at which classes started."""
    found: dict[datetime, int] = {}
    for some in in_lists(instants):
        query = select(classes.c.started, classes.c.offset_minutes)
        mine = (classes.c.site == store.number, classes.c.started.in_(some))
        found.update(connection.execute(query.where(*mine)).all())
    return found
