"""Which store is meant, how its database is driven, and what it can refuse, in plain words.

Invariant: a transaction that writes has the right to write from its first statement, so that two writers wait for each other and
neither fails half way. A password that stands in a URL is in no text that is shown, and nothing that a database says is repeated,
because a value, a name or a password may be in it; only the kind of trouble.
"""

from __future__ import annotations

import contextlib
import logging
import os
import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DataError, DBAPIError, IntegrityError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from floorclock.errors import ResourceError, WrongUsage

STORE_VARIABLE = "FLOORCLOCK_STORE"
SITE_VARIABLE = "FLOORCLOCK_SITE"
OWN_SITE = "home"
STORE_FILE = "store.sqlite3"
_DRIVERS = {
    "sqlite": "sqlite+pysqlite",
    "sqlite+pysqlite": "sqlite+pysqlite",
    "postgres": "postgresql+psycopg",
    "postgresql": "postgresql+psycopg",
    "postgresql+psycopg": "postgresql+psycopg",
}
_EXAMPLES = "such as sqlite:////home/me/store.sqlite3 or postgresql://me@server/gym"


def store_url(environ: Mapping[str, str], home: Path, option: str | None = None) -> str:
    """The URL of the store: the option, else `FLOORCLOCK_STORE`, else a file in the data folder. It may hold a password."""
    wish = (option or environ.get(STORE_VARIABLE, "")).strip()
    return wish or URL.create("sqlite+pysqlite", database=str(home / STORE_FILE)).render_as_string(hide_password=False)


def site_name(environ: Mapping[str, str]) -> str:
    """Whose classes are meant in a store that several sites share: `FLOORCLOCK_SITE`, or `home`."""
    return environ.get(SITE_VARIABLE, "").strip() or OWN_SITE


def read_url(text: str) -> URL:
    """A URL with the driver that floorclock uses for it.

    Raises:
        WrongUsage: it is no URL of a store.
    """
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        # From nothing: the library's own words repeat the text, and a password may be in it.
        raise WrongUsage(f"the store is named by a URL, {_EXAMPLES}") from None
    driver = _DRIVERS.get(url.drivername)
    if driver is None:
        raise WrongUsage(f"no store of the kind {url.drivername}; {_EXAMPLES}")
    url = url.set(drivername=driver)
    if not is_file(url) and "@" in f"{url.host}{url.database}":
        # The rest of a password has been taken for the server: it must not be told either.
        raise WrongUsage("an @ in the password of a store's URL is written %40, a / is written %2F")
    if is_file(url) and (not url.database or url.database == ":memory:" or url.database.startswith("file:")):
        raise WrongUsage(f"a store in SQLite needs the path of its file, {_EXAMPLES}")
    return url


def is_file(url: URL) -> bool:
    """True for a store in a file of its own (SQLite), false for one behind a server."""
    return url.get_backend_name() == "sqlite"


def file_of(url: URL) -> Path:
    """The file of a SQLite store."""
    return Path(url.database or "").absolute()


def shown(url: URL) -> str:
    """A store as it is named to people: its file, or its server and database. No user, no password, no further settings."""
    if is_file(url):
        return str(file_of(url))
    port = f":{url.port}" if url.port else ""
    return f"{url.host or 'this machine'}{port}/{url.database or ''}"


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

for _library in ("psycopg", "sqlalchemy"):
    # What they have to say is raised too; Python would write it on the screen, in their words.
    logging.getLogger(_library).setLevel(logging.CRITICAL)


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
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
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
        words = f"the store {shown(url)} is on PostgreSQL, which needs its driver: pip install 'floorclock[postgres]'"
        raise ResourceError(words) from None
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


_REBUILD = "floorclock index --rebuild makes it anew (one outside the data folder: delete it first, it is only an index)"
_BUSY = "is in use by another program; try again in a moment"
_FULL = "has no room left on its disk"
_NO_RIGHT = "may not be written by this user"

