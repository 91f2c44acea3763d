"""The tables of a store: made once, made anew where they are of an earlier version, refused where they are not ours."""

from __future__ import annotations

import gzip
import itertools
import multiprocessing
import os
import signal
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import Engine, event, inspect, text

from floorclock.errors import ResourceError
from floorclock.store.connection import SCHEMA, WRITES, make_engine, read_url
from floorclock.store.questions import class_ids, class_rows
from floorclock.store.schema import LAYOUT, metadata
from floorclock.store.store import open_store
from tests.store.sample_rows import a_class, in_key_order

FIRST = Path(__file__).with_name("first.sqlite3.gz")
"""The store of an early build, filled. It stands for the stores that are out there, whatever the program of today would write."""


def test_the_big_tables_of_a_file_are_kept_in_the_order_of_their_key(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite3"
    open_store(f"sqlite:///{path}", "home").close()
    with sqlite3.connect(path) as connection:
        made = dict(connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'"))
    connection.close()
    assert all("WITHOUT ROWID" in made[name] for name in ("split", "pace", "attendance", "station", "result", "lift"))


def test_a_file_of_an_earlier_version_is_made_anew_and_nothing_of_it_is_left(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite3"
    path.write_bytes(gzip.decompress(FIRST.read_bytes()))
    assert b"Ilca" in path.read_bytes()
    check_made_anew(f"sqlite:///{path}")
    assert b"Ilca" not in path.read_bytes()


def test_a_database_of_an_earlier_version_is_made_anew_with_partitions_and_all(fresh_url: str) -> None:
    open_store(fresh_url, "home").close()
    engine = make_engine(read_url(fresh_url))
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        connection.execute(text("UPDATE layout SET version_num = '0001'"))
        connection.execute(text("DROP TABLE pace"))
        if connection.dialect.name == "postgresql":
            connection.execute(text("CREATE TABLE pace (site integer, forgotten integer) PARTITION BY HASH (site)"))
            connection.execute(text("CREATE TABLE pace_00 PARTITION OF pace FOR VALUES WITH (MODULUS 1, REMAINDER 0)"))
    engine.dispose()
    check_made_anew(fresh_url)


def die_at(number: int, url: str) -> None:
    """Opens a store, and is killed before that of its statements and commits."""
    steps = itertools.count(1)

    def step(*_: object) -> None:
        if next(steps) == number:
            os.kill(os.getpid(), signal.SIGKILL)

    for moment in ("before_cursor_execute", "commit"):
        event.listen(Engine, moment, step)
    open_store(url, "home").close()


def test_whoever_is_killed_while_a_store_is_made_anew_leaves_it_old_or_new(fresh_url: str) -> None:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.store.test_layout"])
    for number in itertools.count(1, 6):
        with open_store(fresh_url, "home") as store:
            store.put([a_class(8, "Ilca")])
            with store.writing() as connection:
                connection.execute(text("UPDATE layout SET version_num = '0001'"))
        process = context.Process(target=die_at, args=(number, fresh_url))
        process.start()
        process.join(timeout=60)
        check_made_anew(fresh_url)
        if process.exitcode == 0:
            break
        assert process.exitcode == -signal.SIGKILL
    assert number > 20


def check_made_anew(url: str) -> None:
    with open_store(url, "home") as store:
        assert class_ids(store) == ()
        with store.reading() as connection:
            assert connection.scalar(text("SELECT version_num FROM layout")) == LAYOUT
            assert set(inspect(connection).get_table_names()) == set(metadata.tables)
        store.put([a_class(7, "Ilka")])
        assert class_rows(store, a_class(7).id) == in_key_order(a_class(7, "Ilka"))
    with open_store(url, "home") as again:
        assert len(class_ids(again)) == 1


def test_a_store_of_a_newer_version_is_refused_and_left_alone(fresh_url: str, site: str) -> None:
    with open_store(fresh_url, site) as store:
        store.put([a_class(1, "Ilka")])
        with store.writing() as connection:
            connection.execute(text("UPDATE layout SET version_num = '0999'"))
    with pytest.raises(ResourceError, match=r"newer floorclock: install that one, or .*index --rebuild"):
        open_store(fresh_url, site)
    engine = make_engine(read_url(fresh_url))
    with engine.connect() as connection:
        schema = f"{SCHEMA}." if connection.dialect.name == "postgresql" else ""
        assert connection.scalar(text(f"SELECT count(*) FROM {schema}class")) == 1
    engine.dispose()


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
            assert len(class_ids(store)) == 2 - number
