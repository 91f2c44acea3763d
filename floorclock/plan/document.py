"""A file that has been read but not yet understood: plain mappings, lists and texts, and where each of them stands.

Invariant: every scalar is the text as written; nothing has been guessed from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from floorclock.errors import Fix, Problem, Severity
from floorclock.plan.durations import shown

Tree: TypeAlias = "str | list[Tree] | dict[str, Tree]"
Path = tuple[str | int, ...]
Place = tuple[int, int]

MOST_PROBLEMS = 100
"""More than this helps nobody; the last one then says how many were left out."""


@dataclass(frozen=True)
class Document:
    """A tree with the places of its values and of its keys, line and column from 1."""

    file: str
    tree: Tree
    places: Mapping[Path, Place] = field(default_factory=dict)
    key_places: Mapping[Path, Place] = field(default_factory=dict)

    def place(self, path: Path) -> Place:
        """Where a value stands, or the nearest thing around it that has a place."""
        while path not in self.places and path:
            path = path[:-1]
        return self.places.get(path, (1, 1))

    def key_place(self, path: Path) -> Place:
        """Where the key of a value stands, or the value where it has no key."""
        return self.key_places.get(path) or self.place(path)

    def problem(
        self,
        path: Path,
        message: str,
        hint: str = "",
        severity: Severity = "error",
        *,
        at_key: bool = False,
        kind: str = "",
        fix: Fix | None = None,
    ) -> Problem:
        """A problem with the value (or the key) at `path`."""
        line, column = self.key_place(path) if at_key else self.place(path)
        return Problem(self.file, line, column, path_words(path), message, hint, severity, kind, fix)


def path_words(path: Path) -> str:
    """`parts[1].stations[0].target` from its steps."""
    words = ""
    for step in path:
        if isinstance(step, int):
            words += f"[{step}]"
        else:
            words += ("." if words else "") + shown(step, 40).strip("`")
    return words


def in_order(problems: list[Problem]) -> tuple[Problem, ...]:
    """The problems in the order of the file, each once, and no more than anybody would read."""
    ordered = sorted(dict.fromkeys(problems), key=lambda problem: (problem.line, problem.column))
    left_out = len(ordered) - MOST_PROBLEMS
    if left_out <= 0:
        return tuple(ordered)
    last = ordered[MOST_PROBLEMS]
    more = Problem(last.file, last.line, last.column, "", f"and {left_out:,} more problems from here on")
    return (*ordered[:MOST_PROBLEMS], more)
