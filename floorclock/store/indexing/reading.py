"""The journals of a data folder as they lie there: which there are, and one of them read whole.

Invariant: this only reads. A journal that cannot be read, or changes while it is read, costs no other one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import NamedTuple

from floorclock.errors import ResourceError
from floorclock.journal.disk import disk_words
from floorclock.journal.home import JOURNAL_SUFFIX
from floorclock.journal.lock import is_open
from floorclock.journal.replay import Plans
from floorclock.store.indexing.packed import Packed, packed
from floorclock.store.rows import JournalMark

TRIES = 3
"""So often a journal that changed while it was read is read again; then it is left for the next time."""


Named = tuple[str, JournalMark, Packed]
"""(class id, mark of its journal, the class)."""


class Found(NamedTuple):
    """A journal in a data folder."""

    id: str
    path: str
    size: int
    mtime_ns: int

    def is_marked(self, mark: JournalMark | None) -> bool:
        """Whether it is the very journal of a mark."""
        return mark is not None and mark.mtime_ns == self.mtime_ns and mark.size == self.size


def journals_in(home: Path) -> tuple[Found, ...]:
    """The journals of a data folder, the oldest first; one look at each, and none where the folder is missing.

    Raises:
        ResourceError: the disk does not give the folder.
    """
    try:
        return tuple(sorted(_scanned(home / "classes")))
    except FileNotFoundError:
        return ()
    except OSError as error:
        # Not to be taken for a folder without classes: they would all be taken out of the store.
        raise ResourceError(f"the records in {home} cannot be read: {disk_words(error)}") from error


def _scanned(folder: Path) -> Iterator[Found]:
    with os.scandir(folder) as entries:
        for entry in entries:
            if not entry.name.endswith(JOURNAL_SUFFIX):
                continue
            try:
                seen = entry.stat()
                if not entry.is_file():
                    continue
            except FileNotFoundError:
                continue
            yield Found(entry.name.removesuffix(JOURNAL_SUFFIX), entry.path, seen.st_size, seen.st_mtime_ns)


def read_steady(path: str) -> tuple[bytes, JournalMark] | None:
    """A journal and the mark that goes with just these bytes; None where it keeps changing.

    Raises:
        OSError: the disk does not give it.
    """
    with open(path, "rb") as file:
        for _ in range(TRIES):
            before = os.fstat(file.fileno())
            file.seek(0)
            data = file.read()
            after = os.fstat(file.fileno())
            if (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns) and len(data) == after.st_size:
                return data, JournalMark(size=after.st_size, mtime_ns=after.st_mtime_ns)
    return None


class NoRows(Enum):
    """Why a journal gives no rows."""

    LATER = "its class runs now, or it changed under our eyes"
    NOTHING = "its class died before it began"
    NO_HEADER = "it does not say what its class started from"
    UNREADABLE = "the disk does not give it"


def packed_at(found: Found, plans: Plans) -> Named | NoRows:
    """The class of a journal, packed."""
    try:
        if is_open(Path(found.path)):
            return NoRows.LATER
        read = read_steady(found.path)
    except FileNotFoundError:
        return NoRows.LATER
    except (OSError, ResourceError):
        return NoRows.UNREADABLE
    if read is None:
        return NoRows.LATER
    data, mark = read
    one = packed(data, plans)
    if one is None:
        # Not one line was finished: nothing of it was ever acknowledged.
        return NoRows.NO_HEADER if b"\n" in data else NoRows.NOTHING
    return found.id, mark, one
