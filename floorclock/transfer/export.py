"""Everything that was recorded, as tables for a spreadsheet: one folder of CSV files.

Invariant: no more than one class is in memory. A class that runs goes out up to its last whole line; a class that cannot be
read costs no other one and is named.
"""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from pathlib import Path

from floorclock.errors import NotFound, ResourceError
from floorclock.journal.disk import open_private, read_file, read_words
from floorclock.journal.files import new_folder
from floorclock.journal.lock import is_open
from floorclock.journal.reading import read_bytes
from floorclock.journal.shelf import journals_of
from floorclock.people.register import canonical_names
from floorclock.transfer.cells import row
from floorclock.transfer.tables import COLUMNS, Tables


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What went out. `running` are classes that went out up to the moment, `unread` those that could not be read, with why."""

    folder: Path
    classes: int
    splits: int
    running: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What there is now, in a few lines."""
        words = [f"{self.folder}: {self.classes} classes, {self.splits} splits, as tables for a spreadsheet."]
        words += what_was_left_out(self.running, self.unread)
        return "\n".join([*words, "These files hold names: keep them as safe as the records."])


def export(home: Path, folder: Path) -> Exported:
    """Writes everything into a new folder.

    Raises:
        NotFound: nothing has been recorded.
        WrongUsage: the folder is there already and not empty.
        ResourceError: the disk refuses; nothing is left then.
    """
    journals = journals_of(home)
    if not journals:
        raise NotFound("no class has been recorded yet")
    tables = Tables(canonical_names(home))
    counts = dict.fromkeys(COLUMNS, 0)
    running: list[str] = []
    unread: list[str] = []
    with new_folder(folder) as made, contextlib.ExitStack() as files:
        out = {}
        for table, columns in COLUMNS.items():
            descriptor = open_private(made / f"{table}.csv", os.O_WRONLY | os.O_CREAT | os.O_EXCL)
            out[table] = files.enter_context(os.fdopen(descriptor, "w", encoding="utf-8", newline=""))
            out[table].write(row(columns))
        for path in journals:
            try:
                data, runs = journal_bytes(path)
            except ResourceError as error:
                unread.append(str(error))
                continue
            if data:
                running += [path.stem] if runs else []
                for table, values in tables.rows_of(path.stem, read_bytes(data)):
                    out[table].write(row(values))
                    counts[table] += 1
        for values in tables.people():
            out["people"].write(row(values))
    return Exported(
        folder=folder, classes=counts["classes"], splits=counts["splits"], running=tuple(running), unread=tuple(unread)
    )


def journal_bytes(path: Path) -> tuple[bytes, bool]:
    """The bytes of a journal, and whether some floor has it open; then up to its last whole line.

    Raises:
        ResourceError: it cannot be read.
    """
    try:
        # Looked at before it is read: a class that ends meanwhile loses nothing.
        running = is_open(path)
        data = read_file(path)
    except FileNotFoundError:
        return b"", False
    except OSError as error:
        raise ResourceError(f"class {path.stem}: {read_words(error)}") from error
    return (data[: data.rfind(b"\n") + 1] if running else data), running


def what_was_left_out(running: tuple[str, ...], unread: tuple[str, ...]) -> list[str]:
    """Lines that name the classes of which not everything went out."""
    words = []
    if running:
        words.append(f"Still running, so as far as it was: {', '.join(running)}.")
    if unread:
        counted = "1 class" if len(unread) == 1 else f"{len(unread)} classes"
        words.append(f"Left out, {counted} that cannot be read: {'; '.join(unread)}.")
    return words
