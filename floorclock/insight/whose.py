"""Who is meant by a name that somebody typed, and which names are one person.

Invariant: a name that is written in the records is never taken for another person's; who is in rehearsals alone is nobody.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches

from sqlalchemy import Connection, and_, func, or_, select

from floorclock.errors import NotFound
from floorclock.plan.names import LONGEST_NAME, plain
from floorclock.store import reading
from floorclock.store.engine import Store
from floorclock.store.meant import among, of_class
from floorclock.store.people import head, people_of
from floorclock.store.tables import attendance, classes, persons
from floorclock.store.write import in_lists

MOST_LISTED = 8
NEAR = 3
_NEAR_ENOUGH = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Whose:
    """One person: the name that counts, other spellings of it, and how often and when they were there in all."""

    name: str
    spellings: tuple[str, ...]
    classes: int
    first: datetime
    last: datetime


def who_is_meant(store: Store, typed: str) -> Whose:
    """The person somebody means: by the name that counts, by another spelling, by small letters, by the start of a name.

    Raises:
        NotFound: nobody or several people are meant; the words name them, or the nearest.
        ResourceError: the store refuses.
    """
    wanted = plain(typed)
    with store.reading() as connection:
        exact = people_of(connection, store.number, {wanted, typed})
        found = _who_were_there(connection, store, {min(person.written) for person in exact.values()})
        if not found:
            names = _every_name(connection, store)
            found = _alike(connection, store, wanted, names)
        if len(found) == 1:
            return found[0]
        if not found:
            raise NotFound(_nobody_words(connection, store, wanted, names))
    listed = ", ".join(one.name for one in found[:MOST_LISTED])
    more = f" and {len(found) - MOST_LISTED} more" if len(found) > MOST_LISTED else ""
    raise NotFound(f"{len(found)} people could be meant by {wanted}: {listed}{more}; write more of the name")


def names_that_count(store: Store, names: Collection[str]) -> Mapping[str, str]:
    """The name that counts for each name as written.

    Raises:
        ResourceError: the store refuses.
    """
    with store.reading() as connection:
        found = people_of(connection, store.number, names)
    return {name: found[name].name if name in found else name for name in names}


def folded(name: str) -> str:
    """Small letters without marks over them: what is compared where a name is typed in a hurry."""
    spread = unicodedata.normalize("NFKD", name.casefold())
    return "".join(letter for letter in spread if not unicodedata.combining(letter))


def _every_name(connection: Connection, store: Store) -> dict[str, int]:
    query = select(persons.c.name, persons.c.person_no).where(persons.c.site == store.number)
    return {row.name: row.person_no for row in connection.execute(query)}


def _alike(connection: Connection, store: Store, wanted: str, names: Mapping[str, int]) -> list[Whose]:
    """Who has the name in other letters; else whose name begins so."""
    short = folded(wanted)
    if not short:
        return []
    spelt = {name: folded(name) for name in names}
    same = _who_were_there(connection, store, {names[name] for name, own in spelt.items() if own == short})
    return same or _who_were_there(connection, store, {names[name] for name, own in spelt.items() if own.startswith(short)})


def _nobody_words(connection: Connection, store: Store, wanted: str, names: Mapping[str, int]) -> str:
    spelt = {folded(name)[:LONGEST_NAME]: number for name, number in names.items()}
    near = get_close_matches(folded(wanted)[:LONGEST_NAME], spelt, n=NEAR, cutoff=_NEAR_ENOUGH)
    found = _who_were_there(connection, store, {spelt[one] for one in near})
    words = f"nobody called {wanted} is in the records (rehearsals do not count)"
    return words + (f"; did you mean {' or '.join(one.name for one in found)}?" if found else "")


def _who_were_there(connection: Connection, store: Store, numbers: Iterable[int]) -> list[Whose]:
    """The people behind some spellings, by name; those who were in no class that counts are left out."""
    heads: set[int] = set()
    for some in in_lists(numbers):
        query = select(head()).where(persons.c.site == store.number, persons.c.person_no.in_(some))
        heads.update(connection.scalars(query))
    found: list[Whose] = []
    for some in in_lists(heads):
        written = _written(connection, store, some)
        own = {number: one for one, names in written.items() for number in names}
        counted = (
            select(head(), func.count(attendance.c.class_no.distinct()), func.min(classes.c.started), func.max(classes.c.started))
            .join_from(attendance, classes, of_class(attendance))
            .join(persons, and_(persons.c.site == attendance.c.site, persons.c.person_no == attendance.c.person_no))
            .where(attendance.c.site == store.number, attendance.c.person_no.in_(tuple(own)))
            .where(*among(store.number, False), attendance.c.minutes.is_not(None))
            .group_by(head())
        )
        for number, count, first, last in connection.execute(counted).all():
            names = written[number]
            others = tuple(sorted(name for one, name in names.items() if one != number))
            first, last = _at_place(connection, store, first), _at_place(connection, store, last)
            found.append(Whose(name=names[number], spellings=others, classes=count, first=first, last=last))
    return sorted(found, key=lambda one: one.name)


def _written(connection: Connection, store: Store, heads: Collection[int]) -> dict[int, dict[int, str]]:
    either = or_(persons.c.person_no.in_(heads), persons.c.same_as.in_(heads))
    query = select(head(), persons.c.person_no, persons.c.name).where(persons.c.site == store.number, either)
    written: dict[int, dict[int, str]] = {}
    for number, own, name in connection.execute(query):
        written.setdefault(number, {})[own] = name
    return written


def _at_place(connection: Connection, store: Store, instant: datetime) -> datetime:
    """When a class started, with the offset of its place."""
    query = select(classes.c.offset_minutes).where(classes.c.site == store.number, classes.c.started == instant).limit(1)
    return reading.at_place(instant, connection.scalar(query) or 0)
