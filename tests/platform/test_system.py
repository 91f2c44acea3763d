"""What systems do differently: the real thing here, and the fallback where it is missing."""

from __future__ import annotations

import errno
import os
import signal
from pathlib import Path

import pytest

from floorclock.journal.files import new_file
from floorclock.platform import system


def test_a_lock_is_had_by_one_and_ends_with_its_file(tmp_path: Path) -> None:
    first, second = (os.open(tmp_path / "lock", os.O_RDWR | os.O_CREAT) for _ in range(2))
    assert system.lock(first)
    assert not system.lock(second)
    assert not system.lock(second, shared=True)
    os.close(first)
    assert system.lock(second)
    os.close(second)


def test_a_disk_without_links_gets_a_new_file_all_the_same_and_over_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stick with FAT knows no links: Linux answers EPERM."""

    def refuses(source: Path, target: Path) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuses)
    with new_file(tmp_path / "all.tar.gz") as file:
        file.write(b"records")
    assert (tmp_path / "all.tar.gz").read_bytes() == b"records"
    (tmp_path / "other").write_bytes(b"")
    with pytest.raises(FileExistsError):
        system.link_new(tmp_path / "other", tmp_path / "all.tar.gz")
    assert (tmp_path / "all.tar.gz").read_bytes() == b"records"


def test_a_beginning_is_written_over_in_place(tmp_path: Path) -> None:
    (tmp_path / "beat").write_bytes(b"0123456789")
    descriptor = os.open(tmp_path / "beat", os.O_RDWR)
    os.lseek(descriptor, 5, os.SEEK_SET)
    assert system.write_at_start(descriptor, b"abc") == 3
    os.close(descriptor)
    assert (tmp_path / "beat").read_bytes() == b"abc3456789"


def test_every_signal_that_asks_to_end_is_listened_to_where_a_loop_can() -> None:
    heard: list[int] = []
    system.on_stop(lambda: None, lambda number, stop: heard.append(number))
    assert heard == [signal.SIGTERM, signal.SIGHUP]

    def cannot(number: int, stop: object) -> None:
        raise NotImplementedError

    system.on_stop(lambda: None, cannot)


def test_a_terminal_that_is_closed_has_hung_up() -> None:
    master, terminal = os.openpty()
    assert not system.hung_up(terminal)
    os.close(master)
    assert system.hung_up(terminal)
    os.close(terminal)
