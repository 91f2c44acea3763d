"""A finished report on the disk.

Invariant: the file is as it was before, or whole; what is no ordinary file (a folder, a device, a pipe) is never replaced.
A new file is for its owner's eyes: names are personal data. One that was there keeps its rights.
"""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from pathlib import Path

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.disk import disk_words


def write_atomically(path: Path, content: bytes) -> None:
    """Puts a file in its place, over an older one of the same name.

    Raises:
        WrongUsage: the folder does not exist, or something stands there that is no ordinary file.
        ResourceError: the disk does not take it.
    """
    try:
        target = path.resolve()
        mode = _mode_there(path, target)
        descriptor, beside = tempfile.mkstemp(prefix=f".{target.name[:40]}.", suffix=".new", dir=target.parent)
    except (OSError, RuntimeError) as error:
        raise ResourceError(f"{path} cannot be written: {_words(error)}") from error
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            if mode is not None:
                os.fchmod(file.fileno(), mode)
            os.fsync(file.fileno())
        Path(beside).replace(target)
    except OSError as error:
        with contextlib.suppress(OSError):
            Path(beside).unlink()
        raise ResourceError(f"{path} cannot be written: {_words(error)}") from error


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


def _words(error: Exception) -> str:
    return disk_words(error) if isinstance(error, OSError) else "the links lead in a circle"
