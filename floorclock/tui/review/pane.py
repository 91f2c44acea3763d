"""The body of a screen: lines that stay above and below, and a list between them that scrolls.

Invariant: the chosen line of the list is in sight, and whoever cannot see all of it is told so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Generic, TypeVar

from rich.segment import Segment
from textual import events
from textual.message import Message

from floorclock.tui.base.lines import Line, padded, spread, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import FAINT, TEXT

View = TypeVar("View")


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a pane shows. `chosen` counts in `body`; without it the list scrolls freely.

    The foot stands at the bottom, or, where it `follows`, right under the list.
    """

    head: tuple[Line, ...] = ()
    body: tuple[Line, ...] = ()
    foot: tuple[Line, ...] = ()
    chosen: int | None = None
    follows: bool = False


class Pane(Painted[View | str], Generic[View]):
    """A widget that lays a `Sheet` out, or says why there is none. Subclasses make the sheet."""

    WHEEL_LINES: ClassVar[int] = 3

    @dataclass
    class Pressed(Message):
        """A click on the list: the line of the list (None elsewhere) and the cell, both as the sheet has them."""

        row: int | None
        x: int
        y: int

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.top = 0
        self._most_top = 0
        self._room = 1
        self._head = 0
        self._shown = 0
        self._chosen: int | None = None

    def sheet(self, view: View, width: int, height: int) -> Sheet:
        """The lines of `view`, each `width` wide."""
        raise NotImplementedError

    def paint(self, view: View | str, width: int, height: int) -> list[Line]:
        """The sheet in the room that there is; the foot gives way to the list, and the list to the head."""
        if isinstance(view, str):
            self._shown = 0
            return [padded([Segment(f" {line}", TEXT)], width) for line in wrapped(view, width - 2, height)]
        sheet = self.sheet(view, width, height)
        foot = sheet.foot if height - len(sheet.head) - len(sheet.foot) >= min(3, len(sheet.body)) else ()
        room = max(0, height - len(sheet.head) - len(foot))
        fits = len(sheet.body) <= room
        self._room = max(1, room if fits else room - 1)
        self._most_top = 0 if fits else max(0, len(sheet.body) - self._room)
        if sheet.chosen is not None and sheet.chosen != self._chosen:
            self.top = min(max(self.top, sheet.chosen - self._room + 1), sheet.chosen)
        self._chosen = sheet.chosen
        self.top = max(0, min(self.top, self._most_top))
        shown = sheet.body[self.top : self.top + self._room]
        self._head, self._shown = len(sheet.head), len(shown)
        lines = [*sheet.head, *shown]
        if not fits:
            seen = f"{self.top + 1} to {self.top + len(shown)} of {len(sheet.body)}"
            lines.append(spread([Segment(" ↑↓ more", FAINT)], [Segment(f"{seen} ", FAINT)], width))
        free = [padded((), width)] * max(0, height - len(lines) - len(foot))
        return [*lines, *foot, *free] if sheet.follows else [*lines, *free, *foot]

    @property
    def page(self) -> int:
        """How many lines of the list are in sight."""
        return self._room

    def scroll_lines(self, step: int) -> None:
        """Moves the list without choosing."""
        top = max(0, min(self._most_top, self.top + step))
        if top != self.top:
            self.top = top
            self.repaint_changes()

    def to_top(self) -> None:
        """Begins the list anew."""
        self.top, self._chosen = 0, None

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        event.stop()
        self.scroll_lines(self.WHEEL_LINES)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        event.stop()
        self.scroll_lines(-self.WHEEL_LINES)

    def on_click(self, event: events.Click) -> None:
        at = event.y - self._head
        row = self.top + at if 0 <= at < self._shown else None
        self.post_message(self.Pressed(row, event.x, event.y))
