"""A file that grows by whole appends, on a disk that may fail at any of them.

Invariant: after `append` came back, everything appended so far is on the disk; after it raised, nothing of that append counts,
and the next one first brings the file back to what counts. What counts is also kept in memory (a class is small), so that a
file that was taken away is made again whole, and a new one never lacks its beginning.
"""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path

from floorclock.journal.disk import Disk, open_private, private_folder


class KeptFile:
    """The journal on the disk. Belongs to one thread."""

    def __init__(self, path: Path, disk: Disk, good: bytes = b"", torn: bytes = b"") -> None:
        """A file whose content should be `good`, although there may be none yet.

        `torn` is what follows it now, to be saved aside before it is cut off.
        """
        self._path = path
        self._disk = disk
        self._good = bytearray(good)
        self._torn = torn
        self._descriptor = -1
        self._device: int | None = None

    def append(self, data: bytes) -> None:
        """Puts `data` at the end and on the disk.

        Raises:
            OSError: the disk refuses; the file is as if nothing had been appended, or will be before the next append.
        """
        if self._descriptor < 0:
            self._open()
        if not data:
            return
        try:
            self._write(self._descriptor, data)
            self._disk.sync(self._descriptor)
            self._make_sure_it_is_there(self._descriptor)
        except OSError:
            self._roll_back()
            raise
        self._good += data

    def close(self) -> None:
        """Lets the file go."""
        if self._descriptor >= 0:
            descriptor, self._descriptor = self._descriptor, -1
            # A network disk may say only now that it fails; what counts was forced to it before.
            with contextlib.suppress(OSError):
                os.close(descriptor)

    def _open(self) -> None:
        """Opens the file and brings it to what counts.

        After a failed sync the kernel may hold pages for clean that never reached the disk, so nothing after the last good
        sync is believed: it is cut off and written again.
        """
        self._make_sure_of_the_folder()
        self._save_torn()
        length = self._length()
        with contextlib.ExitStack() as unless_ready:
            if length < len(self._good):
                descriptor = self._made()
                unless_ready.callback(os.close, descriptor)
            else:
                descriptor = self._disk.open(self._path)
                unless_ready.callback(os.close, descriptor)
                if length > len(self._good):
                    self._disk.truncate(descriptor, len(self._good))
            self._disk.sync_folder(self._path.parent)
            unless_ready.pop_all()
        self._descriptor = descriptor

    def _make_sure_it_is_there(self, descriptor: int) -> None:
        """What was written is worth nothing if whoever looks for it finds another file, or none: moved, or a disk taken out."""
        if not os.path.samestat(os.fstat(descriptor), self._path.stat()):
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))

    def _make_sure_of_the_folder(self) -> None:
        """Makes the folder again if it was taken away while the class ran.

        Never on another disk than at the beginning, unless the journal is there: a stick that was pulled out leaves an empty
        place, and what is written there is out of sight when the stick is back.
        """
        folder = self._path.parent
        if self._device is None:
            self._device = folder.stat().st_dev
        nearest = folder if folder.exists() else folder.parent
        if nearest.stat().st_dev != self._device and not self._path.exists():
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
        private_folder(folder)

    def _length(self) -> int:
        try:
            return self._path.stat().st_size
        except FileNotFoundError:
            return -1

    def _made(self) -> int:
        """The file, new or shorter than it should be, made from memory: it is never there without all that counts."""
        fresh = self._path.with_suffix(".new")
        with contextlib.suppress(FileNotFoundError):
            fresh.unlink()
        descriptor = self._disk.open(fresh)
        try:
            self._write(descriptor, bytes(self._good))
            self._disk.sync(descriptor)
            fresh.replace(self._path)
        except OSError:
            os.close(descriptor)
            with contextlib.suppress(OSError):
                fresh.unlink()
            raise
        return descriptor

    def _save_torn(self) -> None:
        """Keeps what a dying machine left after the last whole line: it is no event, but it may tell what happened."""
        if not self._torn:
            return
        descriptor = open_private(self._path.with_suffix(".torn"), os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        try:
            self._write(descriptor, self._torn + b"\n")
            self._disk.sync(descriptor)
        finally:
            os.close(descriptor)
        self._torn = b""

    def _write(self, descriptor: int, data: bytes) -> None:
        rest = memoryview(data)
        while rest:
            written = self._disk.write(descriptor, rest)
            if written <= 0:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            rest = rest[written:]

    def _roll_back(self) -> None:
        # If this fails too, `_open` does it before the next append.
        with contextlib.suppress(OSError):
            self._disk.truncate(self._descriptor, len(self._good))
        self.close()
