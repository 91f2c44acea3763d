"""The few things the records ask of a disk, and what to say when it refuses.

Invariant: whatever is made here is for its owner's eyes only (folders 0700, files 0600), whatever the umask says; what is read
here is an ordinary file, so that a pipe or a device in its place is refused at once and nothing waits for it.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

from floorclock.errors import ResourceError
from floorclock.platform import system

_WORDS = {
    errno.ENOSPC: "disk full",
    errno.EDQUOT: "disk quota used up",
    errno.EFBIG: "the file cannot grow any more",
    errno.EROFS: "the disk is read-only",
    errno.EACCES: "no right to write there",
    errno.EPERM: "no right to write there",
    errno.ENOENT: "the journal was taken away",
    errno.ENOTDIR: "a file is in the way",
    errno.EISDIR: "that is a folder",
    errno.EIO: "the disk does not work",
    errno.ENODEV: "the disk is gone",
    errno.ENXIO: "the disk is gone",
    errno.ESTALE: "the disk is gone",
}
_TOO_LARGE = "it is too large"
LARGEST_FILE = 1 << 26
"""No journal and no file of the records is as long: a class of a day with forty athletes is about a hundredth of it."""


_READ_WORDS = {
    errno.EACCES: "no right to read it",
    errno.EPERM: "no right to read it",
    errno.ENOENT: "there is no such file",
    errno.EFBIG: _TOO_LARGE,
}


def disk_words(error: OSError) -> str:
    """What is wrong with a disk that should take something, in a few words without any path or name: `disk full`."""
    return _WORDS.get(error.errno or 0) or (error.strerror or "the disk does not work").lower()


def read_words(error: OSError) -> str:
    """The same of a disk that should give something."""
    return _READ_WORDS.get(error.errno or 0) or disk_words(error)


def open_file(path: Path) -> BinaryIO:
    """An ordinary file, open to be read.

    Raises:
        OSError: the disk does not give it, or it is no ordinary file.
    """
    descriptor = os.open(path, os.O_RDONLY | system.OPEN_FLAGS | system.NO_WAIT)
    mode = os.fstat(descriptor).st_mode
    if stat.S_ISREG(mode):
        return os.fdopen(descriptor, "rb")
    os.close(descriptor)
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    raise OSError(errno.EINVAL, "that is a device or a pipe", str(path))


def read_file(path: Path, most: int = LARGEST_FILE) -> bytes:
    """The content of an ordinary file.

    Raises:
        OSError: the disk does not give it, it is no ordinary file, or it is longer than `most` bytes.
    """
    with open_file(path) as file:
        data = file.read(most + 1)
    if len(data) > most:
        raise OSError(errno.EFBIG, _TOO_LARGE, str(path))
    return data


def bytes_if_there(path: Path, called: str) -> bytes:
    """The content of a file; empty where there is none. `called` names it where it cannot be read.

    Raises:
        ResourceError: the disk does not give it.
    """
    try:
        return read_file(path)
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise ResourceError(f"{called} cannot be read: {read_words(error)}") from error


def private_folder(folder: Path) -> None:
    """Makes a folder and the missing ones above it; a folder that is there keeps its rights.

    Raises:
        OSError: the disk refuses, or a file is in the way.
    """
    if folder.is_dir():
        return
    if folder.parent != folder:
        private_folder(folder.parent)
    try:
        folder.mkdir(mode=0o700)
    except FileExistsError:
        if not folder.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder)) from None
        return
    folder.chmod(0o700)


def open_private(path: Path, flags: int) -> int:
    """Opens a file for its owner only and gives its descriptor.

    Raises:
        OSError: the disk refuses.
    """
    descriptor = os.open(path, flags | system.OPEN_FLAGS, 0o600)
    try:
        system.set_mode(descriptor, 0o600)
    except OSError:
        os.close(descriptor)
        raise
    return descriptor


class Disk:
    """What a journal asks of the disk. Every call may raise OSError; tests put one in its place that does."""

    def open(self, path: Path) -> int:
        """Opens a file to append to, made if it is missing; its descriptor."""
        return open_private(path, os.O_RDWR | os.O_CREAT | os.O_APPEND)

    def write(self, descriptor: int, data: memoryview) -> int:
        """Writes some of `data`; how many bytes."""
        return os.write(descriptor, data)

    def write_all(self, descriptor: int, data: bytes) -> None:
        """Writes all of `data`."""
        rest = memoryview(data)
        while rest:
            written = self.write(descriptor, rest)
            if written <= 0:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            rest = rest[written:]

    def sync(self, descriptor: int) -> None:
        """Comes back when everything written to the descriptor is on the disk itself."""
        system.sync_file(descriptor)

    def truncate(self, descriptor: int, length: int) -> None:
        """Cuts a file to a length."""
        os.ftruncate(descriptor, length)

    def sync_folder(self, folder: Path) -> None:
        """Comes back when the names in a folder are on the disk itself."""
        system.sync_folder(folder)
