"""The layout of a store: made once, brought forward from every earlier one, refused where it is not ours."""

from __future__ import annotations

import gzip
import multiprocessing
import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from floorclock.errors import ResourceError
from floorclock.store import ask, layout
from floorclock.store.driving import SCHEMA, WRITES, make_engine
from floorclock.store.engine import open_store
from floorclock.store.tables import LAYOUT, LAYOUT_TABLE, metadata
from floorclock.store.urls import read_url
from tests.store import first_layout
from tests.store.sample_rows import a_class, in_key_order

MIGRATIONS = Path(layout.__file__).parent / "migrations"


def test_the_newest_revision_is_the_layout_of_this_version() -> None:
    script = ScriptDirectory.from_config(layout.settings(str(MIGRATIONS)))
    assert script.get_heads() == [LAYOUT]
    assert [one.revision for one in script.walk_revisions()] == ["0002", "0001"]


def test_what_the_revisions_make_is_what_the_tables_say(fresh_url: str, site: str) -> None:
    with open_store(fresh_url, site) as store, store.reading() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": LAYOUT_TABLE, "compare_server_default": True})
        assert compare_metadata(context, metadata) == []


def test_the_big_tables_of_a_file_are_kept_in_the_order_of_their_key(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite3"
    open_store(f"sqlite:///{path}", "home").close()
    with sqlite3.connect(path) as connection:
        made = dict(connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'"))
    connection.close()
    assert all("WITHOUT ROWID" in made[name] for name in ("split", "pace", "attendance", "station", "result"))


def test_a_file_of_the_first_layout_is_brought_forward_with_all_that_is_in_it(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite3"
    path.write_bytes(gzip.decompress(first_layout.FILE.read_bytes()))
    check_brought_forward(f"sqlite:///{path}")


def test_a_database_of_the_first_layout_is_brought_forward_with_all_that_is_in_it(fresh_url: str) -> None:
    engine = make_engine(read_url(fresh_url))
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        if connection.dialect.name == "postgresql":
            connection.execute(text(f"CREATE SCHEMA {SCHEMA}"))
        first_layout.write_first(connection)
    engine.dispose()
    check_brought_forward(fresh_url)


def check_brought_forward(url: str) -> None:
    with open_store(url, first_layout.SITE) as store:
        facts = ask.class_facts(store, first_layout.CLASS_ID)
        assert facts is not None
        assert facts.line.started.isoformat() == "2026-03-03T18:30:00+01:00"
        assert facts.line.forgotten == 0
        assert [(row.part_title, row.athletes, row.runs_out) for row in facts.stations] == [("The harbour", 2, 0)]
        assert [row.amount for row in ask.splits_of(store, first_layout.CLASS_ID)] == [12, 12.5]
        assert [line.spellings for line in ask.athletes(store)] == [("Ilca",)]
        # Every class is read again: no journal has such a mark.
        assert [mark.size for mark in store.marks().values()] == [-1]
        again = a_class(1, "Ilka", id=first_layout.CLASS_ID)
        store.put([again])
        assert ask.class_rows(store, first_layout.CLASS_ID) == in_key_order(again)


def test_a_store_of_a_newer_version_is_refused_with_what_to_do(fresh_url: str, site: str) -> None:
    with open_store(fresh_url, site) as store, store.writing() as connection:
        connection.execute(text(f"UPDATE {LAYOUT_TABLE} SET version_num = '0999'"))
    with pytest.raises(ResourceError, match=r"newer floorclock: install that one, or .*index --rebuild"):
        open_store(fresh_url, site)


def test_a_file_with_tables_of_another_program_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite3"
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.close()
    with pytest.raises(ResourceError, match="something else than classes of floorclock"):
        open_store(f"sqlite:///{path}", "home")
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT name FROM sqlite_master").fetchall() == [("recipes",)]
    connection.close()


def open_and_put(url: str, number: int, told: multiprocessing.SimpleQueue[str]) -> None:
    try:
        with open_store(url, f"site {number % 2}") as store:
            store.put([a_class(number, "Ilka")])
        told.put("")
    except BaseException as error:
        told.put(f"{type(error).__name__}: {error}")
        raise


def test_programs_that_open_a_new_store_at_the_same_time_make_it_once(fresh_url: str) -> None:
    context = multiprocessing.get_context("spawn")
    told = context.SimpleQueue()
    programs = [context.Process(target=open_and_put, args=(fresh_url, number, told)) for number in range(3)]
    for program in programs:
        program.start()
    for program in programs:
        program.join(timeout=60)
    assert [told.get() for _ in programs] == [""] * 3
    for number in range(2):
        with open_store(fresh_url, f"site {number}") as store:
            assert len(ask.classes(store)) == 2 - number
