"""The store of an early build: revision 0001, filled. `python -m tests.store.first_layout` made `first.sqlite3.gz` once.

The file is kept as it is: it stands for the stores that are out there, whatever the program of today would write.
"""

from __future__ import annotations

import gzip
import sqlite3
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, MetaData, Table

from floorclock.store.driving import WRITES, make_engine
from floorclock.store.layout import bring_forward
from floorclock.store.urls import read_url

FILE = Path(__file__).with_name("first.sqlite3.gz")
SITE = "home"
CLASS_ID = "20260303-1830-0001"
_ROWS: dict[str, list[tuple[object, ...]]] = {
    "site": [(1, SITE)],
    "class": [
        (
            *(1, 1, CLASS_ID, "2026-03-03 17:30:00.000000", 60, "Five trips round the harbour", False, 0, 15_000, 58.5, True),
            *(0, 2, 2, 2, 0, "", 4097, 1_771_000_000_000_000_001),
        )
    ],
    "person": [(1, 1, "Ilka", None), (1, 2, "Ilca", 1)],
    "move": [(1, 1, "swing")],
    "attendance": [(1, 1, 1, 58.5, 6.5), (1, 2, 1, 58.5, None)],
    "split": [
        (1, 1, 1, 1, 0, 1, 0, 1, "25/2", 3, 60_000, 15_000, 31_000, 0, 0),
        (1, 1, 2, 1, 0, 1, 0, 1, "12", 3, 60_000, 15_000, 47_500, 0, 1),
    ],
    "pace": [(1, 1, 1, 3, 1, 1, 0, "25/2", 1, 1, 0, 0, 0, 31_000.0, 31_000, 31_000, 29_000, None, None, 0.908, None)],
    "station": [(1, 1, 1, 0, "The harbour", 1, 1, 2, 2, 0, 1, 0, 0, 39_250.0, 20_750.0, None)],
    "result": [(1, 1, 1, 3, "Carry and sit", 3, "shorter", 401_200, 3, None, 0)],
}


def write_first(connection: Connection) -> None:
    """Makes the first layout in an empty database, on a connection that writes, and fills it."""
    bring_forward(connection, None, connection.engine.url, to="0001")
    tables = MetaData()
    tables.reflect(connection)
    for name, rows in _ROWS.items():
        table: Table = tables.tables[name]
        columns = [column.name for column in table.columns]
        for row in rows:
            assert len(row) == len(columns), name
            connection.execute(table.insert(), dict(zip(columns, _typed(table, row), strict=True)))


def _typed(table: Table, row: tuple[object, ...]) -> list[object]:
    typed: list[object] = []
    for column, value in zip(table.columns, row, strict=True):
        kind = column.type.python_type
        if kind is datetime and isinstance(value, str):
            typed.append(datetime.fromisoformat(value).replace(tzinfo=UTC))
        else:
            typed.append(bool(value) if kind is bool else value)
    return typed


def make() -> None:
    """Makes the file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "first.sqlite3"
        engine = make_engine(read_url(f"sqlite:///{path}"))
        with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
            write_first(connection)
        engine.dispose()
        with sqlite3.connect(path) as whole:
            whole.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        whole.close()
        FILE.write_bytes(gzip.compress(path.read_bytes(), mtime=0))


if __name__ == "__main__":
    make()
