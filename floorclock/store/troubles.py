"""What a database can refuse, in plain words.

Invariant: nothing that a database says is repeated, because a value, a name or a password may be in it; only the kind of trouble.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import URL
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from floorclock.errors import ResourceError
from floorclock.store.urls import is_file, shown

_REBUILD = "delete it, it is only an index, then floorclock index --rebuild"
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
    sqlite3.SQLITE_NOTADB: f"is no database; {_REBUILD}",
    sqlite3.SQLITE_CORRUPT: f"is damaged; {_REBUILD}",
}
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


@contextmanager
def told_in_words(url: URL) -> Iterator[None]:
    """Turns whatever a database raises into words and exit status 3.

    Raises:
        ResourceError: the store is locked, gone, read-only, full, damaged, or its server is away.
    """
    try:
        yield
    except DBAPIError as error:
        # From nothing: the error's own text may repeat what was being written.
        raise ResourceError(_words(url, error.orig, connecting=error.statement is None)) from None
    except PoolTimeoutError:
        raise ResourceError(f"the store {shown(url)} {_BUSY}") from None
    except SQLAlchemyError as error:
        raise ResourceError(f"the store {shown(url)} cannot be used: {type(error).__name__}") from None
    except UnicodeError:
        raise ResourceError(f"the store {shown(url)} cannot be used: its address is no plain text") from None


def rebuild_words(url: URL) -> str:
    """What to do about a store that this version cannot use."""
    return _REBUILD if is_file(url) else "drop its schema floorclock, it is only an index, then floorclock index --rebuild"


def no_driver(url: URL) -> ResourceError:
    """What to say when the driver of a server is not installed."""
    return ResourceError(f"the store {shown(url)} is on PostgreSQL, which needs its driver: pip install 'floorclock[postgres]'")


def _words(url: URL, trouble: BaseException | None, *, connecting: bool) -> str:
    said = _sqlite(trouble) if is_file(url) else _postgres(trouble, connecting=connecting)
    return f"the store {shown(url)} {said or f'cannot be used: {type(trouble).__name__}'}"


def _sqlite(trouble: BaseException | None) -> str | None:
    code = getattr(trouble, "sqlite_errorcode", None)
    return None if code is None else _SQLITE.get(code & 0xFF)


def _postgres(trouble: BaseException | None, *, connecting: bool) -> str | None:
    state = getattr(trouble, "sqlstate", None)
    if state is not None:
        return _SQLSTATES.get(state) or _STATE_CLASSES.get(state[:2]) or f"cannot be used: SQLSTATE {state}"
    if connecting:
        said = str(trouble)
        return next((words for sign, words in _SAID_BY_CLIENT if sign in said), _AWAY)
    return _AWAY if type(trouble).__name__ in ("OperationalError", "InterfaceError") else None
