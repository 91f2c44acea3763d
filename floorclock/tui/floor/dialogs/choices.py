"""Things to choose from, in one column or several, with a cursor that moves by arrows.

Invariant: the cursor is always on a choice that exists, and always among the lines shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from floorclock.tui.base.lines import cut
from floorclock.tui.floor.dialogs.parts import Line, Part, padded


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to choose. `key` is the key that chooses it, as Textual names it or as it prints; empty for none.

    `shown` is what is printed for the key. `faint` marks what cannot be chosen now: choosing it says why.
    """

    label: str
    key: str = ""
    shown: str = ""
    note: str = ""
    faint: bool = False


def moved(cursor: int, key: str, count: int, columns: int, rows: int) -> int | None:
    """Where the cursor goes on a key among `count` choices; None when the key moves no cursor."""
    steps = {"up": -columns, "down": columns, "pageup": -columns * rows, "pagedown": columns * rows, "home": -count, "end": count}
    if columns > 1:
        steps |= {"left": -1, "right": 1}
    if key not in steps:
        return None
    there = cursor + steps[key]
    if key in ("up", "down") and not 0 <= there < count:
        return cursor
    return max(0, min(count - 1, there))


def columns_in(width: int, count: int, cell_width: int) -> int:
    """How many columns of at least `cell_width` cells stand side by side."""
    return max(1, min(width // cell_width, count))


def window_start(at: int, count: int, rows: int) -> int:
    """The first of the `rows` rows shown so that row `at` of `count` is among them, near the middle."""
    return max(0, min(at - rows // 2, count - rows))


def choice_lines(choices: Sequence[Choice], cursor: int, width: int, rows: int, columns: int = 1) -> list[Line]:
    """The choices row by row, at most `rows` lines of them: the window that holds the cursor."""
    if not choices or rows <= 0:
        return []
    needed = -(-len(choices) // columns)
    first = window_start(cursor // columns, needed, rows)
    key_cells = max(cell_len(choice.shown) for choice in choices)
    size = width // columns
    lines = []
    for row in range(first, min(needed, first + rows)):
        numbers = range(row * columns, min(len(choices), (row + 1) * columns))
        lines.append(tuple(part for at in numbers for part in _cell(choices[at], at, at == cursor, size, key_cells)))
    return lines


def _cell(choice: Choice, at: int, chosen: bool, size: int, key_cells: int) -> list[Part]:
    key = ("›" if chosen else " ") + (padded(choice.shown, key_cells) + " " if key_cells else "")
    room = max(0, size - cell_len(key) - 1)
    # The label keeps two thirds of the room where it needs them; a note is cut before it.
    label_cells = max(min(cell_len(choice.label), room - cell_len(choice.note) - 2), min(cell_len(choice.label), room * 2 // 3))
    note = cut(choice.note, room - label_cells - 2) if room - label_cells > 3 else ""
    label = padded(choice.label, room - (cell_len(note) + 2 if note else 0))
    tail = f"  {note} " if note else " "
    if chosen:
        return [Part(key + label + tail, "chosen", at)]
    return [Part(key, "key", at), Part(label, "faint" if choice.faint else "text", at), Part(tail, "faint", at)]
