"""Files that somebody else writes, and whether they were written since the last look.

Invariant: a look costs one question to the system for each file; a file that was replaced, cut, or is gone has changed as well.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

Stamp = tuple[int, int, int, int]


class Watched:
    """Some files. As `live.follower` does: look as often as it is to be up to date."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self._names = [os.fspath(path) for path in paths]
        self._stamps: list[Stamp | None] | None = None

    def look(self) -> bool:
        """Whether anything was written; at the first look, always."""
        stamps = [_stamp(name) for name in self._names]
        came, self._stamps = stamps != self._stamps, stamps
        return came


def _stamp(name: str) -> Stamp | None:
    try:
        there = os.stat(name)
    except OSError:
        return None
    return there.st_dev, there.st_ino, there.st_size, there.st_mtime_ns
