"""The few things the records ask of a disk, and what to say when it refuses.

Invariant: whatever is made here is for its owner's eyes only (folders 0700, files 0600), whatever the umask says.
"""

from __future__ import annotations

import errno
import fcntl
import os
from pathlib import Path

from floorclock.errors import ResourceError

_WORDS = {
    errno.ENOSPC: "disk full",
    errno.EDQUOT: "disk quota used up",
    errno.EFBIG: "the file cannot grow any more",
    errno.EROFS: "the disk is read-only",
    errno.EACCES: "no right to write there",
    errno.EPERM: "no right to write there",
    errno.ENOENT: "the journal was taken away",
    errno.ENOTDIR: "a file is in the way",
    errno.EIO: "the disk does not work",
    errno.ENODEV: "the disk is gone",
    errno.ENXIO: "the disk is gone",
    errno.ESTALE: "the disk is gone",
}
_FULL_SYNC: int | None = getattr(fcntl, "F_FULLFSYNC", None)
"""macOS: `fsync` leaves data in the drive's own cache, this does not."""


def disk_words(error: OSError) -> str:
    """What is wrong with the disk, in a few words without any path or name: `disk full`."""
    return _WORDS.get(error.errno or 0) or (error.strerror or "the disk does not work").lower()


def bytes_if_there(path: Path, called: str) -> bytes:
    """The content of a file; empty where there is none. `called` names it where it cannot be read.

    Raises:
        ResourceError: the disk does not give it.
    """
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise ResourceError(f"{called} cannot be read: {disk_words(error)}") from error


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
    descriptor = os.open(path, flags | os.O_CLOEXEC, 0o600)
    try:
        if os.fstat(descriptor).st_mode & 0o777 != 0o600:
            os.fchmod(descriptor, 0o600)
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

    def sync(self, descriptor: int) -> None:
        """Comes back when everything written to the descriptor is on the disk itself."""
        if _FULL_SYNC is not None:
            try:
                fcntl.fcntl(descriptor, _FULL_SYNC)
            except OSError as error:
                if error.errno not in (errno.ENOTSUP, errno.EINVAL, errno.ENOTTY):
                    raise
            else:
                return
        os.fsync(descriptor)

    def truncate(self, descriptor: int, length: int) -> None:
        """Cuts a file to a length."""
        os.ftruncate(descriptor, length)

    def sync_folder(self, folder: Path) -> None:
        """Comes back when the names in a folder are on the disk itself."""
        descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(descriptor)
        except OSError as error:
            # Some file systems keep no folder of their own to sync; their names are as safe as they can be.
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):
                raise
        finally:
            os.close(descriptor)
