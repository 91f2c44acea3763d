"""How a dialog is drawn: lines of parts, cut and padded by terminal cells.

Invariant: a line that `in_width` made fills its width exactly, whatever the names in it; text is never markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from rich.cells import cell_len, set_cell_size
from rich.style import Style

Ink = Literal["text", "faint", "strong", "key", "chosen", "title", "typing", "said", "caution", "typed", "cursor"]

GROUND = "#1b2430"

_COLOURS: dict[Ink, tuple[str, str, bool]] = {
    "text": ("#f2f4f7", GROUND, False),
    "faint": ("#aab4c0", GROUND, False),
    "strong": ("#ffffff", GROUND, True),
    "key": ("#ffd166", GROUND, True),
    "chosen": ("#101820", "#ffd166", True),
    "title": ("#ffffff", "#34506b", True),
    "typing": ("#ffe3a3", "#34506b", False),
    "said": ("#ffb59e", GROUND, True),
    "caution": ("#ffd9a0", GROUND, False),
    "typed": ("#ffffff", "#3a4656", True),
    "cursor": ("#101820", "#f2f4f7", True),
}

STYLES: dict[Ink, Style] = {ink: Style(color=fore, bgcolor=back, bold=bold) for ink, (fore, back, bold) in _COLOURS.items()}


@dataclass(frozen=True, slots=True)
class Part:
    """A run of text in one ink. A click on it chooses number `pick`, where there is one."""

    text: str
    ink: Ink = "text"
    pick: int | None = None


Line = tuple[Part, ...]


def cut(text: str, width: int) -> str:
    """`text` in at most `width` cells; what does not fit ends in an ellipsis."""
    if cell_len(text) <= width:
        return text
    return set_cell_size(text, width - 1).rstrip() + "…" if width > 0 else ""


def padded(text: str, width: int) -> str:
    """`text` in exactly `width` cells, cut or filled with spaces on the right."""
    return set_cell_size(cut(text, width), width)


def in_width(line: Line, width: int) -> Line:
    """The line in exactly `width` cells: the last part that fits only partly is cut, the rest is blank ground."""
    fitted: list[Part] = []
    left = width
    for part in line:
        text = cut(part.text, left)
        fitted.append(Part(text, part.ink, part.pick))
        left -= cell_len(text)
        if left <= 0:
            break
    if left > 0:
        fitted.append(Part(" " * left, "text", line[0].pick if len(line) == 1 else None))
    return tuple(fitted)


def split_line(left: Line, right: Line, width: int) -> Line:
    """`left` from the left edge and `right` at the right edge; `left` gives way."""
    right_cells = sum(cell_len(part.text) for part in right)
    return in_width(left, max(0, width - right_cells)) + right


def wrapped(text: str, width: int) -> list[str]:
    """`text` broken between words into rows of at most `width` cells; a word longer than a row is cut."""
    rows: list[str] = []
    for paragraph in text.splitlines():
        row = ""
        for word in paragraph.split():
            longer = f"{row} {word}" if row else word
            if row and cell_len(longer) > width:
                rows.append(row)
                longer = word
            row = cut(longer, width)
        rows.append(row)
    return rows


def said_lines(text: str, width: int, ink: Ink = "said", at_most: int = 3) -> list[Line]:
    """A message or a paragraph as indented rows, at most so many; none for no words."""
    rows = wrapped(text, width - 2) if text else []
    if len(rows) > at_most:
        rows = [*rows[: at_most - 1], cut(" ".join(rows[at_most - 1 :]), width - 2)]
    return [(Part(f" {row}", ink),) for row in rows]


def title_line(title: str, right: str, width: int) -> Line:
    """The first row of a dialog: what it is, and what keys mean while it is open."""
    room = max(0, width - cell_len(right) - 3)
    return (Part(padded(f" {title}", room), "title"), Part(f"  {right} " if right else "   ", "typing"))


def foot_line(hints: Iterable[tuple[str, str]], width: int) -> Line:
    """What keys do here, as many as fit whole: `Enter yes   Esc no`."""
    parts: list[Part] = []
    left = width - 1
    for key, words in hints:
        cells = cell_len(f"{key} {words}   ")
        if cells - 3 > left:
            break
        parts += [Part(f" {key}", "key"), Part(f" {words}  ", "faint")]
        left -= cells + 1
    return tuple(parts)


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to choose. `key` is the key as Textual names or spells it, empty for none; `shown` what is printed for it.

    `faint` marks what cannot be chosen now; choosing it says why.
    """

    label: str
    key: str = ""
    shown: str = ""
    note: str = ""
    faint: bool = False


def choice_columns(width: int, count: int, cell_width: int) -> int:
    """How many columns of at least `cell_width` cells stand side by side."""
    return max(1, min(width // cell_width, count))


def choice_lines(choices: Sequence[Choice], cursor: int, width: int, rows: int, cell_width: int) -> list[Line]:
    """The choices row by row in columns, at most `rows` of them: the window that holds the cursor."""
    columns = choice_columns(width, len(choices), cell_width)
    needed = -(-len(choices) // columns)
    first = window_start(cursor // columns, needed, rows)
    key_cells = max((cell_len(choice.shown) for choice in choices), default=0)
    size = width // columns
    lines = []
    for row in range(first, min(needed, first + rows)):
        line: list[Part] = []
        for at in range(row * columns, min(len(choices), (row + 1) * columns)):
            line += _choice_parts(choices[at], at, at == cursor, size, key_cells)
        lines.append(tuple(line))
    return lines


def window_start(at: int, count: int, rows: int) -> int:
    """The first of `rows` rows shown so that row `at` of `count` is among them, near the middle."""
    return max(0, min(at - rows // 2, count - rows))


def _choice_parts(choice: Choice, at: int, chosen: bool, size: int, key_cells: int) -> list[Part]:
    mark = "›" if chosen else " "
    key = f"{mark}{padded(choice.shown, key_cells)} " if key_cells else f"{mark} "
    room = max(0, size - cell_len(key) - 1)
    label, note = choice.label, choice.note
    note = cut(note, max(0, room - min(cell_len(label), max(8, room - cell_len(note) - 2)) - 2)) if note else ""
    label_cells = room - (cell_len(note) + 2 if note else 0)
    words, ink, faint = padded(label, label_cells), "faint" if choice.faint else "text", "faint"
    if chosen:
        return [Part(key + words + (f"  {note}" if note else "") + " ", "chosen", at)]
    parts = [Part(key, "key", at), Part(words, ink, at)]  # type: ignore[arg-type]
    return [*parts, Part(f"  {note} ", "faint", at)] if note else [*parts, Part(" ", "text", at)]
