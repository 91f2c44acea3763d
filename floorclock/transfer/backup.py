"""One file with everything (journals, who is the same person, settings): a compressed tar of plain files with their sums.

Invariant: the file is there whole or not at all; each journal in it is as it stood at one moment, up to its last whole line where
a class runs. The last file has the SHA-256 sum of every other one in the form that the usual checking tools read: a backup can
be checked and unpacked without floorclock; no name but those that stand here is in one.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import re
import tarfile
import zlib
from collections.abc import Generator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO

from floorclock import __version__
from floorclock.errors import FloorclockError, InputProblems, NotFound, Problem, ResourceError
from floorclock.journal.disk import bytes_if_there, open_file, read_words
from floorclock.journal.files import new_file
from floorclock.journal.home import JOURNAL_SUFFIX
from floorclock.journal.instants import instant_text
from floorclock.journal.settings import FILE as SETTINGS
from floorclock.live.conductor import SystemClock
from floorclock.people.register import FILE as PEOPLE
from floorclock.people.register import people_path
from floorclock.plan.names import counted
from floorclock.transfer.export import OutgoingJournals

ABOUT = "backup.json"
SUMS = "SHA256SUMS"
FORMAT = 1
CLASSES = "classes/"
CLASS_ID = re.compile(r"[0-9A-Za-z][0-9A-Za-z_-]{0,79}")
"""What may name a class that comes in: it becomes the name of a file."""
MOST_FILES = 200_000
LARGEST_JOURNAL = 1 << 26
LARGEST_SETTINGS = 1 << 20
FREE_BYTES = 1 << 27
MOST_TIMES = 150
"""Unpacked, a backup is this many times its size at most, but for the first `FREE_BYTES`: journals shrink to a tenth or so."""
_SUM = re.compile(rb"([0-9a-f]{64})  ([^\0\n]+)\n")
_JOURNAL = re.compile(rf"{CLASSES}({CLASS_ID.pattern}){re.escape(JOURNAL_SUFFIX)}")
_UNREADABLE = (tarfile.TarError, EOFError, zlib.error, gzip.BadGzipFile, ValueError)


@dataclass(frozen=True, slots=True)
class Packed:
    """One file of a backup; `class_id` where it is a journal."""

    name: str
    data: bytes
    class_id: str = ""


class BadBackup(InputProblems):
    """A backup that is refused whole."""

    def __init__(self, path: Path, message: str, hint: str = "") -> None:
        super().__init__([Problem(path.name, 0, 0, "", message, hint or "nothing was restored; take another backup")])


class Packer:
    """Writes a backup, file by file."""

    def __init__(self, out: IO[bytes]) -> None:
        self._gzip = gzip.GzipFile(filename="", fileobj=out, mode="wb", compresslevel=6, mtime=0)
        self._tar = tarfile.open(fileobj=self._gzip, mode="w|", format=tarfile.PAX_FORMAT)  # noqa: SIM115 - closed by `close`
        self._sums: list[bytes] = []

    def add(self, name: str, data: bytes, mtime_s: float) -> None:
        """Adds one file."""
        self._sums.append(f"{hashlib.sha256(data).hexdigest()}  {name}\n".encode())
        self._put(name, data, mtime_s)

    def close(self, mtime_s: float) -> None:
        """Adds the sums and ends the backup."""
        self._put(SUMS, b"".join(self._sums), mtime_s)
        self._tar.close()
        self._gzip.close()

    def _put(self, name: str, data: bytes, mtime_s: float) -> None:
        entry = tarfile.TarInfo(name)
        entry.size, entry.mode, entry.mtime = len(data), 0o600, int(mtime_s)
        self._tar.addfile(entry, io.BytesIO(data))
        # The library would keep every entry.
        self._tar.members = []  # type: ignore[attr-defined]


def packed_files(path: Path) -> Generator[Packed, None, None]:
    """The files of a backup in their order, the sums last; one in memory at a time. Close it when no more are wanted.

    Raises:
        NotFound: there is no such file.
        BadBackup: it is none, or torn, or holds what a backup never holds.
        ResourceError: the disk does not give it.
    """
    try:
        with open_file(path) as file, gzip.GzipFile(fileobj=file) as unpacked:
            yield from _entries(path, unpacked, path.stat().st_size)
            # To the end, where the check of the whole stands.
            while unpacked.read(1 << 16):
                pass
    except FileNotFoundError:
        raise NotFound(f"there is no file {path}") from None
    except FloorclockError:
        raise
    except _UNREADABLE as error:
        raise BadBackup(path, f"this is no whole backup ({type(error).__name__})") from None
    except OSError as error:
        raise ResourceError(f"{path} cannot be read: {read_words(error)}") from error


def sums_of(path: Path, data: bytes) -> dict[str, str]:
    """The sums by file name.

    Raises:
        BadBackup: they are not in their form.
    """
    found = _SUM.findall(data)
    if b"".join(b"%b  %b\n" % pair for pair in found) != data:
        raise BadBackup(path, "its sums cannot be read")
    return {name.decode("utf-8", "replace"): digest.decode("ascii") for digest, name in found}


def _entries(path: Path, unpacked: gzip.GzipFile, size: int) -> Generator[Packed, None, None]:
    # A compressed file can unpack to a thousand times its size: more than any records would is refused before it is read.
    left = FREE_BYTES + MOST_TIMES * size
    names: set[str] = set()
    with tarfile.open(fileobj=_Counted(path, unpacked, left), mode="r|") as tar:
        for entry in tar:
            tar.members = []  # type: ignore[attr-defined]
            class_id = _allowed(path, entry)
            if entry.name in names:
                raise BadBackup(path, "a file is in it twice")
            names.add(entry.name)
            if len(names) > MOST_FILES:
                raise BadBackup(path, "there are too many files in it")
            file = tar.extractfile(entry)
            data = file.read() if file is not None else b""
            if len(data) != entry.size:
                raise BadBackup(path, "it is torn")
            yield Packed(entry.name, data, class_id)


def _allowed(path: Path, entry: tarfile.TarInfo) -> str:
    """The class of an entry, empty for the other files; a link, a device or a path that leads elsewhere is refused."""
    if not entry.isreg() or entry.issparse():
        raise BadBackup(path, "there is something in it that is no plain file")
    found = _JOURNAL.fullmatch(entry.name)
    if found is None and entry.name not in (ABOUT, PEOPLE, SETTINGS, SUMS):
        raise BadBackup(path, "there is a file in it that no backup has")
    largest = LARGEST_SETTINGS if entry.name in (ABOUT, SETTINGS) else 256 * MOST_FILES if entry.name == SUMS else LARGEST_JOURNAL
    if entry.size > largest:
        raise BadBackup(path, "a file in it is too large")
    return found[1] if found else ""


class _Counted(io.RawIOBase):
    """Reads on, until more came than there may be."""

    def __init__(self, path: Path, file: gzip.GzipFile, most: int) -> None:
        super().__init__()
        self._path, self._file, self._left = path, file, most

    def read(self, size: int = -1, /) -> bytes:
        data = self._file.read(size)
        self._left -= len(data)
        if self._left < 0:
            raise BadBackup(self._path, "it unpacks to far more than any records would")
        return data


def back_up(home: Path, file: Path, *, wall: datetime | None = None) -> str:
    """Writes a backup; classes may run meanwhile.

    Returns:
        What there is now, in a few lines.

    Raises:
        NotFound: nothing has been recorded.
        WrongUsage: the file is there already.
        ResourceError: the disk refuses; nothing is left then.
    """
    journals = OutgoingJournals(home)
    now = wall or SystemClock().wall()
    at_s = now.timestamp()
    count = 0
    with new_file(file) as out:
        packer = Packer(out)
        about = {"format": FORMAT, "made": instant_text(now), "floorclock": __version__}
        packer.add(ABOUT, json.dumps(about).encode("ascii"), at_s)
        for path in (people_path(home), home / SETTINGS):
            data = _bytes_of(path)
            if data:
                packer.add(path.name, data, at_s)
        for path, data in journals:
            packer.add(f"{CLASSES}{path.name}", data, _changed_s(path, at_s))
            count += 1
        packer.close(at_s)
    words = f"{file}: {counted(count, 'class')}, {file.stat().st_size / 1e6:.1f} MB, every file with its SHA-256 sum."
    ends = "It holds names, and keeps whoever is forgotten later: keep it safe, and not for ever."
    return "\n".join([words, *journals.left_out, ends])


def _bytes_of(path: Path) -> bytes:
    """The content of a file of lines up to its last whole line, or of another file as it is."""
    data = bytes_if_there(path, str(path))
    return data[: data.rfind(b"\n") + 1] if path.suffix == ".jsonl" else data


def _changed_s(path: Path, otherwise_s: float) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return otherwise_s
