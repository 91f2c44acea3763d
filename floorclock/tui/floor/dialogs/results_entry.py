"""The results of a whole part, typed one under the other after it ended.

Invariant: only what was typed is answered; who was passed over keeps the result they have.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from floorclock.plan.durations import UnreadableError
from floorclock.tui.floor.dialogs.choices import window_start
from floorclock.tui.floor.dialogs.dialog import Dialog
from floorclock.tui.floor.dialogs.pages import TYPING_MODE
from floorclock.tui.floor.dialogs.parts import Line, Part, hint_line, padded, paragraph, title_line
from floorclock.tui.floor.dialogs.reading import RESULT_HINT, Result, ResultKind, read_result
from floorclock.tui.floor.dialogs.typed_line import TypedLine

FIELD_CELLS = 10


@dataclass(frozen=True, slots=True)
class ResultRow:
    """One athlete; `now` is the result so far in words, empty where there is none."""

    name: str
    key: str = ""
    now: str = ""


class ResultsEntry(Dialog[Mapping[str, Result]]):
    """A table of results: type and Enter, one after the other; F2 saves. Answers the results that were typed, by name.

    Escape cancels; when something was typed it says so first, and the next Escape drops it.
    """

    def __init__(self, rows: Sequence[ResultRow], kind: ResultKind, title: str = "Results") -> None:
        super().__init__()
        self._rows, self._kind, self._title = tuple(rows), kind, title
        self.entered: dict[str, Result] = {}
        self.at = 0
        self.line = TypedLine()
        self._page = 1
        self._warned = False

    def press(self, key: str, character: str) -> bool:
        if key == "escape":
            self._cancel()
            return True
        self._warned = False
        steps = {"up": -1, "down": 1, "tab": 1, "shift+tab": -1, "pageup": -self._page, "pagedown": self._page}
        if character:
            self.line = self.line.typed(character)
        elif key in steps:
            self._go(self.at + steps[key])
        elif key == "enter":
            self._enter()
        elif key == "f2":
            self._save()
        elif (edited := self.line.after(key)) is not None:
            self.line = edited
        return True

    def paste(self, text: str) -> None:
        if text.strip().isprintable():
            self.line = self.line.typed(text.strip())

    def pick(self, number: int) -> None:
        self._go(number)

    def _cancel(self) -> None:
        typed = len(self.entered) or bool(self.line.text)
        if typed and not self._warned:
            self._warned = True
            self.said = "what was typed is not saved yet: F2 saves it, Esc again drops it"
        else:
            self.finish(None)

    def _enter(self) -> None:
        if self.at == len(self._rows):
            self._save()
        else:
            self._go(self.at + 1)

    def _save(self) -> None:
        if self._keep():
            self.finish(dict(self.entered))

    def _go(self, there: int) -> None:
        """Keep what was typed and move; what cannot be read holds the cursor where it is. After the last row comes `save`."""
        if self._keep():
            self.at = max(0, min(len(self._rows), there))
            known = self.entered.get(self._rows[self.at].name) if self.at < len(self._rows) else None
            self.line = TypedLine.offered(known.words()) if known else TypedLine()

    def _keep(self) -> bool:
        if self.at == len(self._rows):
            return True
        name = self._rows[self.at].name
        if not self.line.text.strip():
            self.entered.pop(name, None)
            return True
        try:
            self.entered[name] = read_result(self.line.text, self._kind)
        except UnreadableError as error:
            self.said = str(error)
            return False
        return True

    def paint(self, width: int, height: int) -> list[Line]:
        top = [title_line(self._title, TYPING_MODE, width)]
        hints = (("Enter", "next"), ("F2", "saves"), ("Esc", "cancel"), ("↑↓", "move"))
        said = paragraph(self.said, width, "alert", 2, "!")
        if not said and height > 12:
            said = paragraph(f"{RESULT_HINT[self._kind]}; - for none", width, "faint", 2)
        bottom = [*said, hint_line(hints, width)]
        self._page = max(1, height - len(top) - len(bottom))
        first = window_start(self.at, len(self._rows) + 1, self._page)
        body = [self._row_line(number, width) for number in range(first, min(len(self._rows) + 1, first + self._page))]
        return [*top, *body, *bottom]

    def _row_line(self, number: int, width: int) -> Line:
        active = number == self.at
        mark = "›" if active else " "
        if number == len(self._rows):
            words = f"{mark}save {len(self.entered)} of {len(self._rows)} "
            return (Part(words, "chosen" if active else "faint", number),)
        row = self._rows[number]
        key_cells = max(cell_len(each.key) for each in self._rows)
        now_cells = min(12, max(cell_len(each.now) for each in self._rows))
        room = width - key_cells - now_cells - FIELD_CELLS - 5
        label = f"{mark}{padded(row.key, key_cells)} {padded(row.name, room)} {padded(row.now, now_cells)} "
        entered = self.entered.get(row.name)
        if active:
            return (Part(label, "strong", number), *self.line.parts(FIELD_CELLS))
        return (Part(label, "text", number), Part(padded(entered.words() if entered else "", FIELD_CELLS), "strong", number))
