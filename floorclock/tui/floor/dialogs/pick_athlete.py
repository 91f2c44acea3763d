"""Which athlete? Their tap key, the start of their name, or arrows.

Invariant: while it is open a tap key picks and does not tap, and the title says so; keys of nobody go on to the app.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from floorclock.tui.floor.dialogs.choices import Choice, choice_lines, columns_in, moved
from floorclock.tui.floor.dialogs.dialog import Dialog
from floorclock.tui.floor.dialogs.pages import TYPING_MODE
from floorclock.tui.floor.dialogs.parts import Line, Part, hint_line, paragraph, title_line
from floorclock.tui.floor.dialogs.reading import letters_of
from floorclock.tui.floor.dialogs.typed_line import TypedLine

KEY_HINTS = (("tap key", "picks"), ("/", "name"), ("Esc", "cancel"), ("arrows Enter", "choose"))
TYPING_HINTS = (("Enter", "picks"), ("Esc", "cancel"), ("↑↓", "move"))
NARROWEST_CELLS, ROWS_WANTED = 18, 10


@dataclass(frozen=True, slots=True)
class PersonChoice:
    """Somebody to pick; `note` is a word on how they are, such as their flag."""

    name: str
    key: str = ""
    note: str = ""


class PickAthlete(Dialog[str]):
    """Asks for an athlete; answers the name."""

    def __init__(self, people: Sequence[PersonChoice], title: str) -> None:
        super().__init__()
        self._people = tuple(people)
        self._title = title
        self._columns, self._rows = 1, 1
        self.found = self._people
        self.cursor = 0
        self.line: TypedLine | None = None
        """What was typed of a name; None until `/` starts typing."""

    def press(self, key: str, character: str) -> bool:
        if key == "escape":
            self.finish(None)
        elif key == "enter":
            self._take()
        elif self.line is not None:
            self._type(key, character)
        elif person := next((person for person in self._people if person.key and person.key == character), None):
            self.finish(person.name)
        elif character == "/":
            self.line = TypedLine()
        else:
            return self._move(key)
        return True

    def paste(self, text: str) -> None:
        if self.line is not None and text.strip().isprintable():
            self._search(self.line.typed(text.strip()))

    def pick(self, number: int) -> None:
        self.finish(self.found[number].name)

    def _take(self) -> None:
        if self.found:
            self.finish(self.found[self.cursor].name)
        else:
            self.said = "nobody to pick"

    def _move(self, key: str) -> bool:
        there = moved(self.cursor, key, len(self.found), self._columns, self._rows)
        if there is None:
            return False
        self.cursor = max(0, there)
        return True

    def _type(self, key: str, character: str) -> None:
        line = self.line or TypedLine()
        edited = line.after(key) if key in ("backspace", "delete", "ctrl+u", "ctrl+h") else None
        if character:
            self._search(line.typed(character))
        elif edited is not None:
            self._search(edited)
        else:
            self._move(key)

    def _search(self, line: TypedLine) -> None:
        self.line, self.cursor = line, 0
        wanted = letters_of(line.text.strip())
        self.found = tuple(person for person in self._people if _matches(person.name, wanted))
        if not self.found:
            self.said = f"nobody here is called {line.text}"

    def paint(self, width: int, height: int) -> list[Line]:
        mode = "a key picks, it does not tap" if self.line is None else TYPING_MODE
        lines = [title_line(self._title, mode if width > 50 or self.line is not None else "keys pick", width)]
        if self.line is not None:
            lines.append((Part(" name starts ", "strong"), *self.line.parts(min(24, width - 14))))
        said = paragraph(self.said, width, "alert", 2, "!")
        bottom = [*said, hint_line(KEY_HINTS if self.line is None else TYPING_HINTS, width)]
        choices = [Choice(person.name, person.key, person.key, person.note) for person in self.found]
        self._rows = max(1, height - len(lines) - len(bottom))
        self._columns = self._best_columns(width)
        return [*lines, *choice_lines(choices, self.cursor, width, self._rows, self._columns), *bottom]

    def _best_columns(self, width: int) -> int:
        """As many columns as whole names allow, or more (names cut) until everybody stands in a few rows."""
        longest = max((cell_len(f"{person.name}  {person.note}") for person in self._people), default=0)
        roomy = columns_in(width, len(self.found) or 1, max(NARROWEST_CELLS, longest + 4))
        wanted = -(-len(self.found) // ROWS_WANTED)
        return max(1, min(max(roomy, wanted), width // NARROWEST_CELLS))


def _matches(name: str, wanted: str) -> bool:
    """Whether the name, or a word of it, starts with what is wanted."""
    folded = letters_of(name)
    return folded.startswith(wanted) or any(word.startswith(wanted) for word in folded.split())
