"""A file put in its place whole: over an older one, or where none was.

Invariant: whenever the machine dies, the file is as it was before or as it should be, never half of either, and it is for its
owner's eyes only.
"""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from pathlib import Path

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.disk import Disk, disk_words
from floorclock.journal.lock import ClassLock

BESIDE = ".new"
"""What stands beside a file while it is made, as for a journal; one that a death left over counts for nothing."""


def replace_whole(path: Path, data: bytes, disk: Disk | None = None) -> None:
    """Puts content in the place of a file, or where none was; it is on the disk when this returns.

    Whoever calls holds the lock of the file.

    Raises:
        OSError: the disk refuses; the file is as it was.
    """
    disk = disk or Disk()
    fresh = path.with_suffix(BESIDE)
    with contextlib.suppress(FileNotFoundError):
        fresh.unlink()
    try:
        descriptor = disk.open(fresh)
        try:
            _write(disk, descriptor, data)
            disk.sync(descriptor)
        finally:
            os.close(descriptor)
        fresh.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise
    disk.sync_folder(path.parent)


def put_journal(path: Path, data: bytes, disk: Disk | None = None) -> None:
    """Puts the journal of a class from elsewhere in its place, byte for byte; it is there when this returns.

    Raises:
        WrongUsage: there is a journal already.
        ResourceError: another floor has the class, or the disk refuses; then nothing is left of it.
    """
    with placing(path, f"class {path.stem} was not taken", f"there is a journal of class {path.stem} already"):
        replace_whole(path, data, disk)


@contextlib.contextmanager
def placing(path: Path, refused: str, already: str) -> Iterator[None]:
    """Holds the place of a journal that is not there yet while it is put there; nothing is left where the disk refuses.

    Raises:
        WrongUsage: there is a journal already; in the words of `already`.
        ResourceError: another floor has the class, or the disk refuses; the words begin with `refused`.
    """
    try:
        lock = ClassLock.take(path)
    except OSError as error:
        raise ResourceError(f"{refused}: {disk_words(error)}") from error
    try:
        if path.exists():
            raise WrongUsage(already)
        yield
    except OSError as error:
        with contextlib.suppress(OSError):
            path.unlink()
        raise ResourceError(f"{refused}: {disk_words(error)}") from error
    finally:
        lock.release()


def _write(disk: Disk, descriptor: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        written = disk.write(descriptor, rest)
        if written <= 0:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        rest = rest[written:]
