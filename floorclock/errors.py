"""What can go wrong, as data. The edge (cli, floor) chooses the words and the exit status.

Invariant: everything floorclock raises on purpose is a `FloorclockError`; anything else is a defect.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar, Literal

Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True)
class Fix:
    """The one right answer to a problem: `value` at `path` of its file, or the key there written as `key`."""

    path: tuple[str | int, ...]
    value: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with what a person wrote, and where.

    `line` and `column` count from 1; 0 means the place is not known (the file as a whole).
    `path` names the place in the plan, such as `parts[1].stations[0].target`. `kind` tells apart what may be told together.
    `fix` is there where only one answer is right.
    """

    file: str
    line: int
    column: int
    path: str
    message: str
    hint: str = ""
    severity: Severity = "error"
    kind: str = ""
    fix: Fix | None = None

    def __str__(self) -> str:
        """`file:line:column: path: message (hint)`, leaving out what is not known."""
        place = self.file
        if self.line:
            place += f":{self.line}:{self.column}"
        words = f"{place}: " + (f"{self.path}: " if self.path else "") + self.message
        return words + (f" ({self.hint})" if self.hint else "")


class FloorclockError(Exception):
    """The base of every error that floorclock raises on purpose."""

    exit_status: ClassVar[int] = 1


class InputProblems(FloorclockError):
    """A file that cannot be used as it is; carries every problem found, not only the first."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NotFound(FloorclockError):
    """What was asked for is not there: no such class, no interrupted class, no such athlete."""


class WrongUsage(FloorclockError):
    """The command was called in a way that cannot mean anything."""

    exit_status: ClassVar[int] = 2


class ResourceError(FloorclockError):
    """The machine lacks something: a terminal, a sound device, room on the disk, a free lock."""

    exit_status: ClassVar[int] = 3
