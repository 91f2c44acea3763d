"""The pages that a dialog can show, as values: a list to choose from, a line to type, a question to say yes to.

Invariant: a page says what each answer leads to (an `Outcome`); only `PagedDialog` shows pages and closes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from floorclock.plan.durations import UnreadableError
from floorclock.tui.floor.dialogs.choices import Choice, choice_lines, moved
from floorclock.tui.floor.dialogs.dialog import Dialog
from floorclock.tui.floor.dialogs.parts import Line, Part, cells, hint_line, in_width, padded, paragraph, title_line
from floorclock.tui.floor.dialogs.typed_line import TypedLine

T = TypeVar("T")

TYPING_MODE = "typing: no taps"
FIELD_CELLS = 12
Hints = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Said:
    """An answer that leads nowhere: the dialog stays and says why."""

    words: str


@dataclass(frozen=True, slots=True)
class Back:
    """An answer that leads back to the first page, with words on what came of it."""

    words: str


@dataclass(frozen=True, slots=True)
class Answer(Generic[T]):
    """The dialog closes with this."""

    value: T


@dataclass(frozen=True, slots=True)
class ListPage(Generic[T]):
    """Choose one: arrows and Enter, or the key of the choice. `lead` are words above, `caution` is shown to be read."""

    title: str
    choices: tuple[Choice, ...]
    outcomes: tuple[Outcome[T], ...]
    lead: str = ""
    caution: str = ""
    cursor: int = 0
    hints: Hints = (("Enter", "choose"), ("Esc", "cancel"))


@dataclass(frozen=True, slots=True)
class TypePage(Generic[T]):
    """Type one line. `read` answers the outcome or raises `UnreadableError`; `nudge(text, steps)` is what arrows do to it.

    `preview` says what the text comes to while it is typed.
    """

    title: str
    prompt: str
    read: Callable[[str], Outcome[T]]
    offered: str = ""
    lead: str = ""
    hint: str = ""
    nudge: Callable[[str, int], str] | None = None
    preview: Callable[[str], str] | None = None
    hints: Hints = (("Enter", "take it"), ("Esc", "cancel"))


@dataclass(frozen=True, slots=True)
class AskPage(Generic[T]):
    """Enter says yes."""

    title: str
    yes: Outcome[T]
    yes_words: str
    lead: str = ""
    hints: Hints = (("Esc", "no"),)


Page = ListPage[T] | TypePage[T] | AskPage[T]
Outcome = Answer[T] | Said | Back | ListPage[T] | TypePage[T] | AskPage[T]

_NUDGES = {"up": 1, "down": -1, "pageup": 5, "pagedown": -5}


class PagedDialog(Dialog[T]):
    """Shows one page after the other until an answer is found. `anywhere` maps keys that work on every page to outcomes."""

    def __init__(self, first: Page[T], anywhere: Mapping[str, Outcome[T]] | None = None) -> None:
        super().__init__()
        self.page: Page[T] = first
        self.cursor = 0
        self.line = TypedLine()
        self._first = first
        self._anywhere = dict(anywhere or {})
        self._rows_shown = 1
        self.show(first)

    def show(self, page: Page[T]) -> None:
        """Turn to a page."""
        self.page = page
        self.cursor = page.cursor if isinstance(page, ListPage) else 0
        self.line = TypedLine.offered(page.offered) if isinstance(page, TypePage) else TypedLine()

    def follow(self, outcome: Outcome[T]) -> None:
        """Go where an answer leads."""
        if isinstance(outcome, Answer):
            self.finish(outcome.value)
        elif isinstance(outcome, Said):
            self.said = outcome.words
        elif isinstance(outcome, Back):
            self.show(self._first)
            self.said = outcome.words
        else:
            self.show(outcome)

    def cancel(self) -> None:
        """Close without an answer."""
        self.finish(None)

    def press(self, key: str, character: str) -> bool:
        if key == "escape":
            self.cancel()
        elif key in self._anywhere:
            self.follow(self._anywhere[key])
        elif isinstance(self.page, ListPage):
            return self._press_in_list(self.page, key, character)
        elif isinstance(self.page, TypePage):
            return self._press_in_line(self.page, key, character)
        elif key == "enter":
            self.follow(self.page.yes)
        elif key == "left" and self.page is not self._first:
            self.show(self._first)
        else:
            return False
        return True

    def _press_in_list(self, page: ListPage[T], key: str, character: str) -> bool:
        for number, choice in enumerate(page.choices):
            if choice.key and choice.key in (key, character):
                self.cursor = number
                self.follow(page.outcomes[number])
                return True
        there = moved(self.cursor, key, len(page.choices), 1, self._rows_shown)
        if there is not None:
            self.cursor = there
        elif key == "enter":
            self.follow(page.outcomes[self.cursor])
        elif key == "left" and page is not self._first:
            self.show(self._first)
        else:
            return False
        return True

    def _press_in_line(self, page: TypePage[T], key: str, character: str) -> bool:
        edited = self.line.after(key)
        if character:
            self.line = self.line.typed(character)
        elif edited is not None:
            self.line = edited
        elif key in _NUDGES and page.nudge is not None:
            self.line = TypedLine.offered(page.nudge(self.line.text, _NUDGES[key]))
        elif key == "enter":
            try:
                self.follow(page.read(self.line.text))
            except UnreadableError as error:
                self.said = str(error)
        return True

    def paste(self, text: str) -> None:
        if isinstance(self.page, TypePage):
            pasted = text.strip()
            if pasted.isprintable():
                self.line = self.line.typed(pasted)
            else:
                self.said = "what was pasted holds control characters: nothing taken"

    def pick(self, number: int) -> None:
        if isinstance(self.page, ListPage) and number < len(self.page.choices):
            self.cursor = number
            self.follow(self.page.outcomes[number])
        elif isinstance(self.page, AskPage):
            self.follow(self.page.yes)

    def head(self, width: int, height: int) -> list[Line]:
        """What stands above every page; nothing unless a dialog says so."""
        return []

    def beside(self, width: int, rows: int) -> tuple[int, list[Line]]:
        """What stands to the right of a list: its width in cells and its lines; nothing unless a dialog says so."""
        return 0, []

    def paint(self, width: int, height: int) -> list[Line]:
        page = self.page
        top = [title_line(page.title, TYPING_MODE if isinstance(page, TypePage) else "", width), *self.head(width, height)]
        said = paragraph(self.said, width, "alert", 2, "!")
        bottom = [*said, hint_line(self._hints(), width)]
        room = height - len(top) - len(bottom)
        if isinstance(page, TypePage):
            body = self._typing(page, width, room)
        elif isinstance(page, ListPage):
            body = self._list(page, width, room)
        else:
            body = [*paragraph(page.lead, width, rows=max(1, room - 1)), (Part(f" Enter {page.yes_words} ", "chosen", 0),)]
        return [*top, *body[:room], *bottom]

    def _hints(self) -> Hints:
        back: Hints = (("←", "back"),) if self.page is not self._first and not isinstance(self.page, TypePage) else ()
        return (*self.page.hints, *back)

    def _list(self, page: ListPage[T], width: int, room: int) -> list[Line]:
        spare = max(0, room - min(len(page.choices), 3))
        above = paragraph(page.caution, width, "alert", min(spare, 4), "!")
        above += paragraph(page.lead, width, "text", min(spare - len(above), 4))
        rows = max(1, min(room - len(above), len(page.choices)))
        aside, lines = self.beside(width, max(1, room - len(above)))
        self._rows_shown = rows
        listed = choice_lines(page.choices, self.cursor, width - aside, rows)
        if aside:
            tall = max(len(listed), len(lines))
            listed = [
                (*in_width(listed[at] if at < len(listed) else (), width - aside), *(lines[at] if at < len(lines) else ()))
                for at in range(tall)
            ]
        return above + listed

    def _typing(self, page: TypePage[T], width: int, room: int) -> list[Line]:
        preview = page.preview(self.line.text) if page.preview else ""
        prompt = Part(padded(f" {page.prompt} ", min(width // 2, cells((Part(f" {page.prompt} "),)))), "strong")
        field = max(2, min(FIELD_CELLS, width - cells((prompt,)) - 1))
        entry: Line = (prompt, *self.line.parts(field), Part(f"  {preview}"))
        hint = paragraph(page.hint, width, "faint", min(2, max(0, room - 1)))
        lead = paragraph(page.lead, width, rows=min(3, max(0, room - 1 - len(hint))))
        return [*lead, entry, *hint]
