"""A roster in CSV into the same tree as one in YAML, with the line and the column number of every field.

Invariant: what comes out has the keys of a roster file only; empty fields are left out. The format is that of RFC 4180;
a semicolon or a tab between the fields is taken too.
"""

from __future__ import annotations

import csv
import io

from floorclock.errors import Problem, Severity
from floorclock.plan.document import Document, Path, Place, Tree
from floorclock.plan.durations import shown
from floorclock.plan.fileformat import MOST_ATHLETES, AthleteFile, keys_of
from floorclock.plan.names import first_few, nearest, plural
from floorclock.plan.reader import UnusableError, read_text

LONGEST_FIELD = 4000
COLUMNS = keys_of(AthleteFile)
FIRST = ("first name", "firstname", "first_name", "given name")
LAST = ("last name", "lastname", "last_name", "surname", "family name")
NAMES = ("name", *FIRST, *LAST)


def looks_like_csv(text: str | bytes, file: str) -> bool:
    """By the file's name, else by a first line whose fields are columns of a roster."""
    if file.lower().endswith((".csv", ".tsv")):
        return True
    if file.lower().endswith((".yaml", ".yml")):
        return False
    start = text[:400].decode("utf-8", "replace") if isinstance(text, bytes) else text[:400]
    first = start.removeprefix("\ufeff").split("\n")[0].strip()
    names = [name.strip().strip('"').lower() for name in first.replace(";", ",").replace("\t", ",").split(",")]
    return any(name in NAMES for name in names) and all(name in (*COLUMNS, *NAMES) for name in names)


def read_csv(source: str | bytes, file: str) -> tuple[Document | None, list[Problem]]:
    """The tree of a CSV roster, or None and why there is none."""
    try:
        text = read_text(source, file)
        return _Table(file).read(text)
    except UnusableError as reason:
        return None, [reason.problem]


class _Table:
    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.places: dict[Path, Place] = {(): (1, 1), ("athletes",): (1, 1)}
        self.athletes: list[Tree] = []

    def read(self, text: str) -> tuple[Document | None, list[Problem]]:
        first = text.split("\n", 1)[0]
        delimiter = max(",;\t", key=first.count)
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        columns: list[str] | None = None
        line = 1
        try:
            for row in rows:
                if columns is None:
                    columns = self._header(row)
                elif any(field.strip() for field in row):
                    self._athlete(row, columns, line)
                line = rows.line_num + 1
        except csv.Error as error:
            self._say(line, 1, f"this is not CSV: {error}", 'put a field with commas or quotes in "quotes"')
            return None, self.problems
        if columns is None:
            self._say(1, 1, "the file is empty", f"begin with a line of column names, such as {', '.join(COLUMNS[:4])}")
        if columns is None or not any(name in NAMES for name in columns):
            return None, self.problems
        return Document(self.file, {"athletes": self.athletes}, self.places), self.problems

    def _say(self, line: int, column: int, message: str, hint: str = "", path: str = "", severity: Severity = "error") -> None:
        self.problems.append(Problem(self.file, line, column, path, message, hint, severity))

    def _header(self, row: list[str]) -> list[str]:
        columns = [field.strip().lower() for field in row[:100]]
        for number, name in enumerate(columns, start=1):
            if name in columns[: number - 1] and name in COLUMNS:
                self._say(1, number, f"the column {shown(name)} stands here twice", "keep one of them")
        if not any(name in NAMES for name in columns):
            self._say(1, 1, "the column `name` is missing", "begin with a line of column names, such as name,key,level")
        passed: list[tuple[int, str]] = []
        for number, name in enumerate(columns, start=1):
            if not name or name in (*COLUMNS, *NAMES):
                continue
            meant = nearest(name, COLUMNS)
            if meant and meant not in columns:
                self._say(1, number, f"unknown column {shown(name)}", f"did you mean {meant}?", severity="warning")
            else:
                passed.append((number, shown(name)))
        if passed:
            message = f"passed over: the {plural('column', len(passed))} {first_few([words for _, words in passed])}"
            self._say(1, passed[0][0], message, f"the columns that are read are {', '.join(COLUMNS)}", severity="warning")
        return columns

    def _athlete(self, row: list[str], columns: list[str], line: int) -> None:
        number = len(self.athletes)
        if number > MOST_ATHLETES:
            return
        if len(row) > len(columns):
            message = f"{len(row):,} fields, but the first line has {len(columns)}"
            self._say(line, len(columns) + 1, message, 'put a field with commas in "quotes"', f"athletes[{number}]")
        athlete: dict[str, Tree] = {}
        self.places["athletes", number] = (line, 1)
        for column, (name, field) in enumerate(zip(columns, row, strict=False), start=1):
            if name in COLUMNS and name not in athlete and field.strip():
                path: Path = ("athletes", number, name)
                self.places[path] = (line, column)
                athlete[name] = self._field(name, field, path)
        if "name" not in athlete:
            # A first and a last name in columns of their own.
            fields = {name: (at, field.strip()) for at, (name, field) in enumerate(zip(columns, row, strict=False), start=1)}
            parts = [fields[name] for name in (*FIRST, *LAST) if name in fields and fields[name][1]]
            if parts:
                self.places["athletes", number, "name"] = (line, parts[0][0])
                athlete["name"] = " ".join(field for _, field in parts)
        self.athletes.append(athlete)

    def _field(self, name: str, field: str, path: Path) -> Tree:
        """A field as the tree that YAML would have for it: `move=value; move=value`, `move; move`, or the text."""
        if len(field) > LONGEST_FIELD:
            self._say(*self.places[path], f"{len(field):,} characters are too many here", f"at most {LONGEST_FIELD:,}")
            return field[:40] if name == "name" else {}
        pieces = [piece.strip() for piece in field.split(";") if piece.strip()]
        if name in ("experienced", "avoid", "with", "not_with"):
            return list(pieces)
        if name not in ("options", "targets", "loads", "best"):
            return field
        pairs: dict[str, Tree] = {}
        for piece in pieces:
            move, sign, value = piece.partition("=")
            if sign and move.strip() not in pairs:
                pairs[move.strip()] = value.strip()
                continue
            message = f"{shown(move.strip())} stands here twice" if sign else f"{shown(piece)} has no `=`"
            hint = "keep one" if sign else "write move=value; move=value"
            self._say(*self.places[path], message, hint, f"athletes[{path[1]}].{name}")
        return pairs
