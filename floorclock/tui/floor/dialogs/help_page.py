"""All keys on one page.

Invariant: any key closes it but those that scroll; a key that could be a tap closes it and goes on to the app.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from floorclock.tui.floor.dialogs.dialog import Dialog
from floorclock.tui.floor.dialogs.parts import Line, Part, hint_line, in_width, padded, title_line

KeyLine = tuple[str, str, str]
"""The group that a key belongs to, the key as it is printed, and what it does."""

WIDEST_HELP = 150


class HelpPage(Dialog[None]):
    """Shows the keys, group by group, in the order they come; in two columns where both have room."""

    widest = WIDEST_HELP

    def __init__(self, keys: Sequence[KeyLine], title: str = "All keys") -> None:
        super().__init__()
        self._keys = tuple(keys)
        self._title = title
        self.top = 0
        self._most, self._page = 0, 1

    def press(self, key: str, character: str) -> bool:
        steps = {"up": -1, "down": 1, "pageup": -self._page, "pagedown": self._page, "home": -self._most, "end": self._most}
        if key in steps:
            self.top = max(0, min(self._most, self.top + steps[key]))
            return True
        self.finish(None)
        return key in ("escape", "enter") or character == "?"

    def paint(self, width: int, height: int) -> list[Line]:
        columns = 2 if width // 2 >= widest_line(self._keys) else 1
        body = side_by_side(key_lines(self._keys, width // columns), columns, width // columns)
        self._page = max(1, height - 2)
        self._most = max(0, len(body) - self._page)
        self.top = min(self.top, self._most)
        shown = body[self.top : self.top + self._page]
        more = (("↑↓", f"more: {self.top + 1} to {self.top + len(shown)} of {len(body)}"),) if self._most else ()
        return [
            title_line(self._title, "", width),
            *shown,
            hint_line(
                (
                    *more,
                    ("any other key", "closes"),
                ),
                width,
            ),
        ]


def key_lines(keys: Sequence[KeyLine], width: int) -> list[list[Line]]:
    """The lines of each group: its heading, then its keys."""
    key_cells = min(max((cell_len(key) for _, key, _ in keys), default=0), max(4, width // 2))
    groups: dict[str, list[Line]] = {}
    for group, key, does in keys:
        lines = groups.setdefault(group, [(Part(f" {group}", "faint"),)])
        lines.append((Part(f" {padded(key, key_cells)}  ", "key"), Part(padded(does, max(0, width - key_cells - 4)))))
    return list(groups.values())


def widest_line(keys: Sequence[KeyLine]) -> int:
    """The cells that the longest line needs."""
    key_cells = max((cell_len(key) for _, key, _ in keys), default=0)
    return key_cells + max((cell_len(does) for _, _, does in keys), default=0) + 4


def side_by_side(groups: Sequence[list[Line]], columns: int, width: int) -> list[Line]:
    """The groups one under the other, or in two columns of nearly one height; a group is never torn apart."""
    flat = [line for group in groups for line in group]
    if columns == 1 or len(groups) < 2:
        return flat
    heights = [sum(len(group) for group in groups[:count]) for count in range(len(groups) + 1)]
    first = min(range(1, len(groups)), key=lambda count: max(heights[count], len(flat) - heights[count]))
    left, right = flat[: heights[first]], flat[heights[first] :]
    return [
        (*in_width(left[row] if row < len(left) else (), width), *(right[row] if row < len(right) else ()))
        for row in range(max(len(left), len(right)))
    ]
