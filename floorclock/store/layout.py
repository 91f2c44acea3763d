"""The layout of a store: makes it on first use, brings it forward from an earlier version, refuses what is not ours.

Invariant: whoever is handed a connection from here finds the tables of this version; two programs that open a new store at the
same time make it once. The library for migrations is loaded only where there is something to do (half a second).
"""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TYPE_CHECKING

from sqlalchemy import URL, Connection, insert, inspect, select, text

from floorclock.errors import ResourceError
from floorclock.store.driving import SCHEMA
from floorclock.store.tables import LAYOUT, LAYOUT_TABLE, sites
from floorclock.store.troubles import rebuild_words
from floorclock.store.urls import shown

if TYPE_CHECKING:
    from alembic.config import Config

_ONE_AT_A_TIME = 7_246_001
"""The number of the lock under which a layout is made in PostgreSQL. Any would do, as long as it is always the same."""


def site_number(connection: Connection, site: str) -> int | None:
    """The number of a site in a store of this version; None where the store or the site is still to be made."""
    if layout_of(connection) != LAYOUT:
        return None
    return connection.scalar(select(sites.c.site).where(sites.c.name == site))


def layout_of(connection: Connection) -> str | None:
    """The revision of a store; None where there is none."""
    if not inspect(connection).has_table(LAYOUT_TABLE):
        return None
    found: str | None = connection.scalar(text(f"SELECT version_num FROM {LAYOUT_TABLE}"))
    return found


def made_ready(connection: Connection, site: str, place: URL) -> int:
    """The number of a site, in a store that is made or brought forward if it is not there or not of this version.

    `connection` is in a transaction that writes. `place` is where the store is.

    Raises:
        ResourceError: it is no store of floorclock, or one of a newer version.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _ONE_AT_A_TIME})
        connection.execute(text("SET LOCAL statement_timeout TO 0"))
        connection.execute(text(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}"))
    found = layout_of(connection)
    if found is None and inspect(connection).get_table_names():
        raise ResourceError(f"the store {shown(place)} holds something else than classes of floorclock; name another one")
    if found != LAYOUT:
        bring_forward(connection, found, place)
    number = site_number(connection, site)
    if number is None:
        connection.execute(insert(sites).values(name=site))
        number = site_number(connection, site)
    assert number is not None
    return number


def bring_forward(connection: Connection, found: str | None, place: URL, to: str = LAYOUT) -> None:
    """Runs the revisions after `found`, in the transaction of the connection.

    Raises:
        ResourceError: this version does not know the revision that it finds.
    """
    from alembic import command
    from alembic.script import ScriptDirectory
    from alembic.util import CommandError

    with as_file(files("floorclock.store") / "migrations") as folder:
        config = settings(str(folder))
        config.attributes["connection"] = connection
        if found is not None:
            try:
                ScriptDirectory.from_config(config).get_revision(found)
            except CommandError:
                raise ResourceError(
                    f"the store {shown(place)} is of a newer floorclock: install that one, or {rebuild_words(place)}"
                ) from None
        command.upgrade(config, to)


def settings(folder: str) -> Config:
    """What alembic needs to know; there is no file of its settings."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", folder.replace("%", "%%"))
    return config
