"""A class that is recorded after it is over: all of it, or nothing."""

from __future__ import annotations

import errno
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from floorclock.clock.events import Event
from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.lock import ClassInUse, ClassLock
from floorclock.journal.reading import read_journal
from floorclock.journal.whole import write_whole
from tests.journal.failing_disk import DyingDisk, RefusingDisk
from tests.journal.sample_class import WALL, events_through, journal_bytes, sample_header


def told(count: int) -> list[tuple[Event, datetime]]:
    return [(event, WALL + timedelta(seconds=seq)) for seq, event in enumerate(events_through(count), start=1)]


def test_a_whole_class_is_the_journal_that_a_floor_would_have_written(path: Path) -> None:
    write_whole(path, sample_header(), told(30))
    assert path.read_bytes() == journal_bytes(30)
    assert read_journal(path).events == events_through(30)
    assert path.stat().st_mode & 0o777 == 0o600
    assert [found.name for found in path.parent.iterdir()] == [path.name]


def test_whenever_the_disk_dies_the_journal_is_whole_or_not_there(path: Path) -> None:
    whole = journal_bytes(30)
    refused = 0
    for deeds in range(60):
        disk = DyingDisk(path, deeds)
        try:
            write_whole(path, sample_header(), told(30), disk)
        except ResourceError:
            refused += 1
            assert list(path.parent.iterdir()) == []
        assert all(seen == whole for seen in disk.seen)
        if path.exists():
            break
    assert path.read_bytes() == whole
    assert refused > 5


def test_a_disk_that_is_full_leaves_nothing_behind(path: Path) -> None:
    with pytest.raises(ResourceError, match="was not recorded: disk full"):
        write_whole(path, sample_header(), told(3), RefusingDisk(errno.ENOSPC))
    assert list(path.parent.iterdir()) == []


def test_a_journal_that_is_there_is_never_written_over(path: Path) -> None:
    path.write_bytes(journal_bytes(3))
    with pytest.raises(WrongUsage, match="there is a journal"):
        write_whole(path, sample_header(), told(5))
    assert path.read_bytes() == journal_bytes(3)
    with ClassLock.take(path), pytest.raises(ClassInUse):
        write_whole(path, sample_header(), told(5))
