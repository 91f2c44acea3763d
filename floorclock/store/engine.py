"""An open store: where classes are put, and what the questions in `ask` are asked of.

Invariant: everything that goes through a store concerns its own site, and whatever a database refuses is raised as
`ResourceError` in plain words. A store may be used by several threads; each call has a connection of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from types import TracebackType
from typing import Self

from sqlalchemy import URL, Connection, Engine, text

from floorclock.errors import ResourceError
from floorclock.store import write
from floorclock.store.driving import WRITES, make_engine
from floorclock.store.layout import made_ready, site_number
from floorclock.store.rows import ClassRows, JournalMark
from floorclock.store.troubles import told_in_words
from floorclock.store.urls import file_of, is_file, read_url, shown


def open_store(url: str, site: str) -> Store:
    """Opens a store, made on first use and brought forward from an earlier version. Close it, or use it in a `with`.

    `url` is one of `store_url`, `site` the name of the gym in a store that several share.

    Raises:
        WrongUsage: the URL names no store.
        ResourceError: the store is locked, gone, read-only, full, damaged, of a newer version or no store at all.
    """
    place = read_url(url)
    engine = make_engine(place)
    try:
        with told_in_words(place):
            return Store(engine, place, site, _ready(engine, place, site))
    except BaseException:
        engine.dispose()
        raise


def _ready(engine: Engine, place: URL, site: str) -> int:
    with engine.connect() as connection:
        number = site_number(connection, site)
    if number is not None:
        return number
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        return made_ready(connection, site, place)


class Store:
    """The index of the classes of one site. `open_store` makes one."""

    def __init__(self, engine: Engine, place: URL, site: str, number: int) -> None:
        self.site = site
        self.number = number
        self._engine = engine
        self._place = place

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Lets go of the database."""
        self._engine.dispose()

    @property
    def shown(self) -> str:
        """The store as it is named to people, without a password."""
        return shown(self._place)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees the store at one moment.

        Raises:
            ResourceError: the database refuses.
        """
        options = {} if is_file(self._place) else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        with told_in_words(self._place), self._engine.connect().execution_options(**options) as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that writes; all of it or nothing.

        Raises:
            ResourceError: the database refuses.
        """
        if is_file(self._place) and not file_of(self._place).exists():
            # SQLite would go on writing into a file that nobody can find any more.
            raise ResourceError(f"the store {self.shown} was taken away")
        with (
            told_in_words(self._place),
            self._engine.connect().execution_options(**{WRITES: True}) as connection,
            connection.begin(),
        ):
            yield connection

    def put(self, rows: Iterable[ClassRows]) -> int:
        """Writes classes, each in the place of the one with the same id; how many. In batches, each in a transaction of its own.

        Raises:
            ResourceError: the database refuses.
        """
        count = batches = 0
        for batch in write.batches(rows):
            with self.writing() as connection:
                write.put_batch(connection, self.number, batch)
            count += len(batch)
            batches += 1
        if batches > 1 and not is_file(self._place):
            # A server that knows nothing of tables that were just filled looks things up in the wrong order.
            self._outside_transaction("ANALYZE " + ", ".join(table.fullname for table in write.GROWING))
        return count

    def drop(self, class_ids: Iterable[str]) -> int:
        """Takes classes out, and the names that only they had; how many classes there were.

        Raises:
            ResourceError: the database refuses.
        """
        with self.writing() as connection:
            return write.drop_classes(connection, self.number, class_ids)

    def marks(self, home: str | None = None) -> dict[str, JournalMark]:
        """Which journal each class was made from, by class id; of one data folder (`ClassRows.home`), or of all.

        Raises:
            ResourceError: the database refuses.
        """
        with self.reading() as connection:
            return write.read_marks(connection, self.number, home)

    def same(self, canonical: Mapping[str, str]) -> None:
        """Replaces who is the same person as whom: each name as written, to the name that counts. An empty one parts them all.

        Raises:
            ValueError: somebody is the same as themselves by way of others.
            ResourceError: the database refuses.
        """
        with self.writing() as connection:
            write.replace_same(connection, self.number, canonical)

    def clear(self, home: str | None = None) -> None:
        """Takes everything of this site out, or the classes of one data folder.

        Raises:
            ResourceError: the database refuses.
        """
        with self.writing() as connection:
            write.clear_site(connection, self.number, home)

    def scrub(self) -> None:
        """Leaves nothing of what was taken out in the files of the database: for when somebody wants to be forgotten.

        Raises:
            ResourceError: the database refuses, or somebody is using it.
        """
        if not is_file(self._place):
            self._outside_transaction("VACUUM (FULL, ANALYZE) person")
        elif self._outside_transaction("PRAGMA wal_checkpoint(TRUNCATE)"):
            raise ResourceError(f"the store {self.shown} is in use by another program; what was taken out may still be in it")

    def _outside_transaction(self, statement: str) -> int:
        """Runs a statement that no transaction may hold; the first number it answers with, 0 where it has no answer."""
        with told_in_words(self._place), self._engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            done = connection.execute(text(statement))
            return int(done.scalars().first() or 0) if done.returns_rows else 0
