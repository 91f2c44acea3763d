"""The brief on paper: the same pages as on the wall, one after the other."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

MARKS = {"heading": "", "text": "  ", "caution": "! ", "hint": "> "}


class Page(Protocol):
    """A page of the brief: a title, and lines of (kind, words)."""

    @property
    def title(self) -> str:
        """The part."""

    @property
    def lines(self) -> Sequence[tuple[str, str]]:
        """What is said about it."""


def print_brief(title: str, pages: Iterable[Page], console: Console) -> None:
    """Prints every page."""
    console.print(Text(title, style="bold"))
    for page in pages:
        console.print()
        console.print(Text(page.title, style="bold"))
        for kind, words in page.lines:
            mark = MARKS.get(kind, "")
            style = "bold" if kind in ("heading", "caution") else ""
            console.print(Padding(Text(mark + words, style=style), (0, 0, 0, 0 if kind == "heading" else 2)))
