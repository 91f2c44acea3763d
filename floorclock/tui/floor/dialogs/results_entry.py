"""The results of a whole part, typed one under the other after it ended.

Invariant: only what was typed is answered; who was passed over keeps the result they have.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from floorclock.plan.durations import UnreadableError
from floorclock.plan.typed_result import RESULT_HINT, ResultKind, TypedResult, read_result
from floorclock.tui.floor.dialogs.dialog import (
    FAINT,
    PLAIN,
    STRONG,
    TYPING_MODE,
    Dialog,
    Field,
    Hints,
    column_width,
    in_cells,
    moved_cursor,
    paragraph,
    under_cursor,
)

TYPED_CELLS = 10
WIDEST_NOW = 12


@dataclass(frozen=True, slots=True)
class ResultSoFar:
    """One athlete; `now` is the result so far in words, empty where there is none."""

    name: str
    key: str = ""
    now: str = ""


class ResultsEntry(Dialog[Mapping[str, TypedResult]]):
    """A table of results: type and Enter, one after the other; F6 saves. Answers the results that were typed, by name.

    Where there are others (other sets), left and right save and turn to them. Escape cancels; when something was typed it says
    so first, and the next Escape drops it.
    """

    def __init__(self, rows: Sequence[ResultSoFar], kind: ResultKind, title: str = "Results", *, others: bool = False) -> None:
        super().__init__()
        self._others = others
        self.turn = 0
        """1 where the coach went on to the numbers after these, -1 to those before."""
        self._people, self._kind, self._title = tuple(rows), kind, title
        self._entered: dict[str, TypedResult] = {}
        self._list = OptionList(*(Option(row.name) for row in rows), Option("save"), markup=False, compact=True)
        self._field = Field()
        self._rows = 1
        self._warned = False
        self.at = 0
        """The row that is typed in; after the last one comes `save`."""

    def body(self) -> ComposeResult:
        yield self._list
        with Horizontal(id="typing", classes="row"):
            yield Static(id="prompt", classes="prompt", markup=False)
            yield self._field

    def on_mount(self) -> None:
        self._field.has_focus = True
        super().on_mount()

    def press(self, key: str, character: str) -> bool:
        if key == "escape":
            self._cancel()
            return True
        self._warned = False
        key = {"tab": "down", "shift+tab": "up"}.get(key, key)
        there = moved_cursor(self.at, key, len(self._people) + 1, self._rows) if key not in ("home", "end") else None
        if self._others and key in ("left", "right"):
            if self._keep():
                self.turn = -1 if key == "left" else 1
                self.finish(dict(self._entered))
        elif character and self._kind in ("score", "reps") and self._go_to_key(character):
            return True
        elif character:
            self.paste(character)
        elif there is not None:
            self._go(there)
        elif key == "f6" or (key == "enter" and self.at == len(self._people)):
            if self._keep():
                self.finish(dict(self._entered))
        elif key == "enter":
            self._go(self.at + 1)
        else:
            self._field.edit(key)
        return True

    def _go_to_key(self, character: str) -> bool:
        """A letter is in no number: it goes to the athlete whose key it is."""
        keys = [row.key.casefold() for row in self._people]
        if not character.isalpha() or character.casefold() not in keys:
            return False
        self._go(keys.index(character.casefold()))
        return True

    def paste(self, text: str) -> None:
        self._field.write(text)

    def on_option_list_option_selected(self, message: OptionList.OptionSelected) -> None:
        """A click on a row: what was typed in the one before is kept first."""
        message.stop()
        self._go(message.option_index)
        self.repaint()

    def _cancel(self) -> None:
        typed = bool(self._entered) or bool(self._field.value)
        if typed and not self._warned:
            self._warned = True
            self.said = "what was typed is not saved yet: F6 saves it, Esc again drops it"
        else:
            self.finish(None)

    def _go(self, there: int) -> None:
        """Keep what was typed and move; what cannot be read holds the cursor where it is."""
        if self._keep():
            self.at = there
            known = self._entered.get(self._people[there].name) if there < len(self._people) else None
            self._field.offer(known.words() if known else "")

    def _keep(self) -> bool:
        if self.at == len(self._people):
            return True
        name = self._people[self.at].name
        if not self._field.value.strip():
            self._entered.pop(name, None)
            return True
        try:
            self._entered[name] = read_result(self._field.value, self._kind)
        except UnreadableError as error:
            self.said = str(error)
            return False
        return True

    def heading(self, width: int) -> tuple[str, str]:
        return self._title, TYPING_MODE

    def hints(self) -> Hints:
        turn = (("←→", "other set"),) if self._others else ()
        return (("Enter", "next"), ("F6", "saves"), ("Esc", "cancel"), ("↑↓", "move"), *turn)

    def notes(self, width: int, rows: int) -> list[Text]:
        if self.said or rows < 10:
            return []
        return paragraph(f"{RESULT_HINT[self._kind]}; - for none", width, FAINT, 2)

    def fit(self, width: int, rows: int) -> None:
        self._rows = max(1, rows - 1)
        self._list.styles.max_height = self._rows
        self._list.highlighted = self.at
        keys = column_width([row.key for row in self._people], 2)
        now = column_width([row.now for row in self._people], WIDEST_NOW)
        room = max(0, width - keys - now - TYPED_CELLS - 5)
        for number, row in enumerate(self._people):
            label = f"{in_cells(row.key, keys)} {in_cells(row.name, room)} {in_cells(row.now, now)} "
            entered = self._entered[row.name].words() if row.name in self._entered else ""
            line = Text.assemble((label, PLAIN), (in_cells(entered, TYPED_CELLS), STRONG))
            self._list.replace_option_prompt_at_index(number, under_cursor(line, number == self.at))
        typing = self.at < len(self._people)
        save = Text(in_cells(f"save {len(self._entered)} of {len(self._people)}", width - 2))
        self._list.replace_option_prompt_at_index(len(self._people), under_cursor(save, not typing))
        self.query_one("#typing").display = typing
        if typing:
            name = f" {self._people[self.at].name} "
            self.query_one("#prompt", Static).update(in_cells(name, column_width([name], max(4, width - 14))))
