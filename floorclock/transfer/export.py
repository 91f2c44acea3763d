"""Everything that was recorded, for other programs: one folder.

Invariant: `classes.jsonl`, and `events.csv` too, hold every journal to the byte; the other tables are for people. No more than
one class is in memory. A class that runs goes out up to its last whole line.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from floorclock.errors import NotFound, ResourceError
from floorclock.journal.disk import disk_words, open_private
from floorclock.journal.lock import is_open
from floorclock.journal.reading import read_bytes
from floorclock.journal.redact import FORGOTTEN
from floorclock.people.known import journals_of
from floorclock.people.register import FILE as PEOPLE
from floorclock.people.register import canonical_names, people_path
from floorclock.transfer.cells import row
from floorclock.transfer.lossless import EVENT_COLUMNS, journal_lines, to_json, to_row
from floorclock.transfer.putting import new_folder, open_text
from floorclock.transfer.tables import COLUMNS, Tables

CLASSES, EVENTS = "classes.jsonl", "events.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What went out. `running` are classes that went out up to the moment."""

    folder: Path
    classes: int
    lines: int
    splits: int
    running: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What there is now, in a few lines."""
        words = [
            f"{self.folder}: {self.classes} classes, {self.lines} lines, {self.splits} splits.",
            f"{CLASSES} and {EVENTS} hold everything, for floorclock import; the other tables are for reading.",
        ]
        if self.running:
            words.append(f"Still running, so as far as it was: {', '.join(self.running)}.")
        return "\n".join([*words, "These files hold names: keep them as safe as the records."])


def export(home: Path, folder: Path) -> Exported:
    """Writes everything into a new folder.

    Raises:
        NotFound: nothing has been recorded.
        WrongUsage: the folder is there already and not empty.
        ResourceError: the disk refuses, or a journal cannot be read; nothing is left then.
    """
    journals = journals_of(home)
    if not journals:
        raise NotFound("no class has been recorded yet")
    with new_folder(folder) as made, contextlib.ExitStack() as files:
        out: dict[str, IO[str]] = {name: files.enter_context(open_text(made / f"{name}.csv")) for name in (*COLUMNS, "events")}
        descriptor = open_private(made / CLASSES, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
        lossless = files.enter_context(os.fdopen(descriptor, "wb"))
        for name, columns in COLUMNS.items():
            out[name].write(row(columns))
        out["events"].write(row(EVENT_COLUMNS))
        writer = _Writer(out, lossless, canonical_names(home))
        for path in journals:
            writer.add(path)
        for values in writer.tables.people():
            out["people"].write(row(values))
        if people_path(home).exists():
            with os.fdopen(open_private(made / PEOPLE, os.O_WRONLY | os.O_CREAT | os.O_EXCL), "wb") as file:
                file.write(people_path(home).read_bytes())
    return Exported(
        folder=folder, classes=writer.classes, lines=writer.lines, splits=writer.splits, running=tuple(writer.running)
    )


def journal_bytes(path: Path) -> tuple[bytes, bool]:
    """The bytes of a journal, and whether some floor has it open; then up to its last whole line.

    Raises:
        ResourceError: it cannot be read.
    """
    try:
        # Looked at before it is read: a class that ends meanwhile loses nothing.
        running = is_open(path)
        data = path.read_bytes()
    except FileNotFoundError:
        return b"", False
    except OSError as error:
        raise ResourceError(f"the journal of class {path.stem} cannot be read: {disk_words(error)}") from error
    return (data[: data.rfind(b"\n") + 1] if running else data), running


class _Writer:
    def __init__(self, out: Mapping[str, IO[str]], lossless: IO[bytes], canonical: Mapping[str, str]) -> None:
        self.tables = Tables(canonical)
        self.classes = self.lines = self.splits = 0
        self.running: list[str] = []
        self._out, self._lossless = out, lossless

    def add(self, path: Path) -> None:
        data, running = journal_bytes(path)
        if not data:
            return
        self.classes += 1
        self.running += [path.stem] if running else []
        for line in journal_lines(path.stem, data):
            self._lossless.write(to_json(line))
            self._out["events"].write(row(to_row(line)))
            self.lines += 1
        for table, values in self.tables.rows_of(path.stem, read_bytes(data), _forgotten_in(data)):
            self._out[table].write(row(values))
            self.splits += table == "splits"


def _forgotten_in(data: bytes) -> int:
    """How many people were taken out of a class, by its first line."""
    try:
        values = json.loads(data[: data.find(b"\n")])
    except ValueError:
        return 0
    count = values.get(FORGOTTEN, 0) if isinstance(values, dict) else 0
    return count if isinstance(count, int) else 0
