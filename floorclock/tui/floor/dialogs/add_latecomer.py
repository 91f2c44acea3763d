"""Somebody comes late: a name, a tap key, a start group.

Invariant: an answer has a name that nobody here has, and a key that nobody has (or none: one is given out then).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from floorclock.plan.durations import UnreadableError, shown
from floorclock.tui.floor.dialogs.athlete_facts import GroupLine
from floorclock.tui.floor.dialogs.dialog import Dialog
from floorclock.tui.floor.dialogs.pages import TYPING_MODE
from floorclock.tui.floor.dialogs.parts import Line, Part, hint_line, padded, paragraph, title_line
from floorclock.tui.floor.dialogs.reading import read_new_key, read_new_name
from floorclock.tui.floor.dialogs.typed_line import TypedLine

Field = Literal["name", "tap key", "group"]

PROMPT_CELLS = 10


@dataclass(frozen=True, slots=True)
class NewAthlete:
    """Who came; an empty key asks for one to be given out."""

    name: str
    key: str
    group: int


class AddLatecomer(Dialog[NewAthlete]):
    """Asks for a latecomer; answers them. Enter adds at once when the name will do; Tab goes to the key and the group."""

    def __init__(self, taken_names: Iterable[str], taken_keys: Iterable[str], groups: Sequence[GroupLine] = ()) -> None:
        super().__init__()
        self._names, self._keys, self._groups = tuple(taken_names), tuple(taken_keys), tuple(groups)
        self.fields: tuple[Field, ...] = ("name", "tap key", "group") if len(self._groups) > 1 else ("name", "tap key")
        first_group = str(self._groups[0].number) if self._groups else "1"
        self.lines: dict[Field, TypedLine] = {
            "name": TypedLine(),
            "tap key": TypedLine(),
            "group": TypedLine.offered(first_group),
        }
        self.at = 0

    @property
    def field(self) -> Field:
        """The field that is typed in."""
        return self.fields[self.at]

    def press(self, key: str, character: str) -> bool:
        if key == "escape":
            self.finish(None)
        elif key == "enter":
            self._add()
        elif key in ("tab", "down"):
            self.at = (self.at + 1) % len(self.fields)
        elif key in ("shift+tab", "up"):
            self.at = (self.at - 1) % len(self.fields)
        elif character:
            self._write(character)
        elif (edited := self.lines[self.field].after(key)) is not None:
            self.lines[self.field] = edited
        return True

    def paste(self, text: str) -> None:
        pasted = text.strip()
        if pasted.isprintable():
            self._write(pasted)
        else:
            self.said = "what was pasted holds control characters: nothing taken"

    def pick(self, number: int) -> None:
        self.at = number

    def _write(self, text: str) -> None:
        line = self.lines[self.field]
        # One letter is a whole tap key: the next one typed takes its place.
        self.lines[self.field] = TypedLine.offered(text) if self.field == "tap key" else line.typed(text)

    def _add(self) -> None:
        at = 0
        try:
            name = read_new_name(self.lines["name"].text, self._names)
            at = self.fields.index("tap key")
            key = read_new_key(self.lines["tap key"].text, self._keys)
            at = len(self.fields) - 1
            group = self._group()
        except UnreadableError as error:
            self.said, self.at = str(error), at
        else:
            self.finish(NewAthlete(name, key, group))

    def _group(self) -> int:
        text = self.lines["group"].text.strip()
        numbers = {str(line.number): line.number for line in self._groups} or {"1": 1}
        if text not in numbers:
            raise UnreadableError(f"{shown(text)} is no start group", f"there is {', '.join(numbers)}")
        return numbers[text]

    def paint(self, width: int, height: int) -> list[Line]:
        lines = [title_line("A latecomer", TYPING_MODE, width)]
        lines += [self._field_line(number, width) for number in range(len(self.fields))]
        if len(self._groups) > 1 and height > 8:
            here = "; ".join(f"{line.number}: {line.words}" for line in self._groups if line.words)
            lines += paragraph(here, width, "faint", 2)
        hints = (("Enter", "adds"), ("Tab", "next field"), ("Esc", "cancel"))
        return [*lines, *paragraph(self.said, width, "alert", 2, "!"), hint_line(hints, width)]

    def _field_line(self, number: int, width: int) -> Line:
        field = self.fields[number]
        active = number == self.at
        size = max(2, min({"name": 40, "tap key": 3, "group": 3}[field], width - PROMPT_CELLS - 1))
        note = "  empty: one is given out" if field == "tap key" and not self.lines[field].text else ""
        prompt = Part(padded(("›" if active else " ") + field, PROMPT_CELLS), "strong" if active else "faint", number)
        return (prompt, *self.lines[field].parts(size, active), Part(note, "faint"))
