"""The journal of a class that is over before it is recorded, such as one from paper.

Invariant: the journal is there with everything in it or not at all, whenever the machine dies.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from floorclock.clock.events import Event
from floorclock.journal.disk import Disk
from floorclock.journal.kept_file import KeptFile
from floorclock.journal.reading import Header, event_line, header_line
from floorclock.journal.replacing import placing


def write_whole(path: Path, header: Header, events: Iterable[tuple[Event, datetime]], disk: Disk | None = None) -> None:
    """Puts a whole class on the disk, each event with its wall time; it is there when this returns.

    Raises:
        WrongUsage: there is a journal already.
        ResourceError: another floor has the class, or the disk refuses; then nothing is left of it.
    """
    lines = [event_line(seq, event, wall) for seq, (event, wall) in enumerate(events, start=1)]
    with placing(path, "the class was not recorded", f"there is a journal {path} already"):
        _put(path, header_line(header) + b"".join(lines), disk or Disk())


def _put(path: Path, data: bytes, disk: Disk) -> None:
    # All of it counts from the start: it is written aside, forced to the disk, and only then put in its place.
    file = KeptFile(path, disk, data)
    file.append(b"")
    file.close()
