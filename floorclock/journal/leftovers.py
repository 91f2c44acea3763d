"""What classes that died in their very first instant left beside the journals.

Invariant: only what belongs to no journal and to no running class goes, and nothing that holds an event.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from floorclock.errors import ResourceError
from floorclock.journal.home import JOURNAL_SUFFIX
from floorclock.journal.lock import ClassLock, is_open

_FRESH = ".new"
_BESIDE = (".lock", ".beat", _FRESH)


def tidy(folder: Path) -> None:
    """Takes away the lock, beat and half-made journal of classes that never came to be. A disk that refuses stops nothing.

    A half-made journal holds the names of a roster, so it should not lie about. One that holds events was made from memory
    after somebody had taken the journal away: it is the only record of that class and stays.
    """
    with contextlib.suppress(OSError):
        for name in os.listdir(folder):
            if name.endswith(_BESIDE):
                path = folder / name
                with contextlib.suppress(OSError, ResourceError):
                    _tidy_one(path, path.with_suffix(JOURNAL_SUFFIX))


def _tidy_one(path: Path, journal: Path) -> None:
    if journal.exists() or is_open(journal):
        # A class that is open and has no journal yet is about to have one.
        return
    lock = ClassLock.take(journal)
    try:
        if not journal.exists() and not _holds_events(journal.with_suffix(_FRESH)):
            path.unlink(missing_ok=True)
    finally:
        lock.release()


def _holds_events(fresh: Path) -> bool:
    return fresh.exists() and fresh.read_bytes().count(b"\n") > 1
