"""The results of a whole part, typed one under the other after it ended.

Invariant: only what was typed, or taken by Enter where it was offered, is answered; who was passed over keeps the result they
have. What nobody is likely to have done is asked about once.
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
MOST_OF_PLANNED = 2
"""This many times what was planned is a slip of the finger before it is a load. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class ResultSoFar:
    """One athlete; `now` is the result so far in words, empty where there is none, `offered` what Enter takes.

    `shown` is how they are named where that is more than `name`: a team by all of its people.
    """

    name: str
    key: str = ""
    now: str = ""
    offered: str = ""
    shown: str = ""


class ResultsEntry(Dialog[Mapping[str, TypedResult]]):
    """A table of results: type and Enter, one after the other; F6 saves. Answers the results that were typed, by name.

    Where there are others (other sets), left and right save and turn to them. Escape cancels; when something was typed it says
    so first, and the next Escape drops it. More rounds than `most_rounds` (None: no such number) are asked about.
    """

    def __init__(
        self,
        rows: Sequence[ResultSoFar],
        kind: ResultKind,
        title: str = "Results",
        *,
        others: bool = False,
        most_rounds: int | None = None,
    ) -> None:
        super().__init__()
        self._others, self._most_rounds = others, most_rounds
        self.turn = 0
        """1 where the coach went on to the numbers after these, -1 to those before."""
        self._people, self._kind, self._title = tuple(rows), kind, title
        self._entered: dict[str, TypedResult] = {}
        self._list = OptionList(*(Option(row.name) for row in rows), Option("save"), markup=False, compact=True)
        self._field = Field()
        self._rows = 1
        self._warned = False
        self._offered = False
        """Whether what stands in the field was offered and nobody has touched it."""
        self._asked: tuple[str, TypedResult] | None = None
        self.at = 0
        """The row that is typed in; after the last one comes `save`."""

    def body(self) -> ComposeResult:
        yield self._list
        with Horizontal(id="typing", classes="row"):
            yield Static(id="prompt", classes="prompt", markup=False)
            yield self._field

    def on_mount(self) -> None:
        self._field.has_focus = True
        self._offer()
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
            self._offered = False
            self._go(self.at + 1)
        else:
            self._offered = not self._field.edit(key) and self._offered
        return True

    def _go_to_key(self, character: str) -> bool:
        """A letter is in no number: it goes to the athlete whose key it is."""
        keys = [row.key.casefold() for row in self._people]
        if not character.isalpha() or character.casefold() not in keys:
            return False
        self._go(keys.index(character.casefold()))
        return True

    def paste(self, text: str) -> None:
        self._offered = False
        self._field.write(text)

    def on_option_list_option_selected(self, message: OptionList.OptionSelected) -> None:
        """A click on a row: what was typed in the one before is kept first."""
        message.stop()
        self._go(message.option_index)
        self.repaint()

    def _cancel(self) -> None:
        typed = bool(self._entered) or bool(self._field.value and not self._offered)
        if typed and not self._warned:
            self._warned = True
            self.said = "what was typed is not saved yet: F6 saves it, Esc again drops it"
        else:
            self.finish(None)

    def _go(self, there: int) -> None:
        """Keep what was typed and move; what cannot be read holds the cursor where it is."""
        if self._keep():
            self.at = there
            self._offer()

    def _offer(self) -> None:
        """What was typed before, else what is known to have been planned."""
        person = self._people[self.at] if self.at < len(self._people) else None
        known = self._entered.get(person.name) if person is not None else None
        self._offered = person is not None and known is None and bool(person.offered)
        self._field.offer(known.words() if known else person.offered if person is not None else "")

    def _keep(self) -> bool:
        if self.at == len(self._people) or self._offered:
            return True
        name = self._people[self.at].name
        if not self._field.value.strip():
            self._entered.pop(name, None)
            return True
        try:
            typed = read_result(self._field.value, self._kind)
        except UnreadableError as error:
            self.said = str(error)
            return False
        if (doubt := self._doubt(typed)) and self._asked != (name, typed):
            self._asked, self.said = (name, typed), f"{doubt}: again takes it"
            return False
        self._entered[name] = typed
        return True

    def _doubt(self, typed: TypedResult) -> str:
        """What makes a number unlikely; empty where nothing does."""
        planned = self._people[self.at].offered
        if self._most_rounds is not None and (typed.rounds or 0) > self._most_rounds:
            return f"{typed.rounds} rounds, of {self._most_rounds} that are likely at most"
        if planned and typed.score is not None and typed.score > MOST_OF_PLANNED * float(planned):
            return f"{typed.score:g}, where {planned} was planned"
        return ""

    def heading(self, width: int) -> tuple[str, str]:
        return self._title, TYPING_MODE

    def hints(self) -> Hints:
        turn = (("←→", "other set"),) if self._others else ()
        enter = "saves" if self.at == len(self._people) else "takes it" if self._offered else "next"
        return (("Enter", enter), ("F6", "saves"), ("Esc", "cancel"), ("↑↓", "move"), *turn)

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
            label = f"{in_cells(row.key, keys)} {in_cells(row.shown or row.name, room)} {in_cells(row.now, now)} "
            entered = self._entered[row.name].words() if row.name in self._entered else ""
            line = Text.assemble((label, PLAIN), (in_cells(entered, TYPED_CELLS), STRONG))
            self._list.replace_option_prompt_at_index(number, under_cursor(line, number == self.at))
        typing = self.at < len(self._people)
        save = Text(in_cells(f"{len(self._entered)} of {len(self._people)} entered", width - 2))
        self._list.replace_option_prompt_at_index(len(self._people), under_cursor(save, not typing))
        self.query_one("#typing").display = typing
        if typing:
            name = f" {self._people[self.at].shown or self._people[self.at].name} "
            self.query_one("#prompt", Static).update(in_cells(name, column_width([name], max(4, width - 14))))
