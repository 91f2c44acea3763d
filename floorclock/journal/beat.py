"""The heartbeat of a class: where its clock stood when the machine died.

Invariant: a beat is one small record written over the last one in place, so that it needs no more room on a full disk, and
carries a check, so that half a beat is no beat. The journal holds what must not be lost; a beat is forced to the disk only now
and then (`sync`), so that after a power cut the clock stands seconds back and not as long as a system likes to keep its writes.
"""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from floorclock.journal.disk import open_private
from floorclock.journal.instants import instant_text, read_instant
from floorclock.journal.lines import decode, encode, is_whole
from floorclock.platform import system

_LENGTH = 160
"""Longer than any beat, so that a shorter one leaves nothing of a longer one behind."""


@dataclass(frozen=True, slots=True)
class Beat:
    """The class clock and the wall time at one moment."""

    class_ms: int
    wall: datetime


def beat_path(journal: Path) -> Path:
    """Where the heartbeat of a class is, by its journal."""
    return journal.with_suffix(".beat")


def write_beat(path: Path, class_ms: int, wall: datetime, *, sync: bool = False) -> bool:
    """Writes where the class clock stands, with `sync` onto the disk itself; false if the disk refuses, which stops nothing."""
    record = encode({"class_ms": class_ms, "wall": instant_text(wall)}).rstrip(b"\n").ljust(_LENGTH - 1) + b"\n"
    try:
        descriptor = open_private(path, os.O_WRONLY | os.O_CREAT)
    except OSError:
        return False
    try:
        whole = system.write_at_start(descriptor, record) == len(record)
        if sync:
            system.sync_data(descriptor)
        return whole
    except OSError:
        return False
    finally:
        os.close(descriptor)


def read_beat(path: Path) -> Beat | None:
    """The last beat, or None if there is none that can be read."""
    try:
        with path.open("rb") as file:
            record = file.read(_LENGTH).rstrip()
        if not is_whole(record):
            return None
        values = decode(record)
        class_ms = values["class_ms"]
        if not isinstance(class_ms, int) or class_ms < 0:
            return None
        return Beat(class_ms, read_instant(values["wall"]))
    except (OSError, KeyError, TypeError, ValueError, OverflowError):
        return None


def remove_beat(path: Path) -> None:
    """Takes the heartbeat of an ended class away."""
    with contextlib.suppress(OSError):
        path.unlink()
