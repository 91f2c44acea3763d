"""A file that is put in its place whole, on a disk that may die at any moment."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.files import replace_whole
from floorclock.journal.lock import ClassInUse, ClassLock
from floorclock.journal.whole import put_journal
from tests.journal.failing_disk import RefusingDisk
from tests.journal.test_whole import DyingDisk

OLD, NEW = b"old\n" * 50, b"new\n" * 70


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "20261125-1831-7f3a.jsonl"


def test_whenever_the_disk_dies_the_file_is_the_old_one_or_the_new_one(path: Path) -> None:
    refused = 0
    for deeds in range(60):
        path.write_bytes(OLD)
        disk = DyingDisk(path, deeds)
        try:
            replace_whole(path, NEW, disk)
        except OSError:
            refused += 1
        assert path.read_bytes() in (OLD, NEW)
        assert all(seen in (OLD, NEW) for seen in disk.seen)
        assert [found.name for found in path.parent.iterdir()] == [path.name]
        if disk.deeds >= 0:
            break
    assert path.read_bytes() == NEW
    assert path.stat().st_mode & 0o777 == 0o600
    assert refused > 5


def test_what_a_death_left_beside_it_counts_for_nothing(path: Path) -> None:
    path.with_suffix(".new").write_bytes(b"half of somethi")
    replace_whole(path, NEW)
    assert path.read_bytes() == NEW
    assert not path.with_suffix(".new").exists()


def test_a_journal_from_elsewhere_is_there_whole_or_not_at_all(path: Path) -> None:
    refused = 0
    for deeds in range(60):
        disk = DyingDisk(path, deeds)
        try:
            put_journal(path, NEW, disk)
        except ResourceError:
            refused += 1
            assert list(path.parent.iterdir()) == []
        if path.exists():
            break
    assert path.read_bytes() == NEW
    assert refused > 5
    with pytest.raises(WrongUsage, match="already"):
        put_journal(path, OLD)
    lock = ClassLock.take(path)
    with pytest.raises(ClassInUse):
        put_journal(path, OLD)
    lock.release()
    path.unlink()
    with pytest.raises(ResourceError, match="disk full"):
        put_journal(path, NEW, RefusingDisk(errno.ENOSPC))
