"""How a dialog is drawn: lines of parts, cut and filled by terminal cells.

Invariant: a line that `in_width` made fills its width exactly, whatever the names in it; text is never markup.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from rich.cells import cell_len
from rich.style import Style

from floorclock.tui.base.lines import cut, shielded, wrapped
from floorclock.tui.base.palette import DIM, GROUND, INK, ORANGE, RAISED

Ink = Literal["text", "faint", "strong", "key", "chosen", "title", "mode", "alert", "typed", "cursor"]

STYLES: dict[Ink, Style] = {
    "text": Style(color=INK, bgcolor=RAISED),
    "faint": Style(color=DIM, bgcolor=RAISED),
    "strong": Style(color=INK, bgcolor=RAISED, bold=True),
    "key": Style(color=INK, bgcolor=RAISED, bold=True),
    "chosen": Style(color=GROUND, bgcolor=INK, bold=True),
    "title": Style(color=GROUND, bgcolor=DIM, bold=True),
    "mode": Style(color=GROUND, bgcolor=DIM),
    "alert": Style(color=ORANGE, bgcolor=RAISED, bold=True),
    "typed": Style(color=INK, bgcolor=GROUND, bold=True),
    "cursor": Style(color=GROUND, bgcolor=INK, bold=True),
}


@dataclass(frozen=True, slots=True)
class Part:
    """A run of text in one ink. A click on it chooses number `pick`, where there is one."""

    text: str
    ink: Ink = "text"
    pick: int | None = None


Line = tuple[Part, ...]


def cells(line: Iterable[Part]) -> int:
    """The terminal cells that the parts take."""
    return sum(cell_len(part.text) for part in line)


def padded(text: str, width: int) -> str:
    """`text` in exactly `width` cells, cut or filled on its right; one that runs from the right keeps to its place."""
    text = cut(text, width)
    return shielded(text) + " " * (width - cell_len(text))


def in_width(line: Line, width: int) -> Line:
    """The line in exactly `width` cells: cut at the end, or filled with blank ground."""
    fitted: list[Part] = []
    left = width
    for part in line:
        if cell_len(part.text) > left:
            part = Part(padded(part.text, left), part.ink, part.pick)
        fitted.append(part)
        left -= cell_len(part.text)
    return (*fitted, Part(" " * left)) if left else tuple(fitted)


def ends(left: Line, right: Line, width: int) -> Line:
    """`left` at the left edge and `right` at the right edge; `left` gives way."""
    return (*in_width(left, max(0, width - cells(right))), *right)


def paragraph(text: str, width: int, ink: Ink = "text", rows: int = 3, mark: str = "") -> list[Line]:
    """Words as indented lines, at most `rows`; `mark` stands before the first. Nothing for no words."""
    if not text:
        return []
    start = f" {mark} " if mark else " "
    room = max(1, width - len(start) - 1)
    lines = wrapped(text, room, rows)
    return [(Part((start if at == 0 else " " * len(start)) + line, ink),) for at, line in enumerate(lines)]


def title_line(title: str, mode: str, width: int) -> Line:
    """The first line of a dialog: what it is, and what keys mean while it is open."""
    right = f"  {mode} " if mode else " "
    return (Part(padded(f" {title}", max(0, width - cell_len(right))), "title"), Part(right, "mode"))


def hint_line(hints: Iterable[tuple[str, str]], width: int) -> Line:
    """What keys do here, as many as fit whole, the first first."""
    line: list[Part] = []
    for key, words in hints:
        hint = [Part(f" {key}", "key"), Part(f" {words} ", "faint")]
        if cells(line) + cells(hint) - 1 > width:
            break
        line += hint
    return tuple(line)
