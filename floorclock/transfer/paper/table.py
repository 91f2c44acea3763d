"""The CSV file of a paper class as rows of texts, each with its line and the column of every field.

Invariant: knows columns, not what stands in them. The format is that of RFC 4180; a semicolon or a tab between the fields is
taken too, whichever the first line has most of. In such a file a comma in a number is a decimal comma; in one parted by commas
it is none.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass

from floorclock.errors import Problem
from floorclock.plan.durations import shown
from floorclock.plan.names import nearest

NEEDED = ("part", "round", "station", "athlete", "split")
ALSO_READ = ("status", "time", "rounds", "reps", "move", "team", "load", "score")
"""Columns of `review --csv` with what the others lack: results, who did not finish, an option's move, teams, loads, scores."""
READ_PAST = ("rest", "flags")
SET = re.compile(r"score ([1-9][0-9]{0,3})")
"""The column of what was counted in one set, from 1."""
LONGEST_FIELD = 400
MOST_COLUMNS = 100


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: its line, the text of each column that is read (one that is not there is empty), and where each stands."""

    line: int
    fields: dict[str, str]
    columns: dict[str, int]

    def __getitem__(self, column: str) -> str:
        return self.fields.get(column, "")


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of a file and where its columns are (from 1). `delimiter` is what parts the fields.

    Of a sheet of grids, `people` are the lines of people, filled in or not, and `minutes` the line that says how long it was.
    """

    file: str
    delimiter: str
    columns: dict[str, int]
    rows: tuple[SheetRow, ...]
    people: tuple[SheetRow, ...] = ()
    minutes: SheetRow | None = None
    is_grid: bool = False

    @property
    def decimal_comma(self) -> bool:
        """Whether a comma in a number is a decimal point."""
        return self.delimiter != ","

    def problem(self, row: SheetRow, column: str, message: str, hint: str = "") -> Problem:
        """A problem with one field."""
        return Problem(self.file, row.line, row.columns.get(column, 1), column, message, hint)


class SheetReader:
    """A CSV file, record by record, and what is wrong with it so far."""

    def __init__(self, file: str, delimiter: str) -> None:
        self.file, self.delimiter = file, delimiter
        self.problems: list[Problem] = []
        self.is_csv = True

    def records(self, text: str) -> Iterator[tuple[int, list[str]]]:
        """Each record with the line it begins on; what is no CSV is said to be none, and nothing more comes."""
        records, line = csv.reader(io.StringIO(text, newline=""), delimiter=self.delimiter, strict=True), 1
        try:
            for record in records:
                yield line, record
                line = records.line_num + 1
        except csv.Error as error:
            self.is_csv = False
            self.say(line, 1, f"this is not CSV: {error}", 'put a field with commas or quotes in "quotes"')

    def say(self, line: int, column: int, message: str, hint: str = "", path: str = "") -> None:
        """Takes note of a problem."""
        self.problems.append(Problem(self.file, line, column, path, message, hint))


def read_table(text: str, file: str) -> tuple[Table | None, list[Problem]]:
    """The rows of a file in the long form, or None and why there are none. Problems that leave rows come along with them."""
    return _LongReader(file, max(",;\t", key=text.split("\n", 1)[0].count)).read(text)


class _LongReader(SheetReader):
    def __init__(self, file: str, delimiter: str) -> None:
        super().__init__(file, delimiter)
        self.columns: dict[str, int] = {}
        self.width = 0

    def read(self, text: str) -> tuple[Table | None, list[Problem]]:
        rows: list[SheetRow] = []
        for line, record in self.records(text):
            if not self.width:
                self._header(record)
            elif any(field.strip() for field in record):
                rows.append(self._row(record, line))
        if self.is_csv and not self.width:
            self.say(1, 1, "the file is empty", f"begin with the line {','.join(NEEDED)}")
        if not self.is_csv or any(name not in self.columns for name in NEEDED):
            return None, self.problems
        return Table(self.file, self.delimiter, self.columns, tuple(rows)), self.problems

    def _header(self, record: list[str]) -> None:
        names = [field.strip().lower() for field in record[:MOST_COLUMNS]]
        self.width = max(1, len(record))
        for number, name in enumerate(names, start=1):
            if name in self.columns:
                self.say(1, number, f"the column {shown(name)} stands here twice", "keep one of them")
            elif name in NEEDED or name in ALSO_READ or SET.fullmatch(name):
                self.columns[name] = number
        missing = [name for name in NEEDED if name not in self.columns]
        others = [name for name in names if name and name not in (*self.columns, *READ_PAST)]
        for name in missing if any(names) else ():
            near = nearest(name, others)
            hint = f"is that the column {shown(near)}?" if near else f"the columns are {','.join(NEEDED)}"
            self.say(1, names.index(near) + 1 if near in names else 1, f"the column `{name}` is missing", hint)
        if not any(names):
            self.say(1, 1, "the first line has no column names", f"begin with the line {','.join(NEEDED)}")

    def _row(self, record: list[str], line: int) -> SheetRow:
        if len(record) > self.width:
            message = f"{len(record):,} fields, but the first line has {self.width}"
            self.say(line, self.width + 1, message, 'put a field with commas in "quotes"')
        fields: dict[str, str] = {}
        for name, number in self.columns.items():
            field = record[number - 1].strip() if number <= len(record) else ""
            if len(field) > LONGEST_FIELD:
                self.say(line, number, f"{len(field):,} characters are too many here", f"at most {LONGEST_FIELD}", name)
                field = field[:LONGEST_FIELD]
            fields[name] = field
        return SheetRow(line, fields, self.columns)
