"""Whole files on a disk that may fail: put in place of an older one, put where none was, or growing by whole appends.

Invariant: whenever the machine dies, what stands under a name is as it was before or as it should be, never half of either.
What is being made stands beside it under a name that ends in `.new`; what a death left of that is swept away by the next.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import shutil
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.disk import Disk, disk_words, open_private, private_folder
from floorclock.platform import system

BESIDE = ".new"
"""What stands beside a file of the records while it is made; one that a death left over counts for nothing."""
_MARK = ".floorclock-"
_LEFT_OVER = re.compile(rf"\..{{1,40}}{re.escape(_MARK)}[a-z0-9_]{{8}}{re.escape(BESIDE)}")
_LOCK = ".lock"


def replace_whole(path: Path, data: bytes, disk: Disk | None = None) -> None:
    """Puts content in the place of a file of the records, or where none was; it is on the disk when this returns.

    Whoever calls holds the lock of the file.

    Raises:
        OSError: the disk refuses; the file is as it was.
    """
    disk = disk or Disk()
    os.close(_replaced(path, data, disk))
    disk.sync_folder(path.parent)


def write_atomically(path: Path, content: bytes) -> None:
    """Puts a finished report in its place, over an older one of the same name.

    What is no ordinary file (a folder, a device, a pipe) is never replaced. A new file is for its owner's eyes: names are
    personal data. One that was there keeps its rights.

    Raises:
        WrongUsage: the folder does not exist, or something stands there that is no ordinary file.
        ResourceError: the disk does not take it.
    """
    try:
        target = path.resolve()
        mode = _mode_there(path, target)
        with _file_beside(target) as (file, beside):
            file.write(content)
            file.flush()
            if mode is not None:
                system.set_mode(file.fileno(), mode)
            system.sync_file(file.fileno())
            beside.replace(target)
    except RuntimeError as error:
        raise ResourceError(f"{path} cannot be written: the links lead in a circle") from error
    except OSError as error:
        raise ResourceError(f"{path} cannot be written: {disk_words(error)}") from error


@contextlib.contextmanager
def new_file(path: Path) -> Iterator[IO[bytes]]:
    """A file to write, which gets its name when all went well.

    Raises:
        WrongUsage: something is there, or the folder is missing.
        ResourceError: the disk refuses; nothing is left.
    """
    taken = f"{path} is there already; name a new file"
    _need_folder(path)
    if os.path.lexists(path):
        raise WrongUsage(taken)
    try:
        with _file_beside(path) as (file, beside):
            yield file
            file.flush()
            system.sync_file(file.fileno())
            # A link and not a rename: what came there meanwhile is not written over.
            system.link_new(beside, path)
        system.sync_folder(path.parent)
    except FileExistsError:
        raise WrongUsage(taken) from None
    except OSError as error:
        raise ResourceError(f"{path} cannot be written: {disk_words(error)}") from error


@contextlib.contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """A folder to fill, which gets its name when all went well; it may be there already, if it is empty.

    Raises:
        WrongUsage: something is there, or the folder above it is missing.
        ResourceError: the disk refuses; nothing is left.
    """
    _need_folder(folder)
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise WrongUsage(f"{folder} is there already; name a new folder")
    made = None
    try:
        _sweep(folder.parent)
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name[:40]}{_MARK}", suffix=BESIDE, dir=folder.parent))
        with os.fdopen(open_private(made / _LOCK, os.O_RDWR | os.O_CREAT), "rb") as held:
            system.lock(held.fileno())
            yield made
            for path in made.iterdir():
                with path.open("r+b") as file:
                    system.sync_file(file.fileno())
            system.sync_folder(made)
            made.rename(folder)
        (folder / _LOCK).unlink()
        system.sync_folder(folder.parent)
    except OSError as error:
        raise ResourceError(f"{folder} cannot be written: {disk_words(error)}") from error
    finally:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)


class KeptFile:
    """A file that grows by whole appends: the journal on the disk. Belongs to one thread.

    After `append` came back, everything appended so far is on the disk; after it raised, nothing of that append counts, and the
    next one first brings the file back to what counts. What counts is also kept in memory (a class is small), so that a file
    that was taken away is made again whole, and a new one never lacks its beginning.
    """

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
            self._disk.write_all(self._descriptor, data)
            self._disk.sync(self._descriptor)
            # Worth nothing if whoever looks for it finds another file, or none: moved, or a disk taken out.
            if not os.path.samestat(os.fstat(self._descriptor), self._path.stat()):
                raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        except OSError:
            # If this fails too, `_open` does it before the next append.
            with contextlib.suppress(OSError):
                self._disk.truncate(self._descriptor, len(self._good))
            self.close()
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
        if self._torn:
            self._save_torn()
        length = self._path.stat().st_size if self._path.exists() else -1
        with contextlib.ExitStack() as unless_ready:
            if length < len(self._good):
                # New, or shorter than it should be: it is never there without all that counts.
                descriptor = _replaced(self._path, bytes(self._good), self._disk)
                unless_ready.callback(os.close, descriptor)
            else:
                descriptor = self._disk.open(self._path)
                unless_ready.callback(os.close, descriptor)
                if length > len(self._good):
                    self._disk.truncate(descriptor, len(self._good))
            self._disk.sync_folder(self._path.parent)
            unless_ready.pop_all()
        self._descriptor = descriptor

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

    def _save_torn(self) -> None:
        """Keeps what a dying machine left after the last whole line: it is no event, but it may tell what happened."""
        aside = self._path.with_suffix(".torn")
        with os.fdopen(open_private(aside, os.O_WRONLY | os.O_CREAT | os.O_APPEND), "ab") as file:
            self._disk.write_all(file.fileno(), self._torn + b"\n")
            self._disk.sync(file.fileno())
        self._torn = b""


def _replaced(path: Path, data: bytes, disk: Disk) -> int:
    """Makes a file beside, forces it to the disk, puts it in its place; the descriptor it can grow by."""
    fresh = path.with_suffix(BESIDE)
    fresh.unlink(missing_ok=True)
    with contextlib.ExitStack() as unless_placed:
        # The last to be called: on some systems an open file cannot go.
        unless_placed.callback(_unlink, fresh)
        descriptor = disk.open(fresh)
        unless_placed.callback(os.close, descriptor)
        disk.write_all(descriptor, data)
        disk.sync(descriptor)
        fresh.replace(path)
        unless_placed.pop_all()
    return descriptor


@contextlib.contextmanager
def _file_beside(target: Path) -> Iterator[tuple[IO[bytes], Path]]:
    """A file beside its target, under a name of its own, to be put in its place; gone afterwards if it was not."""
    _sweep(target.parent)
    descriptor, name = tempfile.mkstemp(prefix=f".{target.name[:40]}{_MARK}", suffix=BESIDE, dir=target.parent)
    beside = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as file:
            # Held while it is made, so that nobody sweeps it away; a disk without locks is not swept either.
            with contextlib.suppress(system.NoLocksError):
                system.lock(descriptor)
            yield file, beside
    finally:
        _unlink(beside)


def _sweep(folder: Path) -> None:
    """Takes away what killed commands left half made in a folder: it may hold names. What somebody is making now stays."""
    with contextlib.suppress(OSError):
        for name in os.listdir(folder):
            if not _LEFT_OVER.fullmatch(name):
                continue
            path = folder / name
            with contextlib.suppress(OSError):
                descriptor = os.open(path / _LOCK if path.is_dir() else path, os.O_RDWR | system.OPEN_FLAGS | system.NO_WAIT)
                with os.fdopen(descriptor, "rb"):
                    free = system.lock(descriptor)
                if free:
                    shutil.rmtree(path) if path.is_dir() else path.unlink()


def _need_folder(path: Path) -> None:
    if not path.parent.is_dir():
        raise WrongUsage(f"there is no folder {path.parent}")


def _mode_there(path: Path, target: Path) -> int | None:
    """The rights of the file that is to be replaced; None where there is none."""
    if not target.parent.is_dir():
        raise WrongUsage(f"{path} cannot be written: there is no folder {target.parent}")
    try:
        there = target.stat()
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(there.st_mode):
        raise WrongUsage(f"{path} cannot be written: that is a {'folder' if stat.S_ISDIR(there.st_mode) else 'device or a pipe'}")
    return stat.S_IMODE(there.st_mode)


def _unlink(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)
