"""Somebody comes late: a name, a tap key, a start group.

Invariant: an answer has a name that nobody here has, and a key that nobody has (or none: one is given out then).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import Static

from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.roster import Athlete
from floorclock.tui.floor.dialogs.dialog import FAINT, TYPING_MODE, Dialog, Field, Hints, paragraph
from floorclock.tui.floor.dialogs.reading import read_new_key, read_new_name

FieldName = Literal["name", "key", "group"]

FIELDS: dict[FieldName, tuple[str, int]] = {"name": ("name", 40), "key": ("tap key", 3), "group": ("group", 3)}
"""What stands before each, and its cells at most."""
PROMPT_CELLS = 10


class AddLatecomer(Dialog[Athlete]):
    """Asks for a latecomer; answers them, with an empty key where one is to be given out.

    Enter adds at once when the name will do; Tab goes to the key and the group.
    `groups` says who is in each start group, `fits` is the one that is offered.
    """

    def __init__(self, taken_names: Iterable[str], taken_keys: Iterable[str], groups: Mapping[int, str], fits: int) -> None:
        super().__init__()
        self._names, self._keys, self._groups, self._fits = tuple(taken_names), tuple(taken_keys), groups, fits
        self._fields = {name: Field(id=name) for name in FIELDS if name != "group" or len(groups) > 1}
        self._at: FieldName = "name"

    def body(self) -> ComposeResult:
        for name, field in self._fields.items():
            with Horizontal(classes="row"):
                yield Static(id=f"{name}-prompt", classes="prompt", markup=False)
                yield field
                yield Static(id=f"{name}-note", markup=False)

    def on_mount(self) -> None:
        if "group" in self._fields:
            self._fields["group"].offer(str(self._fits))
        super().on_mount()

    def press(self, key: str, character: str) -> bool:
        if key == "escape":
            self.finish(None)
        elif key == "enter":
            self._add()
        elif key in ("tab", "down", "shift+tab", "up"):
            names = list(self._fields)
            step = 1 if key in ("tab", "down") else -1
            self._at = names[(names.index(self._at) + step) % len(names)]
        elif character:
            self.paste(character)
        else:
            self._fields[self._at].edit(key)
        return True

    def paste(self, text: str) -> None:
        # One letter is a whole tap key: the next one typed takes its place.
        if self._at == "key":
            self._fields["key"].offer(text)
        else:
            self._fields[self._at].write(text)

    def on_click(self, event: events.Click) -> None:
        if isinstance(event.widget, Field) and not self._finished:
            self._at = next(name for name, field in self._fields.items() if field is event.widget)
            self.repaint()

    def _add(self) -> None:
        wrong: FieldName = "name"
        try:
            name = read_new_name(self._fields["name"].value, self._names)
            wrong = "key"
            key = read_new_key(self._fields["key"].value, self._keys)
            wrong = "group"
            group = self._group()
        except UnreadableError as error:
            self.said, self._at = str(error), wrong
        else:
            self.finish(Athlete(name=name, key=key, group=group))

    def _group(self) -> int:
        if "group" not in self._fields:
            return self._fits
        text = self._fields["group"].value.strip()
        numbers = {str(number): number for number in self._groups}
        if text not in numbers:
            raise UnreadableError(f"{shown(text)} is no start group", f"there is {', '.join(numbers)}")
        return numbers[text]

    def heading(self, width: int) -> tuple[str, str]:
        return "A latecomer", TYPING_MODE

    def hints(self) -> Hints:
        return (("Enter", "adds"), ("Tab", "next field"), ("Esc", "cancel"))

    def notes(self, width: int, rows: int) -> list[Text]:
        here = "; ".join(f"{number}: {members}" for number, members in self._groups.items() if members)
        return paragraph(here, width, FAINT, max(0, min(2, rows - len(self._fields)))) if "group" in self._fields else []

    def fit(self, width: int, rows: int) -> None:
        for name, field in self._fields.items():
            label, widest = FIELDS[name]
            field.has_focus = name == self._at
            field.styles.width = max(2, min(widest, width - PROMPT_CELLS - 1))
            mark = "›" if name == self._at else " "
            self.query_one(f"#{name}-prompt", Static).update(f"{mark}{label}".ljust(PROMPT_CELLS))
        note = "" if self._fields["key"].value else "  empty: one is given out"
        self.query_one("#key-note", Static).update(Text(note, FAINT))
