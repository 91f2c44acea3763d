"""Disks that fail on purpose, and forget what was never forced onto them."""

from __future__ import annotations

import errno
import os
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Literal

from floorclock.journal.disk import Disk

Fate = Literal["works", "short", "full", "fails"]


def refusal(number: int) -> OSError:
    """The error that the system gives for a number."""
    return OSError(number, os.strerror(number))


class FailingDisk(Disk):
    """A real disk whose next operations go as `fates` says, and which then works.

    `durable` is what a dead battery would leave of the journal: the bytes that a sync confirmed. A failed sync throws away
    what it should have written, as kernels do, while reading the file still shows it.
    """

    def __init__(self, fates: Iterator[Fate]) -> None:
        self.durable = bytearray()
        self._fates = fates
        self._unsynced: list[Callable[[], None]] = []

    def open(self, path: Path) -> int:
        if self._fate() in ("full", "fails"):
            raise refusal(errno.EROFS)
        if not path.exists():
            self.durable.clear()
            self._unsynced.clear()
        return super().open(path)

    def write(self, descriptor: int, data: memoryview) -> int:
        fate = self._fate()
        if fate == "full":
            raise refusal(errno.ENOSPC)
        if fate == "fails":
            # Some of it got there all the same.
            self._write(descriptor, data[: len(data) // 3])
            raise refusal(errno.EIO)
        return self._write(descriptor, data[: max(1, len(data) // 2)] if fate == "short" else data)

    def sync(self, descriptor: int) -> None:
        fate = self._fate()
        if fate in ("full", "fails"):
            self._unsynced.clear()
            raise refusal(errno.EIO)
        for change in self._unsynced:
            change()
        self._unsynced.clear()

    def truncate(self, descriptor: int, length: int) -> None:
        if self._fate() in ("full", "fails"):
            raise refusal(errno.EIO)
        super().truncate(descriptor, length)
        self._unsynced.append(lambda: self._cut(length))

    def _fate(self) -> Fate:
        return next(self._fates, "works")

    def _write(self, descriptor: int, data: memoryview) -> int:
        start, kept = os.fstat(descriptor).st_size, bytes(data)
        written = super().write(descriptor, data)
        self._unsynced.append(lambda: self._put(start, kept))
        return written

    def _put(self, start: int, data: bytes) -> None:
        self.durable.extend(bytes(max(0, start - len(self.durable))))
        self.durable[start : start + len(data)] = data

    def _cut(self, length: int) -> None:
        del self.durable[length:]


class RefusingDisk(Disk):
    """A disk that refuses every write with one error while `error` is set."""

    def __init__(self, error: int | None = None) -> None:
        self.error = error

    def write(self, descriptor: int, data: memoryview) -> int:
        if self.error is not None:
            super().write(descriptor, data[:7])
            raise refusal(self.error)
        return super().write(descriptor, data)


class DyingDisk(Disk):
    """A disk that is gone at its n-th deed; until then it takes note of what could be seen of the journal."""

    def __init__(self, path: Path, deeds: int) -> None:
        self.path, self.deeds = path, deeds
        self.seen: list[bytes] = []

    def _deed(self) -> None:
        if self.path.exists():
            self.seen.append(self.path.read_bytes())
        self.deeds -= 1
        if self.deeds < 0:
            raise refusal(errno.EIO)

    def open(self, path: Path) -> int:
        self._deed()
        return super().open(path)

    def write(self, descriptor: int, data: memoryview) -> int:
        self._deed()
        return super().write(descriptor, data[: max(1, len(data) // 3)])

    def sync(self, descriptor: int) -> None:
        self._deed()
        super().sync(descriptor)

    def sync_folder(self, folder: Path) -> None:
        self._deed()
        super().sync_folder(folder)


class HeldDisk(Disk):
    """A disk that is busy with its first sync until it is let go; `writes` are the lines of each write."""

    def __init__(self) -> None:
        self.writes: list[int] = []
        self.busy, self.go_on = threading.Event(), threading.Event()

    def write(self, descriptor: int, data: memoryview) -> int:
        self.writes.append(bytes(data).count(b"\n"))
        return super().write(descriptor, data)

    def sync(self, descriptor: int) -> None:
        self.busy.set()
        assert self.go_on.wait(20)
        super().sync(descriptor)
