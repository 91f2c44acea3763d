"""Targets from earlier classes, to be given before the start: all of them, or those that are ticked.

Invariant: only Enter gives; it answers the places of the lines that are ticked then, Escape nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from floorclock.tui.floor.dialogs.choices import window_start
from floorclock.tui.floor.dialogs.dialog import Dialog
from floorclock.tui.floor.dialogs.parts import Line, Part, hint_line, padded, paragraph, title_line
from floorclock.tui.floor.view import OfferView

WIDEST_NAME, WIDEST_MOVE = 16, 22


class Offered(Dialog[tuple[int, ...]]):
    """Lists the targets, all ticked at first. Space or a click ticks and unticks; Enter gives those that are ticked."""

    def __init__(self, offers: Sequence[OfferView], title: str = "Targets from earlier classes") -> None:
        super().__init__()
        self._offers, self._title = tuple(offers), title
        self.ticked = set(range(len(self._offers)))
        self.at = 0
        self._page = 1

    def press(self, key: str, character: str) -> bool:
        steps = {"up": -1, "down": 1, "tab": 1, "shift+tab": -1, "pageup": -self._page, "pagedown": self._page}
        if key == "escape":
            self.finish(None)
        elif key == "enter":
            self.finish(tuple(sorted(self.ticked)))
        elif character == " ":
            self.pick(self.at)
        elif key in steps:
            self.at = max(0, min(len(self._offers) - 1, self.at + steps[key]))
        else:
            return False
        return True

    def pick(self, number: int) -> None:
        self.at = number
        self.ticked ^= {number}

    def paint(self, width: int, height: int) -> list[Line]:
        because = self._offers[self.at].because if self._offers else ""
        bottom = [
            *paragraph(because, width, "faint", 2),
            (Part(f" Enter gives {len(self.ticked)} of {len(self._offers)} ", "strong"),),
            hint_line((("space", "tick, untick"), ("↑↓", "move"), ("Esc", "give none")), width),
        ]
        self._page = max(1, height - 1 - len(bottom))
        first = window_start(self.at, len(self._offers), self._page)
        shown = range(first, min(len(self._offers), first + self._page))
        return [title_line(self._title, "", width), *(self._line(number, width) for number in shown), *bottom]

    def _line(self, number: int, width: int) -> Line:
        offer, active = self._offers[number], number == self.at
        name = min(WIDEST_NAME, max(cell_len(one.athlete) for one in self._offers))
        move = min(WIDEST_MOVE, max(cell_len(one.move) for one in self._offers))
        planned = max(cell_len(one.planned) for one in self._offers)
        tick = "[x]" if number in self.ticked else "[ ]"
        words = f"{padded(offer.athlete, name)}  {padded(offer.move, move)}  {padded(offer.planned, planned)} → {offer.suggested}"
        line = f"{'›' if active else ' '}{tick} {words}"
        return (Part(padded(line, width), "chosen" if active else "text" if number in self.ticked else "faint", number),)
