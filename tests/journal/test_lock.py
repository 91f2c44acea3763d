"""One floor a class, and what dead classes left beside their journals."""

from __future__ import annotations

import errno
import fcntl
import os
import threading
from pathlib import Path

import pytest

from floorclock.errors import ResourceError
from floorclock.journal.beat import Beat, beat_path, write_beat
from floorclock.journal.lock import ClassInUse, ClassLock, is_open, tidy
from floorclock.journal.reading import read_journal
from tests.journal.sample_class import WALL, events_through, journal_at, journal_bytes, names_in


def test_whoever_comes_second_is_told_who_came_first(path: Path) -> None:
    with ClassLock.take(path), pytest.raises(ClassInUse) as refused:
        ClassLock.take(path)
    assert refused.value.pid == os.getpid()
    assert refused.value.exit_status == 3
    assert str(refused.value) == f"class 20261125-1831-7f3a is open in another floor (process {os.getpid()})"


def test_a_class_let_go_is_free_and_leaves_nothing_behind(path: Path) -> None:
    lock = ClassLock.take(path)
    lock.release()
    lock.release()
    assert not is_open(path)
    assert list(path.parent.iterdir()) == []
    ClassLock.take(path).release()


def test_a_lock_file_that_a_dead_process_left_is_no_lock(path: Path) -> None:
    for content in (b"4194304\n", b"", b"\0\xff", b"9" * 5_000):
        path.with_suffix(".lock").write_bytes(content)
        assert not is_open(path)
        ClassLock.take(path).release()


def test_a_lock_whose_file_was_taken_away_knows_it_and_takes_no_other_ones_file_with_it(path: Path) -> None:
    first = ClassLock.take(path)
    assert first.is_in_place()
    path.with_suffix(".lock").unlink()
    assert not first.is_in_place()
    second = ClassLock.take(path)
    first.release()
    assert second.is_in_place()
    assert is_open(path)
    second.release()
    assert not second.is_in_place()


def test_a_holder_that_nobody_could_name_is_refused_all_the_same(path: Path) -> None:
    lock = ClassLock.take(path)
    for content in (b"", b"\0\xff", b"words"):
        path.with_suffix(".lock").write_bytes(content)
        with pytest.raises(ClassInUse, match=r"another floor$"):
            ClassLock.take(path)
    lock.release()


def test_looking_whether_a_class_is_open_keeps_nobody_out(path: Path) -> None:
    descriptor = os.open(path.with_suffix(".lock"), os.O_RDWR | os.O_CREAT)
    fcntl.flock(descriptor, fcntl.LOCK_SH)
    looking = threading.Timer(0.03, os.close, [descriptor])
    looking.start()
    ClassLock.take(path).release()
    looking.join()


def test_a_file_that_was_taken_away_just_now_is_not_mistaken_for_the_lock(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The file is unlinked between opening and locking it; the lock must be on the one that others will find."""
    flock = fcntl.flock
    unlinked: list[Path] = []

    def unlinks_first(descriptor: int, kind: int) -> None:
        if not unlinked:
            unlinked.append(path.with_suffix(".lock"))
            unlinked[0].unlink()
        flock(descriptor, kind)

    monkeypatch.setattr(fcntl, "flock", unlinks_first)
    lock = ClassLock.take(path)
    assert unlinked
    assert is_open(path)
    lock.release()


def test_a_disk_that_knows_no_locks_is_a_lack_of_the_machine(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(descriptor: int, kind: int) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(fcntl, "flock", refuses)
    with pytest.raises(ResourceError, match="cannot lock files") as refused:
        ClassLock.take(path)
    assert not isinstance(refused.value, ClassInUse)


def test_the_first_instant_of_a_class_that_never_came_to_be_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.lock").write_bytes(b"1\n")
    (tmp_path / "b.new").write_bytes(journal_bytes(0))
    (tmp_path / "b.lock").write_bytes(b"")
    (tmp_path / "c.new").write_bytes(journal_bytes(0)[:70])
    write_beat(tmp_path / "d.beat", Beat(5, WALL))
    tidy(tmp_path)
    assert names_in(tmp_path) == []
    tidy(tmp_path / "gone")


def test_what_belongs_to_a_journal_or_holds_events_or_is_something_else_stays(tmp_path: Path) -> None:
    path = journal_at(tmp_path / "a.jsonl", 3)
    write_beat(beat_path(path), Beat(5, WALL))
    (tmp_path / "b.new").write_bytes(journal_bytes(3))
    for name in ("a.torn", "c.torn", "notes.txt"):
        (tmp_path / name).write_bytes(b"half\n")
    before = names_in(tmp_path)
    tidy(tmp_path)
    assert names_in(tmp_path) == before
    assert read_journal(tmp_path / "b.new").events == events_through(3)


def test_a_class_that_is_about_to_have_its_journal_keeps_its_lock(path: Path) -> None:
    with ClassLock.take(path):
        path.with_suffix(".new").write_bytes(journal_bytes(0)[:70])
        tidy(path.parent)
        assert len(names_in(path.parent)) == 2
        assert is_open(path)
