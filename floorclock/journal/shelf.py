"""The classes that have been recorded, found again.

Invariant: the shelf only reads. A list looks at the first line and the end of each journal, never at all of it, unless the
end does not tell whether the class ended.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from difflib import get_close_matches
from pathlib import Path

from floorclock.clock.events import ClassEnded
from floorclock.errors import NotFound, WrongUsage
from floorclock.journal.disk import LARGEST_FILE, open_file, read_words
from floorclock.journal.home import JOURNAL_SUFFIX, MINUTE_LENGTH
from floorclock.journal.lines import is_whole
from floorclock.journal.lock import is_open
from floorclock.journal.reading import read_bytes
from floorclock.plan.names import MOST_LISTED, first_few

_TAIL_LENGTH = 1 << 16
LONGEST_HEADER = 1 << 24
_ENDED = f'"event":"{ClassEnded.name}"'.encode()
_LONG_AGO = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassEntry:
    """One class on the shelf.

    `started` is None where the header cannot be read. `athletes` counts those on the roster when the class began, `damage`
    the damaged lines in what was looked at.
    """

    path: Path
    started: datetime | None = None
    session: str = ""
    athletes: int = 0
    rehearsal: bool = False
    ended: bool = True
    damage: int = 0
    running: bool = False
    """True while some floor has it open."""
    paper: bool = False
    """True where it was timed on paper."""
    unread: str = ""
    """Why nothing can be made of the journal, in a few words; empty where something can."""

    @property
    def id(self) -> str:
        """The name of the class: that of its journal, without the suffix."""
        return self.path.stem


def journals_of(home: Path) -> tuple[Path, ...]:
    """Every journal in a data folder, the oldest first."""
    return tuple(sorted((home / "classes").glob("*" + JOURNAL_SUFFIX)))


class Shelf:
    """The journals in a data folder."""

    def __init__(self, home: Path) -> None:
        self._home = home

    def classes(self) -> tuple[ClassEntry, ...]:
        """Every class, the newest first. A journal that holds nothing at all is no class."""
        entries = (_entry(path) for path in journals_of(self._home))
        return tuple(sorted((entry for entry in entries if entry is not None), key=_age, reverse=True))

    def find(self, prefix: str) -> Path:
        """The journal of the class whose id is or begins with `prefix`.

        Raises:
            NotFound: there is none.
            WrongUsage: there are several.
        """
        wanted = prefix.strip()
        by_id = {path.stem: path for path in journals_of(self._home)}
        if wanted in by_id:
            return by_id[wanted]
        wanted = wanted.casefold()
        found = sorted((name for name in by_id if name.casefold().startswith(wanted)), reverse=True)
        found = [name for name in found if name.casefold() == wanted] or found
        if len(found) == 1:
            return by_id[found[0]]
        if found:
            raise WrongUsage(f"several classes begin with {prefix}: {first_few(found)}")
        if not by_id:
            raise NotFound("no class has been recorded yet")
        near = get_close_matches(wanted, by_id, n=MOST_LISTED) or sorted(by_id, reverse=True)
        raise NotFound(f"there is no class {prefix}; the nearest are {first_few(near)}")

    def latest(self) -> Path:
        """The journal of the newest class of which something can be made.

        Raises:
            NotFound: no class has been recorded yet.
        """
        minute = ""
        newest: list[ClassEntry] = []
        for path in reversed(journals_of(self._home)):
            if newest and path.stem[:MINUTE_LENGTH] != minute:
                break
            minute = path.stem[:MINUTE_LENGTH]
            entry = _entry(path)
            if entry is not None and not entry.unread:
                newest.append(entry)
        if not newest:
            raise NotFound("no class has been recorded yet")
        return max(newest, key=_age).path

    def interrupted(self) -> tuple[ClassEntry, ...]:
        """The classes that can go on, the newest first: begun, not ended, and open in no floor."""
        waiting = (entry for entry in self.classes() if not entry.ended and entry.started is not None)
        return tuple(entry for entry in waiting if not entry.running)


def _age(entry: ClassEntry) -> tuple[str, datetime, str]:
    """Ids tell the minute; of two classes in one minute, the header tells which is the newer."""
    return entry.id[:MINUTE_LENGTH], entry.started or _LONG_AGO, entry.id


def _entry(path: Path) -> ClassEntry | None:
    try:
        with open_file(path) as file:
            first = file.readline(LONGEST_HEADER)
            begun = file.tell()
            length = file.seek(0, 2)
            file.seek(max(begun, length - _TAIL_LENGTH))
            cut = file.tell() > begun
            tail = file.read()
            ended = _ends_class(tail)
            if cut and not ended and length <= LARGEST_FILE:
                file.seek(begun)
                ended = _ends_class(file.read())
            lines = tail[tail.find(b"\n") + 1 if cut else 0 :].split(b"\n")
    except FileNotFoundError:
        return None
    except OSError as error:
        return ClassEntry(path=path, unread=read_words(error))
    reading = read_bytes(first)
    if not first or (reading.torn and reading.header is None):
        # A class that died before it began: nothing was ever acknowledged.
        return None
    header = reading.header
    if header is None:
        why = str(reading.damage[0]) if reading.damage else "its first line does not say what the class started from"
        return ClassEntry(path=path, ended=ended, damage=len(reading.damage), unread=why)
    return ClassEntry(
        path=path,
        started=header.started,
        session=header.session,
        athletes=len(header.roster.athletes),
        rehearsal=header.rehearsal,
        paper=header.paper,
        ended=ended,
        running=not ended and is_open(path),
        damage=len(reading.damage) + sum(1 for line in lines[:-1] if line.strip() and not is_whole(line.rstrip(b"\r"))),
    )


def _ends_class(data: bytes) -> bool:
    """Whether a whole line of these bytes says that the class was ended."""
    at = data.find(_ENDED)
    while at >= 0:
        end = data.find(b"\n", at)
        end = len(data) if end < 0 else end
        if is_whole(data[data.rfind(b"\n", 0, at) + 1 : end].rstrip(b"\r")):
            return True
        at = data.find(_ENDED, end)
    return False
