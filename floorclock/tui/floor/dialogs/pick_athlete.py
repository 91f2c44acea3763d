"""Which athlete? Their tap key, the start of their name, or arrows.

Invariant: while it is open a tap key picks and does not tap, and the title says so; keys of nobody go on to the app.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import Static

from floorclock.plan.roster import Athlete
from floorclock.tui.floor.dialogs.dialog import (
    CURSOR,
    STRONG,
    TYPING_MODE,
    Dialog,
    Field,
    Hints,
    first_in_sight,
    in_cells,
    moved_cursor,
)
from floorclock.tui.floor.dialogs.reading import letters_of

KEY_HINTS = (("tap key", "picks"), ("/", "name"), ("Esc", "cancel"), ("arrows Enter", "choose"))
TYPING_HINTS = (("Enter", "picks"), ("Esc", "cancel"), ("↑↓", "move"))
SEARCH_KEYS = ("backspace", "delete", "ctrl+u", "ctrl+h")
NARROWEST_CELLS, ROWS_WANTED = 18, 10


class PeopleGrid(Static):
    """Some people in columns, as many rows as fit. The dialog moves the cursor; a click is asked for with `at`."""

    def __init__(self) -> None:
        super().__init__(id="people", markup=False)
        self.columns, self.rows = 1, 1
        self._first, self._cell = 0, 1

    def show(self, people: Sequence[Athlete], cursor: int, width: int, rows: int) -> None:
        """As many columns as whole names allow, or more (names cut) until everybody stands in a few rows."""
        longest = max((cell_len(person.name) for person in people), default=0)
        roomy = max(1, min(len(people), width // max(NARROWEST_CELLS, longest + 4)))
        self.columns = max(1, min(max(roomy, -(-len(people) // ROWS_WANTED)), width // NARROWEST_CELLS))
        self.rows, self._cell = rows, width // self.columns
        needed = -(-len(people) // self.columns)
        top = first_in_sight(cursor // self.columns, needed, rows)
        self._first = top * self.columns
        lines = []
        for row in range(top, min(needed, top + rows)):
            numbers = range(row * self.columns, min(len(people), (row + 1) * self.columns))
            lines.append(Text().join(self._person(people[number], chosen=number == cursor) for number in numbers))
        self.styles.height = len(lines)
        self.update(Text("\n").join(lines))

    def _person(self, person: Athlete, *, chosen: bool) -> Text:
        key = f"{'›' if chosen else ' '}{in_cells(person.key, 1)} "
        cell = Text.assemble((key, STRONG), in_cells(person.name, self._cell - 4), " ")
        return Text(cell.plain, CURSOR) if chosen else cell

    def at(self, x: int, y: int) -> int:
        """The number of the person who stands there."""
        return self._first + y * self.columns + min(self.columns - 1, x // self._cell)


class PickAthlete(Dialog[str]):
    """Asks for an athlete; answers the name. `/` starts the typing of a name."""

    def __init__(self, people: Sequence[Athlete], title: str) -> None:
        super().__init__()
        self._people, self._title = tuple(people), title
        self._found = self._people
        self._cursor = 0
        self._typing = False
        self._field, self._grid = Field(), PeopleGrid()

    def body(self) -> ComposeResult:
        with Horizontal(id="name", classes="row"):
            yield Static(" name starts ", classes="prompt", markup=False)
            yield self._field
        yield self._grid

    def on_mount(self) -> None:
        self._field.has_focus = True
        super().on_mount()

    def press(self, key: str, character: str) -> bool:
        keys = {person.key: person for person in self._people if person.key}
        person = keys.get(character) or keys.get(character.swapcase())
        if key == "escape":
            self.finish(None)
        elif key == "enter":
            self._take(self._cursor)
        elif self._typing and character:
            self.paste(character)
        elif self._typing and key in SEARCH_KEYS:
            self._field.edit(key)
            self._search()
        elif not self._typing and person is not None:
            self.finish(person.name)
        elif not self._typing and character == "/":
            self._typing = True
        else:
            there = moved_cursor(self._cursor, key, len(self._found), self._grid.rows, self._grid.columns)
            if there is None:
                return self._typing
            self._cursor = max(0, there)
        return True

    def paste(self, text: str) -> None:
        if self._typing:
            self._field.write(text)
            self._search()

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self._grid) if event.widget is self._grid else None
        if offset is not None and self._grid.at(offset.x, offset.y) < len(self._found):
            self._take(self._grid.at(offset.x, offset.y))

    def _take(self, number: int) -> None:
        if self._found:
            self.finish(self._found[number].name)
        else:
            self.said = "nobody to pick"

    def _search(self) -> None:
        wanted, self._cursor = letters_of(self._field.value.strip()), 0
        self._found = tuple(person for person in self._people if _matches(person.name, wanted))
        if not self._found:
            self.said = f"nobody here is called {self._field.value}"

    def heading(self, width: int) -> tuple[str, str]:
        return self._title, TYPING_MODE if self._typing else "a key picks, it does not tap" if width > 50 else "keys pick"

    def hints(self) -> Hints:
        return TYPING_HINTS if self._typing else KEY_HINTS

    def fit(self, width: int, rows: int) -> None:
        self.query_one("#name").display = self._typing
        self._field.styles.width = max(2, min(24, width - 14))
        self._grid.show(self._found, self._cursor, width, max(1, rows - self._typing))


def _matches(name: str, wanted: str) -> bool:
    """Whether the name, or a word of it, starts with what is wanted."""
    folded = letters_of(name)
    return folded.startswith(wanted) or any(word.startswith(wanted) for word in folded.split())
