"""Which store: the user's own file unless they name another.

Invariant: a password that stands in a URL is in no text that is shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from floorclock.errors import WrongUsage

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
