"""What the rules of a part share: values from a tree however broken, and a place for what they find.

Invariant: a value that cannot be read is None here; the shapes have already complained about it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from floorclock.errors import Problem
from floorclock.plan.document import Document, Path, Tree
from floorclock.plan.durations import parse_duration_ms
from floorclock.plan.quantities import parse_count

MOST_INTERVALS = 10_000
Mapped = Mapping[str, Tree]
_T = TypeVar("_T")


def readable(mapping: Mapped, key: str, parse: Callable[[str], _T]) -> _T | None:
    """A value where it can be read, None where it is left out or wrong."""
    text = mapping.get(key)
    if not isinstance(text, str):
        return None
    try:
        return parse(text)
    except ValueError:
        return None


def whole_number(mapping: Mapped, key: str) -> int | None:
    """A whole number above zero, None where it is left out or wrong."""
    return readable(mapping, key, lambda text: parse_count(text, 1))


def mappings(mapping: Mapped, key: str) -> Iterator[tuple[Path, Mapped]]:
    """The items of a list that are mappings, each with its steps."""
    items = mapping.get(key)
    if isinstance(items, list):
        yield from (((key, index), item) for index, item in enumerate(items) if isinstance(item, dict))


def kind_of(part: Mapped) -> str:
    """The kind of a part, empty where it says none."""
    kind = part.get("kind")
    return kind.strip() if isinstance(kind, str) else ""


class PartRules:
    """The rules of one part; `say` collects what they find."""

    def __init__(self, document: Document, path: Path, part: Mapped) -> None:
        self.document = document
        self.path = path
        self.part = part
        self.kind = kind_of(part)
        self.found: list[Problem] = []

    def say(self, steps: Path, message: str, hint: str = "", *, at_key: bool = False) -> None:
        """Something at `steps` of the part does not fit."""
        self.found.append(self.document.problem((*self.path, *steps), message, hint, at_key=at_key))

    def duration(self, key: str) -> int | None:
        """A duration of the part, None where it is left out or wrong."""
        return readable(self.part, key, parse_duration_ms)
