"""A disk that really is full, read-only, or pulled out."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from floorclock.journal.beat import Beat
from floorclock.journal.lock import ClassInUse, is_open
from floorclock.journal.reading import read_journal
from floorclock.journal.writer import JournalWriter
from tests.journal.sample_class import WALL, events_through, journal_at
from tests.journal.test_writer import Listener, append_through, begun


def mount(*arguments: str) -> None:
    done = subprocess.run(["mount", *arguments], capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip(f"this machine does not let us mount a small disk: {done.stderr.strip()}")


@contextlib.contextmanager
def mounted(folder: Path, *arguments: str) -> Iterator[None]:
    """Something mounted at a folder, and pulled out from there in the end, whoever uses it."""
    mount(*arguments, str(folder))
    try:
        yield
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 KiB that is really there, in memory."""
    if os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("making a small disk takes the right to mount, which this machine does not give")
    folder = tmp_path / "small"
    folder.mkdir()
    with mounted(folder, "-t", "tmpfs", "-o", "size=64k", "tmpfs"):
        yield folder


def make_read_only(folder: Path, *, read_only: bool = True) -> None:
    """Turns a small disk read-only, or back. Nothing may be open for writing on it."""
    mount("-o", f"remount,{'ro' if read_only else 'rw'}", str(folder))


def fill(folder: Path) -> Path:
    """Takes all the room that is left; remove the file that this gives to make room again."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while file.write(bytes(1_024)):
            pass
        raise AssertionError("the disk took everything")
    return filler


def test_a_class_goes_on_while_its_disk_is_full_and_is_saved_whole_once_there_is_room(disk: Path) -> None:
    path = disk / "20261125-1831-7f3a.jsonl"
    writer, listener = begun(path)
    append_through(writer, 1, 10)
    listener.wait_for_acks(10)
    filler = fill(disk)
    append_through(writer, 11, 200)
    listener.wait_for_acks(200)
    assert writer.trouble == "disk full"
    on_disk = read_journal(path)
    assert not on_disk.torn
    assert on_disk.events == events_through(len(on_disk.events))
    assert [seq for seq, durable in listener.acks if durable] == list(on_disk.seqs)
    writer.beat(Beat(7, WALL))
    filler.unlink()
    listener.wait_for_troubles("disk full", None)
    append_through(writer, 201, 210)
    assert writer.close() == 0
    assert read_journal(path).events == events_through(210)
    assert [seq for seq, _ in listener.acks] == list(range(1, 211))


def test_an_interrupted_class_goes_on_on_a_read_only_disk_and_is_saved_and_locked_once_it_is_not(disk: Path) -> None:
    path = journal_at(disk / "20261125-1831-7f3a.jsonl", 5)
    # The lock that a dead floor left keeps two floors apart all the same.
    path.with_suffix(".lock").write_bytes(b"1\n")
    make_read_only(disk)
    ears = Listener()
    try:
        writer = JournalWriter.reopen(path, on_written=ears.written, on_trouble=ears.trouble, retry_s=0.01)
        append_through(writer, 6, 8)
        ears.wait_for_acks(3)
        assert ears.acks == [(6, False), (7, False), (8, False)]
        assert ears.troubles == ["the disk is read-only"]
        with pytest.raises(ClassInUse):
            JournalWriter.reopen(path, on_written=lambda *told: None)
    finally:
        make_read_only(disk, read_only=False)
    ears.wait_for_troubles("the disk is read-only", None)
    append_through(writer, 9, 9)
    ears.wait_for_acks(4)
    assert is_open(path)
    assert writer.close() == 0
    assert read_journal(path).events == events_through(9)


def test_a_disk_that_is_pulled_out_is_waited_for_and_nothing_is_put_in_its_empty_place(disk: Path, tmp_path: Path) -> None:
    (disk / "home" / "classes").mkdir(parents=True)
    home = tmp_path / "stick"
    home.mkdir()
    path = home / "classes" / "20261125-1831-7f3a.jsonl"
    with mounted(home, "--bind", str(disk / "home")):
        writer, ears = begun(path)
        append_through(writer, 1, 3)
        ears.wait_for_acks(3)
    append_through(writer, 4, 5)
    ears.wait_for_acks(5)
    assert ears.acks[3:] == [(4, False), (5, False)]
    (home / "classes").mkdir()
    append_through(writer, 6, 6)
    ears.wait_for_acks(6)
    assert list((home / "classes").iterdir()) == []
    with mounted(home, "--bind", str(disk / "home")):
        ears.wait_for_last_trouble(None)
        append_through(writer, 7, 7)
        assert writer.close() == 0
        assert read_journal(path).events == events_through(7)
