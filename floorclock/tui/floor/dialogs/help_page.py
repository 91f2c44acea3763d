"""All keys on one page.

Invariant: any key closes it but those that scroll; a key that could be a tap closes it and goes on to the app.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from rich.text import Text
from textual.app import ComposeResult
from textual.widgets import Static

from floorclock.tui.floor.dialogs.dialog import FAINT, STRONG, Dialog, Hints, column_width, in_cells, moved_cursor

KeyLine = tuple[str, str, str]
"""The group that a key belongs to, the key as it is printed, and what it does."""

WIDEST_HELP = 150


class HelpPage(Dialog[None]):
    """Shows the keys, group by group, in the order they come; in two columns where both have room."""

    widest = WIDEST_HELP

    def __init__(self, keys: Sequence[KeyLine]) -> None:
        super().__init__()
        self._keys = tuple(keys)
        self._lines: list[Text] = []
        self._top, self._rows = 0, 1

    def body(self) -> ComposeResult:
        yield Static(id="keys", markup=False)

    def press(self, key: str, character: str) -> bool:
        there = moved_cursor(self._top, key, max(1, len(self._lines) - self._rows + 1), self._rows)
        if there is not None:
            self._top = there
            return True
        self.finish(None)
        return character in ("", "?")

    def heading(self, width: int) -> tuple[str, str]:
        return "All keys", ""

    def hints(self) -> Hints:
        last, count = min(self._top + self._rows, len(self._lines)), len(self._lines)
        more = (("↑↓", f"more: {self._top + 1} to {last} of {count}"),) if count > self._rows else ()
        return (*more, ("any other key", "closes"))

    def size_up(self, width: int, height: int) -> None:
        self._lines, self._rows = key_lines(self._keys, width), max(1, height - 2)
        self._top = max(0, min(self._top, len(self._lines) - self._rows))

    def fit(self, width: int, rows: int) -> None:
        self.say_lines("#keys", self._lines[self._top : self._top + rows])


def key_lines(keys: Sequence[KeyLine], width: int) -> list[Text]:
    """The groups one under the other, or in two columns of nearly one height where that cuts nothing; no group is torn apart."""
    key_cells = column_width([key for _, key, _ in keys], max(4, width // 2))
    columns = 2 if width // 2 >= key_cells + column_width([does for _, _, does in keys], width) + 4 else 1
    across = width // columns
    groups: dict[str, list[Text]] = {}
    for group, key, does in keys:
        lines = groups.setdefault(group, [Text(in_cells(f" {group}", across), FAINT)])
        lines.append(Text.assemble((f" {in_cells(key, key_cells)}  ", STRONG), in_cells(does, max(0, across - key_cells - 3))))
    flat = [line for lines in groups.values() for line in lines]
    if columns == 1 or len(groups) < 2:
        return flat
    ends = [sum(map(len, list(groups.values())[:count])) for count in range(1, len(groups))]
    torn = min(ends, key=lambda end: max(end, len(flat) - end))
    return [left + right for left, right in zip_longest(flat[:torn], flat[torn:], fillvalue=Text(" " * across))]
