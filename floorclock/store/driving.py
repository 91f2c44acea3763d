"""How each kind of database is driven: what a connection is told when it is made, and how a transaction begins.

Invariant: a transaction that writes has the right to write from its first statement, so that two writers wait for each other
and neither fails half way.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event

from floorclock.errors import ResourceError
from floorclock.store.troubles import no_driver
from floorclock.store.urls import file_of, is_file, shown

WAIT_MS = 3_000
"""So long a store that another program is using is waited for."""
CACHE_KIB = 32_768
"""Where the newest rows of everybody fit, even after ten years."""
CHECKPOINT_PAGES = 16_000
"""So many pages may wait beside the file: while years are put in, the newest pages of everybody change again and again."""
STATEMENT_MS = 60_000
"""No question takes so long; a server that is still at it then is stuck."""
CONNECT_S = 5
SCHEMA = "floorclock"
"""Where the tables are in PostgreSQL: apart from what else is in the database."""
WRITES = "floorclock_writes"
"""The execution option of a connection whose transaction will write."""


def make_engine(url: URL) -> Engine:
    """An engine for a store; nothing is connected yet.

    Raises:
        ResourceError: no driver, or no place for the file.
    """
    return _file_engine(url) if is_file(url) else _server_engine(url)


def _file_engine(url: URL) -> Engine:
    path = file_of(url)
    _private(path)
    # Parameters are names of people; they stay out of whatever the library says.
    engine = create_engine(url, hide_parameters=True, connect_args={"timeout": WAIT_MS / 1000})

    @event.listens_for(engine, "connect")
    def made(connection: sqlite3.Connection, record: Any) -> None:
        # Transactions are begun by us alone.
        connection.isolation_level = None
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = NORMAL")
        connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
        connection.execute(f"PRAGMA wal_autocheckpoint = {CHECKPOINT_PAGES}")
        # What is deleted is overwritten: a name that was taken out is in no left-over page.
        connection.execute("PRAGMA secure_delete = ON")
        _write_ahead(connection)

    @event.listens_for(engine, "begin")
    def begun(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE" if connection.get_execution_options().get(WRITES) else "BEGIN")

    return engine


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Readers beside one writer. While two programs make the same file, SQLite does not wait by itself; so it is asked again."""
    patience = time.monotonic() + WAIT_MS / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > patience:
                raise
            time.sleep(0.02)
        else:
            return


def _private(path: Path) -> None:
    """Makes the file for its owner only, before SQLite does; the files beside it get the same rights from it.

    One that is there is never opened here: closing it would take away the locks that this process holds on it.
    """
    try:
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600))
    except FileExistsError:
        with contextlib.suppress(OSError):
            if path.stat().st_mode & 0o077:
                path.chmod(0o600)
    except OSError as error:
        raise ResourceError(f"the store {path} cannot be made: {(error.strerror or 'the disk refuses').lower()}") from None


def _server_engine(url: URL) -> Engine:
    try:
        engine = create_engine(
            url,
            hide_parameters=True,
            pool_pre_ping=True,
            pool_size=2,
            paramstyle="format",
            connect_args={"application_name": "floorclock", "connect_timeout": CONNECT_S},
        )
    except ImportError:
        raise no_driver(url) from None
    except (TypeError, ValueError):
        raise ResourceError(f"the store {shown(url)} cannot be reached: its URL has settings that no driver knows") from None

    @event.listens_for(engine, "connect")
    def made(connection: Any, record: Any) -> None:
        connection.autocommit = True
        connection.execute(
            f"SET search_path TO {SCHEMA}; SET timezone TO 'UTC'; SET lock_timeout TO {WAIT_MS};"
            f" SET statement_timeout TO {STATEMENT_MS}"
        )
        connection.autocommit = False

    return engine
