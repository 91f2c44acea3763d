"""Who is meant by a name: everybody written so, and whoever was said to be the same person.

Invariant: a name stands for the same people whichever of their spellings it is.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, func, or_, select

from floorclock.store.tables import persons
from floorclock.store.write import in_lists


@dataclass(frozen=True, slots=True)
class Person:
    """One person: the name that counts, and the name as written by its number in the store."""

    name: str
    written: Mapping[int, str]


def person_of(connection: Connection, site: int, name: str) -> Person | None:
    """The person a name stands for; None where no class has it."""
    return people_of(connection, site, (name,)).get(name)


def people_of(connection: Connection, site: int, names: Collection[str]) -> dict[str, Person]:
    """The person that each name stands for; names that no class has are left out."""
    heads: dict[str, int] = {}
    written: dict[int, dict[int, str]] = {}
    for some in in_lists(names):
        query = select(persons.c.name, head()).where(persons.c.site == site, persons.c.name.in_(some))
        heads.update((name, number) for name, number in connection.execute(query))
    for some in in_lists(set(heads.values())):
        either = or_(persons.c.person_no.in_(some), persons.c.same_as.in_(some))
        query = select(head(), persons.c.person_no, persons.c.name).where(persons.c.site == site, either)
        for number, own, name in connection.execute(query):
            written.setdefault(number, {})[own] = name
    return {name: Person(written[number][number], written[number]) for name, number in heads.items()}


def head() -> ColumnElement[int]:
    """The number of the spelling that counts."""
    return func.coalesce(persons.c.same_as, persons.c.person_no)
