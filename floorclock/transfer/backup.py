"""One file with everything: journals, who is the same person, settings.

Invariant: the file is there whole or not at all; each journal in it is as it stood at one moment, up to its last whole line where
a class runs.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from floorclock import __version__
from floorclock.errors import NotFound, ResourceError
from floorclock.journal.disk import bytes_if_there
from floorclock.journal.files import new_file
from floorclock.journal.instants import instant_text
from floorclock.journal.settings import FILE as SETTINGS
from floorclock.journal.shelf import journals_of
from floorclock.live.conductor import SystemClock
from floorclock.people.register import people_path
from floorclock.transfer.archive import ABOUT, CLASSES, FORMAT, Packer
from floorclock.transfer.export import journal_bytes, what_was_left_out


@dataclass(frozen=True, slots=True, kw_only=True)
class BackedUp:
    """What is in a backup: `running` are classes up to their last whole line; `unread` were left out, with why."""

    file: Path
    classes: int
    size: int
    running: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What there is now, in a few lines."""
        lines = [f"{self.file}: {self.classes} classes, {self.size / 1e6:.1f} MB, every file with its SHA-256 sum."]
        lines += what_was_left_out(self.running, self.unread)
        return "\n".join([*lines, "It holds names, and keeps whoever is forgotten later: keep it safe, and not for ever."])


def back_up(home: Path, file: Path, *, wall: datetime | None = None) -> BackedUp:
    """Writes a backup; classes may run meanwhile.

    Raises:
        NotFound: nothing has been recorded.
        WrongUsage: the file is there already.
        ResourceError: the disk refuses; nothing is left then.
    """
    journals = journals_of(home)
    if not journals:
        raise NotFound("no class has been recorded yet")
    now = wall or SystemClock().wall()
    at_s = now.timestamp()
    running: list[str] = []
    unread: list[str] = []
    count = 0
    with new_file(file) as out:
        packer = Packer(out)
        about = {"format": FORMAT, "made": instant_text(now), "floorclock": __version__}
        packer.add(ABOUT, json.dumps(about).encode("ascii"), at_s)
        for path in (people_path(home), home / SETTINGS):
            data = _bytes_of(path)
            if data:
                packer.add(path.name, data, at_s)
        for path in journals:
            try:
                data, runs = journal_bytes(path)
            except ResourceError as error:
                unread.append(str(error))
                continue
            if data:
                packer.add(f"{CLASSES}{path.name}", data, _changed_s(path, at_s))
                count += 1
                running += [path.stem] if runs else []
        packer.close(at_s)
    return BackedUp(file=file, classes=count, size=file.stat().st_size, running=tuple(running), unread=tuple(unread))


def _bytes_of(path: Path) -> bytes:
    """The content of a file of lines up to its last whole line, or of another file as it is."""
    data = bytes_if_there(path, str(path))
    return data[: data.rfind(b"\n") + 1] if path.suffix == ".jsonl" else data


def _changed_s(path: Path, otherwise_s: float) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return otherwise_s
