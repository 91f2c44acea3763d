"""Whole journals put in place at once: a class from paper, a class from a backup.

Invariant: the journal is there with everything in it or not at all, whenever the machine dies, and it is never put over one
that says something else.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path
from typing import Literal

from floorclock.clock.events import Event
from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.disk import Disk, disk_words, read_file, read_words
from floorclock.journal.files import KeptFile, replace_whole
from floorclock.journal.lock import ClassInUse, ClassLock
from floorclock.journal.reading import Header, event_line, header_line, read_bytes

Met = Literal["taken", "longer", "same", "older", "different"]
"""What became of a journal from elsewhere: there was none here; here was its beginning; here is the same, or more, or another."""


class UnusableJournal(ResourceError):
    """What is here of a class cannot be read or changed; the disk itself works."""


def write_whole(path: Path, header: Header, events: Iterable[tuple[Event, datetime]], disk: Disk | None = None) -> None:
    """Puts a whole class on the disk, each event with its wall time; as `put_journal`."""
    lines = (event_line(seq, event, wall) for seq, (event, wall) in enumerate(events, start=1))
    put_journal(path, header_line(header) + b"".join(lines), disk)


def put_journal(path: Path, data: bytes, disk: Disk | None = None) -> None:
    """Puts the journal of a class in its place, byte for byte; it is there when this returns."""
    try:
        with ClassLock.take(path):
            if path.exists():
                raise WrongUsage(f"there is a journal {path} already")
            try:
                replace_whole(path, data, disk)
            except OSError:
                with suppress(OSError):
                    path.unlink()
                raise
    except OSError as error:
        raise ResourceError(f"class {path.stem} was not recorded: {disk_words(error)}") from error


def take_journal(path: Path, data: bytes, disk: Disk | None = None) -> Met:
    """Takes the journal of a class from elsewhere: whole where there is none, and what is missing where its beginning is here.

    Raises:
        UnusableJournal: what is here cannot be read, or the class is open in a floor; it stays as it is.
        ResourceError: the disk refuses; the journal is as it was.
    """
    try:
        here = read_file(path)
    except FileNotFoundError:
        put_journal(path, data, disk)
        return "taken"
    except OSError as error:
        raise UnusableJournal(f"class {path.stem}: {read_words(error)}") from error
    good = read_bytes(here).good_length
    if here == data:
        return "same"
    if here.startswith(data):
        return "older"
    if not data.startswith(here[:good]):
        return "different"
    _go_on_with(path, data, disk or Disk())
    return "longer"


def _go_on_with(path: Path, data: bytes, disk: Disk) -> None:
    try:
        with ClassLock.take(path):
            # Read again: only now can nobody add to it.
            here = read_file(path)
            good = read_bytes(here).good_length
            if not data.startswith(here[:good]):
                raise UnusableJournal(f"class {path.stem}: it went on meanwhile")
            with closing(KeptFile(path, disk, here[:good], here[good:])) as file:
                file.append(data[good:])
    except ClassInUse as error:
        raise UnusableJournal(str(error)) from error
    except OSError as error:
        raise ResourceError(f"class {path.stem} was not gone on with: {disk_words(error)}") from error
