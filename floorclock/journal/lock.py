"""One floor a class: who has it open, nobody else can open.

Invariant: the kernel holds the lock, so it ends with the process, however that ends. The file beside the journal only names
who has it; it is not the lock.
"""

from __future__ import annotations

import contextlib
import errno
import os
import time
from pathlib import Path
from typing import Self

from floorclock.errors import ResourceError
from floorclock.journal.disk import open_private
from floorclock.journal.files import BESIDE
from floorclock.journal.home import JOURNAL_SUFFIX
from floorclock.platform import system

_TRIES = 5
_BETWEEN_TRIES_S = 0.02
_LEFT_OVER = (".lock", ".beat", BESIDE)


class ClassInUse(ResourceError):
    """Another floor has the class open; `pid` is its process, 0 if that is not known."""

    def __init__(self, class_id: str, pid: int) -> None:
        self.pid = pid
        super().__init__(f"class {class_id} is open in another floor" + (f" (process {pid})" if pid else ""))


class ClassLock:
    """The right to write one class. Made by `take`; let go with `release`, or at the end of a `with` block."""

    def __init__(self, path: Path, descriptor: int) -> None:
        self._path = path
        self._descriptor = descriptor

    @classmethod
    def take(cls, journal: Path) -> Self:
        """Takes the class of a journal, whether or not the journal exists yet.

        Raises:
            ClassInUse: another floor has it.
            ResourceError: the disk knows no locks.
            OSError: the disk refuses the file that names who has it.
        """
        path = journal.with_suffix(".lock")
        pid = 0
        for attempt in range(_TRIES):
            if attempt:
                # Somebody may only have looked whether the class is open; that takes no time.
                time.sleep(_BETWEEN_TRIES_S)
            descriptor = _opened(path)
            with contextlib.ExitStack() as unless_taken:
                unless_taken.callback(os.close, descriptor)
                if not _locked(descriptor, path):
                    pid = _holder(descriptor)
                elif _is_at(descriptor, path):
                    # Otherwise whoever had it took the file away between our opening and our locking it.
                    _name_holder(descriptor)
                    unless_taken.pop_all()
                    return cls(path, descriptor)
        raise ClassInUse(journal.stem, pid)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *raised: object) -> None:
        self.release()

    def is_in_place(self) -> bool:
        """Whether others find this lock. If somebody took its file away, with its folder perhaps, it keeps nobody out."""
        return self._descriptor >= 0 and _is_at(self._descriptor, self._path)

    def release(self) -> None:
        """Lets the class go; a second time changes nothing."""
        if self._descriptor < 0:
            return
        with contextlib.suppress(OSError):
            # In its place may be another one's by now.
            if self.is_in_place():
                self._path.unlink()
        os.close(self._descriptor)
        self._descriptor = -1


def is_open(journal: Path) -> bool:
    """Whether some floor has the class of a journal open, this process included."""
    path = journal.with_suffix(".lock")
    try:
        file = path.open("rb")
    except OSError:
        return False
    with file:
        return not _locked(file.fileno(), path, shared=True)


def tidy(folder: Path) -> None:
    """Takes away the lock, beat and half-made journal of classes that never came to be. A disk that refuses stops nothing.

    A half-made journal holds the names of a roster, so it should not lie about. One that holds events was made from memory
    after somebody had taken the journal away: it is the only record of that class and stays.
    """
    with contextlib.suppress(OSError):
        for name in os.listdir(folder):
            if name.endswith(_LEFT_OVER):
                path = folder / name
                with contextlib.suppress(OSError, ResourceError):
                    _tidy_one(path, path.with_suffix(JOURNAL_SUFFIX))


def _locked(descriptor: int, path: Path, *, shared: bool = False) -> bool:
    try:
        return system.lock(descriptor, shared=shared)
    except system.NoLocksError as error:
        raise ResourceError(f"the disk of {path.parent} cannot lock files: name a data folder on another one") from error


def _opened(path: Path) -> int:
    try:
        return open_private(path, os.O_RDWR | os.O_CREAT)
    except OSError as error:
        if error.errno != errno.EROFS or not path.exists():
            raise
        # A class that died on a disk that is read-only since left its file there: it can be locked all the same.
        return os.open(path, os.O_RDONLY | system.OPEN_FLAGS)


def _is_at(descriptor: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(descriptor), path.stat())
    except OSError:
        # It is not there, or nobody can tell.
        return False


def _name_holder(descriptor: int) -> None:
    # On a full disk nobody is named; the lock holds all the same.
    with contextlib.suppress(OSError):
        os.ftruncate(descriptor, 0)
        system.write_at_start(descriptor, b"%d\n" % os.getpid())


def _holder(descriptor: int) -> int:
    try:
        return int(os.read(descriptor, 20) or b"0")
    except (OSError, ValueError):
        return 0


def _tidy_one(path: Path, journal: Path) -> None:
    if journal.exists() or is_open(journal):
        # A class that is open and has no journal yet is about to have one.
        return
    with ClassLock.take(journal):
        fresh = journal.with_suffix(BESIDE)
        holds_events = fresh.exists() and fresh.read_bytes().count(b"\n") > 1
        if not journal.exists() and not holds_events:
            path.unlink(missing_ok=True)
