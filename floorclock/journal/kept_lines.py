"""A file of lines that only grows, each line with its own check, as a journal has them: who is the same person, for one.

Invariant: a line is on the disk before `append_lines` returns; a damaged line costs no other one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from floorclock.errors import ResourceError
from floorclock.journal.disk import Disk, bytes_if_there, disk_words, private_folder
from floorclock.journal.files import KeptFile
from floorclock.journal.lines import decode, encode, good_end, pieces
from floorclock.journal.lock import ClassInUse, ClassLock


def read_lines(path: Path) -> tuple[Mapping[str, Any], ...]:
    """The values of each whole line of the file; one that is not there holds none.

    Raises:
        ResourceError: the disk does not give it.
    """
    return lines_of(bytes_if_there(path, str(path)))


def lines_of(data: bytes) -> tuple[Mapping[str, Any], ...]:
    """The values of each whole line in some bytes, whatever else is there."""
    found: list[Mapping[str, Any]] = []
    for piece in pieces(data):
        if piece.whole:
            with suppress(ValueError):
                found.append(decode(piece.data))
    return tuple(found)


def append_lines(path: Path, lines: Iterable[Mapping[str, Any]], disk: Disk | None = None) -> None:
    """Adds lines, all or none; whoever calls holds the lock. A torn end is saved aside first.

    Raises:
        ResourceError: the disk refuses; nothing was added.
    """
    data = bytes_if_there(path, str(path))
    good, ends_open = good_end(pieces(data))
    try:
        private_folder(path.parent)
        with closing(KeptFile(path, disk or Disk(), data[:good], data[good:])) as file:
            file.append((b"\n" if ends_open else b"") + b"".join(encode(values) for values in lines))
    except OSError as error:
        raise ResourceError(f"it was not kept: {disk_words(error)}") from error


def lock_lines(path: Path) -> ClassLock:
    """The right to change the file, for as long as a `with` block lasts.

    Raises:
        ResourceError: somebody else is changing it, or the disk refuses.
    """
    try:
        private_folder(path.parent)
        return ClassLock.take(path)
    except ClassInUse as error:
        raise ResourceError(f"{path.name} is being changed by another floorclock (process {error.pid}): try again") from None
    except OSError as error:
        raise ResourceError(f"{path.name} cannot be changed: {disk_words(error)}") from error
