"""Targets from earlier classes, to be given before the start: all of them, or those that are ticked.

Invariant: only Enter gives; it answers the places of the lines that are ticked then, Escape nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text
from textual.app import ComposeResult
from textual.widgets import SelectionList
from textual.widgets.selection_list import Selection

from floorclock.tui.floor.dialogs.dialog import FAINT, STRONG, Dialog, Hints, column_width, in_cells, moved_cursor, paragraph
from floorclock.tui.floor.view import OfferView

WIDEST_NAME, WIDEST_MOVE = 16, 22


class Offered(Dialog[tuple[int, ...]]):
    """Lists the targets, all ticked at first. Space or a click ticks and unticks; Enter gives those that are ticked."""

    def __init__(self, offers: Sequence[OfferView]) -> None:
        super().__init__()
        self._offers = tuple(offers)
        self._rows = 1
        self._list: SelectionList[int] = SelectionList(
            *(Selection(text, number, initial_state=True) for number, text in enumerate(offer_lines(self._offers))), compact=True
        )

    def body(self) -> ComposeResult:
        yield self._list

    def press(self, key: str, character: str) -> bool:
        key = {"tab": "down", "shift+tab": "up"}.get(key, key)
        at = self._list.highlighted or 0
        there = moved_cursor(at, key, len(self._offers), self._rows)
        if key == "escape":
            self.finish(None)
        elif key == "enter":
            self.finish(tuple(sorted(self._list.selected)))
        elif character == " ":
            self._list.toggle(at)
        elif there is not None:
            self._list.highlighted = there
        else:
            return False
        return True

    def on_selection_list_selected_changed(self) -> None:
        """A click has ticked or unticked."""
        self.repaint()

    def on_selection_list_selection_highlighted(self) -> None:
        """Another line is under the cursor: another reason is said."""
        self.repaint()

    def heading(self, width: int) -> tuple[str, str]:
        return "Targets from earlier classes", ""

    def hints(self) -> Hints:
        return (("space", "tick, untick"), ("↑↓", "move"), ("Esc", "give none"))

    def notes(self, width: int, rows: int) -> list[Text]:
        because = self._offers[self._list.highlighted or 0].because if self._offers else ""
        gives = Text(f" Enter gives {len(self._list.selected)} of {len(self._offers)} ", STRONG)
        return [*paragraph(because, width, FAINT, max(0, min(2, rows - 2))), gives]

    def fit(self, width: int, rows: int) -> None:
        self._rows = rows
        self._list.styles.max_height = rows


def offer_lines(offers: Sequence[OfferView]) -> list[Text]:
    """Whose, which move, as planned and as suggested, in columns."""
    name = column_width([offer.athlete for offer in offers], WIDEST_NAME)
    move = column_width([offer.move for offer in offers], WIDEST_MOVE)
    planned = column_width([offer.planned for offer in offers], WIDEST_MOVE)
    lines = []
    for offer in offers:
        left = f"{in_cells(offer.athlete, name)}  {in_cells(offer.move, move)}  {in_cells(offer.planned, planned)}"
        lines.append(Text(f"{left} → {offer.suggested}", no_wrap=True))
    return lines
