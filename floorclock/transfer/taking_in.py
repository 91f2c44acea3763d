"""Takes exported records back in.

Invariant: everything is read and checked before anything is written, and one thing wrong means that nothing is; each journal is
then there whole or not at all, and none is ever put over another. One class is in memory at a time.
"""

from __future__ import annotations

import contextlib
import csv
import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from floorclock.errors import InputProblems, NotFound, Problem, ResourceError, WrongUsage
from floorclock.journal.disk import Disk, disk_words
from floorclock.journal.home import JOURNAL_SUFFIX, classes_folder
from floorclock.journal.kept_lines import read_lines
from floorclock.journal.replacing import put_journal
from floorclock.people.register import FILE as PEOPLE
from floorclock.people.register import TakenDecisions, register_of, take_decisions
from floorclock.transfer.export import CLASSES
from floorclock.transfer.lossless import EVENT_COLUMNS, CarriedLine, ChangedLine, from_json, from_row

LONGEST_LINE = 1 << 24
LARGEST_JOURNAL = 1 << 26
MOST_PROBLEMS = 100

Found = tuple[int, CarriedLine | str]
"""The row of a file, and the line of a journal in it, or what is wrong."""


@dataclass(frozen=True, slots=True)
class Carried:
    """One journal of a file: where it begins there, and its content."""

    class_id: str
    row: int
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What came in. `same` were here already; `older` are here with more in them; `different` are here with another content."""

    source: str
    taken: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    older: tuple[str, ...] = ()
    different: tuple[str, ...] = ()
    decisions: TakenDecisions = field(default_factory=TakenDecisions)

    @property
    def words(self) -> str:
        """What happened, in a few lines."""
        lines = [f"{self.source}: {len(self.taken)} classes taken in, {len(self.same)} were here already."]
        lines += what_was_left(self.older, self.different, self.decisions, "taken in")
        return "\n".join(lines)


def what_was_left(older: Sequence[str], different: Sequence[str], decisions: TakenDecisions, done: str) -> list[str]:
    """What stayed as it was here, and what was decided of people; `done` is what happened to the rest (`taken in`)."""
    lines = []
    if older:
        lines.append(f"Here with more in them, so left: {', '.join(older)}.")
    if different:
        lines.append(f"Here with another content, so left as they are: {', '.join(different)}.")
    if decisions.taken or decisions.left:
        left = f"; {decisions.left} go against what was decided here and were left" if decisions.left else ""
        lines.append(f"Who is the same person: {decisions.taken} decisions {done}{left}.")
    return lines


def take_in(home: Path, source: Path, *, disk: Disk | None = None) -> TakenIn:
    """Takes in an exported folder, its `classes.jsonl`, or its `events.csv`.

    Raises:
        InputProblems: something in the file is wrong; everything that is, with file and row. Nothing was taken then.
        NotFound: there is nothing of ours.
        ResourceError: it cannot be read, or the disk refuses; each class is there whole or not at all.
    """
    file = source / CLASSES if source.is_dir() else source
    if not file.is_file():
        raise NotFound(f"there is no file {file}")
    problems: list[Problem] = []
    sums: dict[str, bytes] = {}
    for one in _journals(file, problems.append):
        if one.class_id in sums:
            problems.append(_problem(file, one.row, f"class {one.class_id} stood further up already", "keep its lines together"))
        sums[one.class_id] = hashlib.sha256(one.data).digest()
        if len(problems) >= MOST_PROBLEMS:
            break
    if problems:
        raise InputProblems(problems[:MOST_PROBLEMS])
    if not sums:
        raise NotFound(f"there is no class in {file}")
    shelf = Placing(home, disk)
    for one in _journals(file, problems.append):
        if problems or sums.get(one.class_id) != hashlib.sha256(one.data).digest():
            raise WrongUsage(f"{file} was changed while it was read; do it again")
        shelf.place(one.class_id, one.data)
    people = source / PEOPLE
    decisions = TakenDecisions()
    if source.is_dir() and people.is_file():
        reading = read_lines(people)
        decisions = take_decisions(home, register_of(reading.lines, reading.damaged), disk=disk)
    return TakenIn(
        source=source.name,
        taken=tuple(shelf.taken),
        same=tuple(shelf.same),
        older=tuple(shelf.older),
        different=tuple(shelf.different),
        decisions=decisions,
    )


class Placing:
    """Puts journals where none of their id is, and remembers what it met."""

    def __init__(self, home: Path, disk: Disk | None = None) -> None:
        self.taken: list[str] = []
        self.same: list[str] = []
        self.older: list[str] = []
        self.different: list[str] = []
        self._folder = classes_folder(home)
        self._disk = disk

    def place(self, class_id: str, data: bytes) -> None:
        """Takes one journal, unless something of its id is here.

        Raises:
            ResourceError: the disk refuses, or the class is open in a floor.
        """
        path = self._folder / f"{class_id}{JOURNAL_SUFFIX}"
        try:
            here = path.read_bytes() if path.exists() else None
        except OSError as error:
            raise ResourceError(f"the journal of class {class_id} cannot be read: {disk_words(error)}") from error
        if here is None:
            put_journal(path, data, self._disk)
            self.taken.append(class_id)
        elif here == data:
            self.same.append(class_id)
        else:
            (self.older if here.startswith(data) else self.different).append(class_id)


def _journals(file: Path, say: Callable[[Problem], None]) -> Iterator[Carried]:
    """The journals of a file, one after the other; what is wrong goes to `say`."""
    data = bytearray()
    first, last, lost = 0, None, False
    for row, found in _lines(file):
        if isinstance(found, str):
            say(_problem(file, row, found))
            lost = True
            continue
        if last is not None and found.class_id == last.class_id:
            expected, follows_open = last.number + 1, last.open
        else:
            if last is not None:
                yield Carried(last.class_id, first, bytes(data))
            data, first, expected, follows_open = bytearray(), row, 1, False
        if (found.number != expected or follows_open) and not lost:
            message = f"line {found.number} of class {found.class_id} stands where its line {expected} should be"
            say(_problem(file, row, message, "keep the lines as they went out"))
        data += found.data + (b"" if found.open else b"\n")
        if len(data) > LARGEST_JOURNAL:
            say(_problem(file, row, f"class {found.class_id} is too large for one"))
            data.clear()
        last, lost = found, False
    if last is not None:
        yield Carried(last.class_id, first, bytes(data))


def _lines(file: Path) -> Iterator[Found]:
    try:
        yield from _csv_lines(file) if file.suffix.lower() == ".csv" else _json_lines(file)
    except OSError as error:
        raise ResourceError(f"{file} cannot be read: {disk_words(error)}") from error


def _json_lines(file: Path) -> Iterator[Found]:
    with file.open("rb") as lines:
        number = 0
        while raw := lines.readline(LONGEST_LINE):
            number += 1
            if len(raw) >= LONGEST_LINE and not raw.endswith(b"\n"):
                yield number, "the line is too long"
                return
            if raw.strip():
                yield number, _tried(lambda raw=raw: from_json(raw))  # type: ignore[misc]


def _csv_lines(file: Path) -> Iterator[Found]:
    with _wide_fields(), file.open(encoding="utf-8-sig", errors="surrogateescape", newline="") as text:
        first = text.readline(LONGEST_LINE)
        delimiter = max(",;\t", key=first.count)
        columns = next(csv.reader([first], delimiter=delimiter), [])
        missing = [name for name in ("class", "line", "form", "record") if name not in columns]
        if missing:
            yield 1, f"the column `{missing[0]}` is missing; the columns are {', '.join(EVENT_COLUMNS)}"
            return
        rows = csv.reader(text, delimiter=delimiter, strict=True)
        number = 2
        try:
            for fields in rows:
                if any(fields):
                    values = dict(zip(columns, fields, strict=False))
                    yield number, _tried(lambda values=values: from_row(values))  # type: ignore[misc]
                number = rows.line_num + 2
        except csv.Error as error:
            yield number, f"this is not CSV: {error}"


def _tried(read: Callable[[], CarriedLine]) -> CarriedLine | str:
    try:
        return read()
    except ChangedLine as reason:
        return str(reason)


@contextlib.contextmanager
def _wide_fields() -> Iterator[None]:
    """A plan stands in one field, and may be longer than the reader's usual limit."""
    usual = csv.field_size_limit(LONGEST_LINE)
    try:
        yield
    finally:
        csv.field_size_limit(usual)


def _problem(file: Path, row: int, message: str, hint: str = "") -> Problem:
    return Problem(file.name, row, 1, "", message, hint)
