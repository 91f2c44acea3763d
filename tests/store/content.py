"""Everything a store holds of its site, with names in the place of the numbers that each store gives out for itself."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from floorclock.store.schema import OF_A_CLASS, classes, moves, persons
from floorclock.store.store import Store

NUMBERED = {"person_no": persons, "move_no": moves, "class_no": classes}
NAMED = {"person_no": "name", "move_no": "name", "class_no": "class_id"}


def content(store: Store) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, in an order of its own; `same_as` by name as well.

    Not the list of moves: a store keeps the word for one that no class has any more, and nothing is answered from it.
    """
    with store.reading() as connection:
        names: dict[str, dict[int, str]] = {}
        for column, table in NUMBERED.items():
            query = select(table.c[column], table.c[NAMED[column]]).where(table.c.site == store.number)
            names[column] = {number: name for number, name in connection.execute(query)}  # noqa: C416 -- typed rows
        names["same_as"] = names["person_no"]
        found: dict[str, list[tuple[Any, ...]]] = {}
        for table in (classes, persons, *OF_A_CLASS):
            columns = [column for column in table.columns if column.name != "site"]
            rows = connection.execute(select(*columns).where(table.c.site == store.number)).mappings()
            told = [tuple(names[key].get(value, value) if key in names else value for key, value in row.items()) for row in rows]
            found[table.name] = sorted(told, key=repr)
        return found
