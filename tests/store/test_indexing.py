"""A store that is brought up to date, and one that is made anew: the same in the end, on SQLite and on PostgreSQL."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from floorclock.errors import ResourceError
from floorclock.journal.lock import ClassLock
from floorclock.people import merge, undo
from floorclock.store import indexing
from floorclock.store.indexing import Indexed, bring_up_to_date, home_mark, rebuild
from floorclock.store.rows import ClassRows, JournalMark, class_rows
from floorclock.store.store import Store, open_store
from tests.store.content import content
from tests.store.sample_journals import NO_PLAN, put_journal


@pytest.fixture
def other(url: str, site: str) -> Iterator[Store]:
    """A second site of the same database."""
    with open_store(url, f"{site} other") as opened:
        yield opened


def ids(count: int) -> list[str]:
    return [f"202611{day:02d}-1831-{day:04x}" for day in range(1, count + 1)]


def put(home: Path, count: int) -> list[Path]:
    """So many journals, each of a class of its own."""
    return [put_journal(home, one, seed) for seed, one in enumerate(ids(count), start=1)]


def test_what_is_new_changed_and_gone_is_noticed_and_nothing_else_is_read(
    home: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, _ = put(home, 2)
    assert bring_up_to_date(home, store) == Indexed(added=2)
    _, second, third = ids(3)
    put_journal(home, second, 4)
    put_journal(home, third, 3)
    first.unlink()
    assert bring_up_to_date(home, store) == Indexed(added=1, changed=1, dropped=1)
    assert store.marks(home_mark(home)).keys() == {second, third}

    def never(path: str) -> None:
        raise AssertionError(f"{path} was read")

    monkeypatch.setattr(indexing, "_steady", never)
    assert bring_up_to_date(home, store) == Indexed()


@pytest.mark.parametrize("seed", range(6))
def test_whatever_came_in_whatever_order_a_store_made_anew_holds_the_same(
    home: Path, store: Store, other: Store, seed: int
) -> None:
    draw = random.Random(seed)
    for _ in range(8):
        one = draw.choice(ids(6))
        path = home / "classes" / f"{one}.jsonl"
        what = draw.random()
        if what < 0.2 and path.exists():
            path.unlink()
        elif what < 0.3:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(b"nothing of a class\n")
        else:
            text = {"session_text": NO_PLAN} if what > 0.9 else {}
            put_journal(home, one, draw.randrange(40), rehearsal=draw.random() < 0.2, **text)
        if draw.random() < 0.3:
            merge(home, "Bråm", "Ilka")
            bring_up_to_date(home, store)
            undo(home, "Bråm")
        bring_up_to_date(home, store)
    merge(home, "Нура", "Ilka")
    bring_up_to_date(home, store)
    rebuild(home, other)
    assert content(store) == content(other)
    rebuild(home, store)
    assert content(store) == content(other)
    assert replace(bring_up_to_date(home, store), damaged=0) == Indexed()


def test_several_processes_make_the_store_that_one_makes(home: Path, store: Store, other: Store) -> None:
    put(home, 12)
    told: list[tuple[int, int]] = []
    assert rebuild(home, store, progress=lambda *far: told.append(far), processes=2) == Indexed(added=12)
    assert rebuild(home, other, processes=0) == Indexed(added=12)
    assert content(store) == content(other)
    assert told[-1] == (12, 12)
    assert told == sorted(told)


def test_rebuilding_touches_no_other_data_folder_and_takes_over_a_class_it_holds_itself(
    home: Path, tmp_path: Path, store: Store
) -> None:
    one, two, three = ids(3)
    elsewhere = tmp_path / "elsewhere"
    put_journal(home, one, 1)
    put_journal(elsewhere, two, 2)
    put_journal(elsewhere, three, 3)
    bring_up_to_date(elsewhere, store)
    bring_up_to_date(home, store)
    before = content(store)
    rebuild(home, store)
    assert content(store) == before
    put_journal(home, two, 5)
    rebuild(home, store)
    assert store.marks(home_mark(home)).keys() == {one, two}
    assert store.marks(home_mark(elsewhere)).keys() == {three}


def test_a_copy_of_a_class_in_two_folders_is_not_taken_to_and_fro(home: Path, tmp_path: Path, store: Store) -> None:
    copy = tmp_path / "copy"
    (path,) = put(home, 1)
    bring_up_to_date(home, store)
    shutil.copytree(path.parent, copy / "classes", copy_function=shutil.copy)
    assert bring_up_to_date(copy, store) == Indexed()
    assert bring_up_to_date(home, store) == Indexed()
    path.unlink()
    assert bring_up_to_date(home, store) == Indexed(dropped=1)
    assert bring_up_to_date(copy, store) == Indexed(added=1)


def test_a_class_that_runs_is_left_for_later(home: Path, store: Store) -> None:
    path, _ = put(home, 2)
    lock = ClassLock.take(path)
    assert bring_up_to_date(home, store) == Indexed(added=1, running=1)
    assert rebuild(home, store) == Indexed(added=1, running=1)
    lock.release()
    assert bring_up_to_date(home, store) == Indexed(added=1)


def test_a_journal_that_changes_while_it_is_read_is_left_for_later(
    home: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    (path,) = put(home, 1)
    real = os.fstat
    grown = iter(range(100))

    def restless(descriptor: int) -> os.stat_result:
        if os.path.samestat(real(descriptor), path.stat()):
            os.utime(path, ns=(0, next(grown)))
        return real(descriptor)

    with monkeypatch.context() as patched:
        patched.setattr("os.fstat", restless)
        assert bring_up_to_date(home, store) == Indexed(running=1)
    assert bring_up_to_date(home, store) == Indexed(added=1)


def test_a_journal_the_disk_does_not_give_costs_no_other_one(home: Path, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    first, _ = put(home, 2)
    real = indexing._steady

    def broken(path: str) -> object:
        if path == str(first):
            raise OSError(5, "the disk does not work")
        return real(path)

    monkeypatch.setattr(indexing, "_steady", broken)
    assert bring_up_to_date(home, store) == Indexed(added=1, damaged=1)


def test_a_file_larger_than_any_class_is_not_read(home: Path, store: Store) -> None:
    _, second = put(home, 2)
    with second.open("wb") as huge:
        # Two gigabytes of nothing, which take no room on the disk.
        huge.truncate(1 << 31)
    assert bring_up_to_date(home, store) == Indexed(added=1, damaged=1)


def test_a_journal_that_tells_of_no_class_any_more_goes_out_of_the_store(home: Path, store: Store) -> None:
    path, other = put(home, 2)
    bring_up_to_date(home, store)
    path.write_bytes(b"{}\n")
    assert bring_up_to_date(home, store) == Indexed(dropped=1, damaged=1)
    path.write_bytes(b'{"v":1')
    assert bring_up_to_date(home, store) == Indexed()
    assert store.marks().keys() == {other.stem}


def test_a_folder_without_classes_gives_an_empty_store_and_one_that_cannot_be_read_empties_none(
    home: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert bring_up_to_date(home, store) == rebuild(home, store) == Indexed()
    put(home, 1)
    bring_up_to_date(home, store)

    def refused(path: object) -> None:
        raise PermissionError(13, "no")

    monkeypatch.setattr("os.scandir", refused)
    for make in (bring_up_to_date, rebuild):
        with pytest.raises(ResourceError, match="cannot be read: no right"):
            make(home, store)
    assert len(store.marks()) == 1


def test_who_is_who_follows_the_register_and_is_written_only_where_it_changed(
    home: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(home, 1)
    merge(home, "Bråm", "Ilka")
    bring_up_to_date(home, store)
    assert ("Bråm", "Bråm", "Ilka") in content(store)["person"]

    with monkeypatch.context() as patched:
        patched.setattr(Store, "writing", lambda self: pytest.fail("written again"))
        bring_up_to_date(home, store)
    undo(home, "Bråm")
    bring_up_to_date(home, store)
    assert ("Bråm", "Bråm", None) in content(store)["person"]


def test_stopped_half_way_the_store_is_whole_and_can_be_completed(
    home: Path, store: Store, other: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(home, 12)
    monkeypatch.setattr(indexing, "AT_ONCE", 4)

    def stop(read: int, total: int) -> None:
        if read > 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        rebuild(home, store, progress=stop, processes=1)
    held = content(store)
    assert 0 < len(held["class"]) < 12
    rebuild(home, other)
    for table, rows in held.items():
        assert set(rows) <= set(content(other)[table])
    bring_up_to_date(home, store)
    assert content(store) == content(other)


def test_a_locked_store_is_told_in_words(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(home, 1)
    path = tmp_path / "locked.sqlite3"
    monkeypatch.setattr("floorclock.store.connection.WAIT_MS", 100)
    with open_store(f"sqlite:///{path}", "home") as store, closing(sqlite3.connect(path, isolation_level=None)) as somebody:
        somebody.execute("BEGIN IMMEDIATE")
        for make in (bring_up_to_date, rebuild):
            with pytest.raises(ResourceError, match="in use by another program"):
                make(home, store)
        somebody.execute("ROLLBACK")
        assert bring_up_to_date(home, store) == Indexed(added=1)


def die(journal: indexing.Journal) -> indexing.Answer:
    """Stands in for the reading in another process."""
    os._exit(1)


def test_processes_that_die_cost_no_class(home: Path, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    put(home, 6)
    real = ProcessPoolExecutor.submit
    monkeypatch.setattr(ProcessPoolExecutor, "submit", lambda pool, _, journal: real(pool, die, journal))
    assert rebuild(home, store, processes=2) == Indexed(added=6)
    assert len(store.marks()) == 6


def test_a_class_that_the_store_cannot_hold_costs_no_other_one(home: Path, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two, three = put(home, 3)

    def too_large(data: bytes, class_id: str, **known: Any) -> ClassRows | None:
        rows = class_rows(data, class_id, **known)
        return replace(rows, mark=JournalMark(size=2**70, mtime_ns=0)) if rows is not None and class_id == two.stem else rows

    monkeypatch.setattr(indexing, "class_rows", too_large)
    assert bring_up_to_date(home, store) == Indexed(added=2, damaged=1)
    assert store.marks().keys() == {one.stem, three.stem}


def test_only_the_newest_are_read_where_so_many_are_asked_for(home: Path, store: Store) -> None:
    put(home, 5)
    assert bring_up_to_date(home, store, most=2) == Indexed(added=2)
    assert store.marks().keys() == set(ids(5)[3:])
    assert bring_up_to_date(home, store) == Indexed(added=3)


def test_a_rebuild_that_is_killed_leaves_no_process_behind_and_is_taken_up_again(home: Path, store: Store, url: str) -> None:
    put(home, 25)
    first = subprocess.Popen(
        [sys.executable, "-m", "tests.store.killed_rebuild", str(home), url],
        stdout=subprocess.PIPE,
        text=True,
        stderr=subprocess.DEVNULL,
    )
    assert first.stdout is not None
    workers = first.stdout.readline().split()
    first.kill()
    # The end of the output comes when the last process that can write to it has gone.
    assert first.communicate(timeout=60)[0] == ""
    assert len(workers) == 2
    bring_up_to_date(home, store)
    assert len(store.marks()) == 25
