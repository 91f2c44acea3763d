"""Writes an invented gym of years straight into a store, in the shape in which a rebuild would write it.

Invariant: what a store holds afterwards does not tell how it was written: a transaction for every few classes, in the order in
which the classes were.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
from sqlalchemy import Connection, Engine, Table, create_engine, event, insert, text

from floorclock.store.driving import SCHEMA
from floorclock.store.engine import open_store
from floorclock.store.laying import pour
from floorclock.store.tables import classes, moves, persons
from floorclock.store.urls import read_url
from floorclock.store.write import GROWING
from tests.bench.years_gym import MOVES, SEED, Gym, Written, name_of
from tests.bench.years_rows import Rows


def write_gym(url: str, site: str, gym: Gym, weeks_at_once: int = 4) -> Written:
    """Writes a gym into a store that nobody has open, under a new site. What it leaves there is as usual."""
    done = Written()
    with open_store(url, site) as store:
        number = store.number
    with _quick(url) as engine:
        for rows in _all_rows(number, engine, gym, weeks_at_once):
            with engine.begin() as connection:
                _write(connection, rows)
            done += rows.written
        if engine.dialect.name == "postgresql":
            # As `Store.put` does after many classes.
            with engine.begin() as connection:
                connection.execute(text("ANALYZE " + ", ".join(table.fullname for table in GROWING)))
    with open_store(url, site) as store:
        store.same({name_of(other): name_of(own) for own, other in gym.second_spelling.items()})
    return done


def _all_rows(site: int, engine: Engine, gym: Gym, weeks_at_once: int) -> Iterator[Rows]:
    first = 1
    with engine.begin() as connection:
        named = [{"site": site, "person_no": number, "name": name_of(number)} for number in gym.numbers]
        connection.execute(insert(persons), named)
        of_moves = [{"site": site, "move_no": number, "name": f"Move {number:02d}"} for number in range(1, MOVES + 1)]
        connection.execute(insert(moves), of_moves)
    draw = np.random.default_rng(SEED + 1)
    for week in range(0, gym.weeks, weeks_at_once):
        rows = Rows(site, gym, range(week, min(week + weeks_at_once, gym.weeks)), first, draw)
        yield rows
        first += rows.written.classes


@contextmanager
def _quick(url: str) -> Iterator[Engine]:
    """An engine for writing alone; SQLite keeps no journal meanwhile."""
    engine = create_engine(read_url(url))

    @event.listens_for(engine, "connect")
    def made(connection: Any, record: Any) -> None:
        if engine.dialect.name == "sqlite":
            connection.execute("PRAGMA synchronous = OFF")
            connection.execute("PRAGMA journal_mode = OFF")
            connection.execute("PRAGMA cache_size = -262144")
        else:
            connection.execute(f"SET search_path TO {SCHEMA}")
            connection.commit()

    yield engine
    engine.dispose()


def _write(connection: Connection, rows: Rows) -> None:
    connection.execute(insert(classes), list(rows.classes()))
    for table, laid in rows.by_table():
        if connection.dialect.name == "postgresql":
            _copy(connection, table, laid)
        else:
            pour(connection, table, laid)


def _copy(connection: Connection, table: Table, rows: Sequence[tuple[object, ...]]) -> None:
    """As a rebuild gives rows to a server."""
    names = ", ".join(column.name for column in table.columns)
    driver = connection.connection.driver_connection
    assert driver is not None
    with driver.cursor() as cursor, cursor.copy(f"COPY {table.name} ({names}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)