_SQLITE = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_READONLY: _NO_RIGHT,
    sqlite3.SQLITE_PERM: _NO_RIGHT,
    sqlite3.SQLITE_AUTH: _NO_RIGHT,
    sqlite3.SQLITE_CANTOPEN: "cannot be opened; is its folder there, and may it be written?",
    sqlite3.SQLITE_IOERR: "is on a disk that does not work",
}
_DAMAGED = {sqlite3.SQLITE_NOTADB: f"is no database; {_REBUILD}", sqlite3.SQLITE_CORRUPT: f"is damaged; {_REBUILD}"}
_SQLSTATES = {
    "57014": "took too long to answer",
    "55P03": _BUSY,
    "40P01": _BUSY,
    "40001": _BUSY,
    "53100": _FULL,
    "53300": "has no connection to spare; try again in a moment",
    "42501": _NO_RIGHT,
    "25006": _NO_RIGHT,
    "3D000": "is not there: the server has no such database",
}
"""By SQLSTATE (PostgreSQL, appendix A of its manual)."""
_AWAY = "does not answer; is its server running?"
_STATE_CLASSES = {"08": _AWAY, "57": _AWAY, "28": "refuses the user or the password", "53": "has no memory or room left"}
_SAID_BY_CLIENT = (
    ("authentication failed", _STATE_CLASSES["28"]),
    ("no password supplied", _STATE_CLASSES["28"]),
    ("pg_hba.conf", _STATE_CLASSES["28"]),
    ("role ", _STATE_CLASSES["28"]),
    ("database ", _SQLSTATES["3D000"]),
)
"""The client library gives no SQLSTATE for a connection that was refused, only words."""


class DamagedStore(ResourceError):
    """The file of a store is no database, or one that is damaged: only a new one helps."""


class UnstorableRows(ResourceError):
    """The database takes no such values: it is about what was to be written, and not about the store."""


@contextmanager
def told_in_words(url: URL) -> Iterator[None]:
    """Turns whatever a database raises into words and exit status 3.

    Raises:
        UnstorableRows: a value is too large for its column, or a row was there already.
        DamagedStore: the file is no database, or damaged.
        ResourceError: the store is locked, gone, read-only, full, or its server is away.
    """
    # From nothing, all of them: the error's own text may repeat what was being written.
    try:
        yield
    except (DataError, IntegrityError, OverflowError) as error:
        raise UnstorableRows(f"the store {shown(url)} cannot hold some values: {type(error).__name__}") from None
    except DBAPIError as error:
        raise _in_words(url, error.orig, connecting=error.statement is None) from None
    except PoolTimeoutError:
        raise ResourceError(f"the store {shown(url)} {_BUSY}") from None
    except SQLAlchemyError as error:
        raise ResourceError(f"the store {shown(url)} cannot be used: {type(error).__name__}") from None
    except UnicodeError:
        raise ResourceError(f"the store {shown(url)} cannot be used: its address is no plain text") from None


def replace_words(url: URL) -> str:
    """What to do about a store that this version cannot use."""
    which = "delete it" if is_file(url) else "drop its schema floorclock"
    return f"{which}, it is only an index, then floorclock index --rebuild"


def throw_away(url: URL, home: Path) -> bool:
    """Deletes the file of a store with what SQLite has beside it, where it is the data folder's own; whether it did."""
    path = file_of(url)
    if not is_file(url) or path != (home / STORE_FILE).absolute():
        return False
    for name in (path, path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")):
        name.unlink(missing_ok=True)
    return True


def _in_words(url: URL, trouble: BaseException | None, *, connecting: bool) -> ResourceError:
    code = getattr(trouble, "sqlite_errorcode", 0) & 0xFF
    if is_file(url) and code in _DAMAGED:
        return DamagedStore(f"the store {shown(url)} {_DAMAGED[code]}")
    said = _SQLITE.get(code) if is_file(url) else _postgres(trouble, connecting=connecting)
    return ResourceError(f"the store {shown(url)} {said or f'cannot be used: {type(trouble).__name__}'}")


def _postgres(trouble: BaseException | None, *, connecting: bool) -> str | None:
    state = getattr(trouble, "sqlstate", None)
    if state is not None:
        return _SQLSTATES.get(state) or _STATE_CLASSES.get(state[:2]) or f"cannot be used: SQLSTATE {state}"
    if connecting:
        said = str(trouble)
        return next((words for sign, words in _SAID_BY_CLIENT if sign in said), _AWAY)
    return _AWAY if type(trouble).__name__ in ("OperationalError", "InterfaceError") else None
