"""The heartbeat of a class: where its clock stands, for a machine that dies and for who follows the class from another process.

Invariant: a beat is one small record written over the last one in place, so that it needs no more room on a full disk, and
carries a check, so that half a beat is no beat. The journal holds what must not be lost; a beat is forced to the disk only now
and then (`sync`), so that after a power cut the clock stands seconds back and not as long as a system likes to keep its writes.
"""

from __future__ import annotations

import contextlib
import math
import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from floorclock.clock.class_clock import NS_PER_MS
from floorclock.journal.disk import open_file, open_private
from floorclock.journal.instants import instant_text, read_instant
from floorclock.journal.lines import decode, encode, is_whole
from floorclock.platform import system

_LENGTH = 192
"""Longer than any beat, so that a shorter one leaves nothing of a longer one behind."""


@dataclass(frozen=True, slots=True)
class Beat:
    """The class clock and the wall time at one moment.

    The clock showed `class_ms` at the monotonic time `mono_ns` of this boot; `rate` is how fast it runs on, 0 while it stands.
    """

    class_ms: int
    wall: datetime
    mono_ns: int = 0
    rate: float = 0.0

    def at(self, mono_ns: int) -> int:
        """The class time at a monotonic time."""
        return int(self.class_ms + max(0, mono_ns - self.mono_ns) * self.rate / NS_PER_MS)


def beat_path(journal: Path) -> Path:
    """Where the heartbeat of a class is, by its journal."""
    return journal.with_suffix(".beat")


def write_beat(path: Path, beat: Beat, *, sync: bool = False) -> bool:
    """Writes where the class clock stands, with `sync` onto the disk itself; false if the disk refuses, which stops nothing."""
    values = {"class_ms": beat.class_ms, "wall": instant_text(beat.wall), "mono_ns": beat.mono_ns, "rate": beat.rate}
    record = encode(values).rstrip(b"\n").ljust(_LENGTH - 1) + b"\n"
    try:
        with os.fdopen(open_private(path, os.O_WRONLY | os.O_CREAT), "wb") as file:
            whole = system.write_at_start(file.fileno(), record) == len(record)
            if sync:
                system.sync_data(file.fileno())
            return whole
    except OSError:
        return False


def read_beat(path: Path) -> Beat | None:
    """The last beat, or None if there is none that can be read."""
    return beat_of(read_record(path))


def read_record(path: Path) -> bytes:
    """The bytes of the last beat, to tell at little cost whether it is another one; none where they cannot be had."""
    try:
        with open_file(path) as file:
            return file.read(_LENGTH)
    except OSError:
        return b""


def beat_of(record: bytes) -> Beat | None:
    """The beat in some bytes, or None if they are no whole one."""
    record = record.rstrip()
    try:
        if not is_whole(record):
            return None
        values = decode(record)
        class_ms, mono_ns, rate = values["class_ms"], values["mono_ns"], float(values["rate"])
        if not (isinstance(class_ms, int) and isinstance(mono_ns, int) and min(class_ms, mono_ns, rate) >= 0):
            return None
        return Beat(class_ms, read_instant(values["wall"]), mono_ns, rate) if math.isfinite(rate) else None
    except (KeyError, TypeError, ValueError, OverflowError):
        return None


def remove_beat(path: Path) -> None:
    """Takes the heartbeat of an ended class away."""
    with contextlib.suppress(OSError):
        path.unlink()


def hold_beat(path: Path) -> int | None:
    """Lets the floor know that somebody follows its class, until the descriptor is closed or the process ends.

    None where that cannot be (there is no heartbeat yet, or somebody looks at it this very moment): try again.
    """
    try:
        descriptor = os.open(path, os.O_RDONLY | system.OPEN_FLAGS)
    except OSError:
        return None
    with contextlib.suppress(OSError):
        if system.lock(descriptor, shared=True):
            return descriptor
    os.close(descriptor)
    return None


def is_held(path: Path) -> bool:
    """Whether anybody follows the class of a heartbeat."""
    try:
        with path.open("rb") as file:
            return not system.lock(file.fileno())
    except OSError:
        return False
