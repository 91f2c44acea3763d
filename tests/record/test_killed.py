"""A class in a process of its own that is killed, and a disk that really is full."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from floorclock.record.journal import read_journal
from floorclock.record.lock import ClassInUse, is_open
from floorclock.record.writer import JournalWriter
from tests.record.killing import kill_at_random, start
from tests.record.sample_class import WALL, events_through
from tests.record.test_writer import Listener, append_through, begun

KILLS = 20
"""`tests/bench/journal_append.py` does a thousand."""


def test_no_acknowledged_event_is_lost_and_none_invented_however_often_the_class_is_killed(tmp_path: Path) -> None:
    acknowledged = 0
    for life in range(KILLS):
        # Five lives a class: each goes on where the one before was killed.
        path = tmp_path / f"20261125-1831-{life // 5:04x}.jsonl"
        death = kill_at_random(path, seed=life)
        assert (death.lost, death.invented, death.damaged) == (0, 0, 0)
        assert death.kept >= death.acknowledged
        acknowledged += death.acknowledged
    assert acknowledged > KILLS


def test_a_killed_class_is_open_again_within_a_second_and_its_lock_died_with_it(tmp_path: Path) -> None:
    path = tmp_path / "20261125-1831-7f3a.jsonl"
    process = start(path, seed=1)
    assert process.stdout is not None
    while b"300" not in process.stdout.readline():
        pass
    assert is_open(path)
    with pytest.raises(ClassInUse, match=rf"process {process.pid}\)"):
        JournalWriter.reopen(path, on_written=lambda *told: None)
    process.kill()
    process.communicate()
    begun_s = time.perf_counter()
    assert not is_open(path)
    writer = JournalWriter.reopen(path, on_written=lambda *told: None)
    assert time.perf_counter() - begun_s < 1.0
    assert writer.reading is not None
    assert len(writer.reading.events) >= 300
    writer.close()


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 KiB."""
    if os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("making a small disk takes the right to mount, which this machine does not give")
    folder = tmp_path / "small"
    folder.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)], capture_output=True, text=True)
    if made.returncode:
        pytest.skip(f"this machine does not let us mount a small disk: {made.stderr.strip()}")
    yield folder
    subprocess.run(["umount", "--lazy", str(folder)], check=True)


def fill(folder: Path) -> Path:
    """Takes all the room that is left."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while file.write(bytes(1_024)):
                pass
        except OSError:
            return filler
    raise AssertionError("the disk took everything")


def test_a_class_goes_on_while_its_disk_is_full_and_is_saved_whole_once_there_is_room(small_disk: Path) -> None:
    path = small_disk / "20261125-1831-7f3a.jsonl"
    listener = Listener()
    writer = begun(path, listener)
    append_through(writer, 1, 10)
    listener.wait_for_acks(10)
    filler = fill(small_disk)
    append_through(writer, 11, 200)
    listener.wait_for_acks(200)
    assert writer.trouble == "disk full"
    on_disk = read_journal(path)
    assert not on_disk.torn
    assert on_disk.events == events_through(len(on_disk.events))
    assert [seq for seq, durable in listener.acks if durable] == list(on_disk.seqs)
    writer.beat(7, WALL)
    filler.unlink()
    listener.wait_for_troubles("disk full", None)
    append_through(writer, 201, 210)
    assert writer.close() == 0
    assert read_journal(path).events == events_through(210)
    assert [seq for seq, _ in listener.acks] == list(range(1, 211))


def test_a_class_begins_on_a_full_disk_and_an_interrupted_one_opens_on_it(small_disk: Path) -> None:
    old = small_disk / "20261125-1831-0001.jsonl"
    first = begun(old, Listener())
    append_through(first, 1, 5)
    first.close()
    with old.open("ab") as file:
        file.write(b'{"v":1,"seq"')
    filler = fill(small_disk)
    new_ears, old_ears = Listener(), Listener()
    new = begun(small_disk / "20261125-1831-0002.jsonl", new_ears)
    again = JournalWriter.reopen(old, on_written=old_ears.written, on_trouble=old_ears.trouble, retry_s=0.01)
    append_through(new, 1, 3)
    append_through(again, 6, 8)
    new_ears.wait_for_acks(3)
    old_ears.wait_for_acks(3)
    assert new_ears.troubles[:1] == old_ears.troubles[:1] == ["disk full"]
    filler.unlink()
    new_ears.wait_for_troubles("disk full", None)
    old_ears.wait_for_troubles("disk full", None)
    assert (new.close(), again.close()) == (0, 0)
    assert read_journal(new.path).events == events_through(3)
    assert read_journal(old).events == events_through(8)
    assert old.with_suffix(".torn").read_bytes() == b'{"v":1,"seq"\n'
