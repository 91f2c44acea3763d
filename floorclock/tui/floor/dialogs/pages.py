"""Dialogs of pages, a list or a line to type, and the questions of one page: yes or no, a margin, going on after a crash.

Invariant: only `PagedDialog` shows pages and closes; a page is a plain value (an `Outcome`). Only Enter (or a click on the yes)
is a yes; leaving a question decides nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from floorclock.plan.durations import UnreadableError, duration_words, parse_duration_ms
from floorclock.tui.floor.dialogs.dialog import (
    ALERT,
    FAINT,
    PLAIN,
    STRONG,
    TYPING_MODE,
    Dialog,
    Field,
    Hints,
    column_width,
    in_cells,
    labelled,
    moved_cursor,
    paragraph,
    under_cursor,
)
from floorclock.tui.floor.dialogs.reading import read_margin

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)


@dataclass(frozen=True, slots=True)
class Stay:
    """An answer that leads nowhere: the dialog stays and says why."""

    words: str


@dataclass(frozen=True, slots=True)
class Back:
    """An answer that leads back to the first page, with words on what came of it."""

    words: str


@dataclass(frozen=True, slots=True)
class Answer(Generic[T_co]):
    """The dialog closes with this."""

    value: T_co


@dataclass(frozen=True)
class MenuItem(Generic[T_co]):
    """One thing to choose, and what it leads to.

    `key` is the key that chooses it, as Textual names it or as it prints, `shown` what is printed for it; both may be empty.
    """

    label: str
    outcome: Outcome[T_co]
    key: str = ""
    shown: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class ListPage(Generic[T_co]):
    """Choose one: arrows and Enter, or the key of the item. `lead` are words above, `caution` is shown to be read."""

    title: str
    items: tuple[MenuItem[T_co], ...]
    lead: str = ""
    caution: str = ""
    cursor: int = 0
    hints: Hints = (("Enter", "choose"), ("Esc", "cancel"))


@dataclass(frozen=True, slots=True)
class TypePage(Generic[T_co]):
    """Type one line. `read` answers the outcome or raises `UnreadableError`; `nudge(text, steps)` is what arrows do to it.

    `preview` says what the text comes to while it is typed.
    """

    title: str
    prompt: str
    read: Callable[[str], Outcome[T_co]]
    offered: str = ""
    lead: str = ""
    hint: str = ""
    nudge: Callable[[str, int], str] | None = None
    preview: Callable[[str], str] = lambda text: ""
    hints: Hints = (("Enter", "take it"), ("Esc", "cancel"))


Outcome = Answer[T_co] | Stay | Back | ListPage[T_co] | TypePage[T_co]

_NUDGES = {"up": 1, "down": -1, "pageup": 5, "pagedown": -5}


def yes_page(title: str, yes: Outcome[T], yes_words: str, lead: str = "", hints: Hints = (("Esc", "no"),)) -> ListPage[T]:
    """A page on which Enter says yes."""
    return ListPage(title, (MenuItem(f"Enter {yes_words}", yes),), lead, hints=hints)


class PagedDialog(Dialog[T]):
    """Shows one page after the other until an answer is found. `anywhere` maps keys that work on every page to outcomes."""

    def __init__(self, first: ListPage[T] | TypePage[T], anywhere: Mapping[str, Outcome[T]] | None = None) -> None:
        super().__init__()
        self.first = self.page = first
        self._anywhere = dict(anywhere or {})
        self._list = OptionList(markup=False, compact=True)
        self._field = Field()
        self._aside = Static(id="aside", markup=False)
        self._rows = 1

    def body(self) -> ComposeResult:
        with Horizontal(id="choosing"):
            yield self._list
            yield self._aside
        with Horizontal(id="typing", classes="row"):
            yield Static(id="prompt", classes="prompt", markup=False)
            yield self._field
            yield Static(id="preview", markup=False)

    def on_mount(self) -> None:
        self._show(self.page)
        self._field.has_focus = True
        super().on_mount()

    def _show(self, page: ListPage[T] | TypePage[T]) -> None:
        self.page = page
        self.query_one("#choosing").display = isinstance(page, ListPage)
        self.query_one("#typing").display = isinstance(page, TypePage)
        if isinstance(page, ListPage):
            self._list.clear_options().add_options([Option(item.label) for item in page.items])
            self._list.highlighted = page.cursor
        else:
            self._field.offer(page.offered)

    def _follow(self, outcome: Outcome[T]) -> None:
        if isinstance(outcome, Answer):
            self.finish(outcome.value)
        elif isinstance(outcome, Stay):
            self.said = outcome.words
        elif isinstance(outcome, Back):
            self._show(self.first)
            self.said = outcome.words
        else:
            self._show(outcome)

    def press(self, key: str, character: str) -> bool:
        if key == "escape":
            self.finish(None)
        elif key in self._anywhere:
            self._follow(self._anywhere[key])
        elif isinstance(self.page, TypePage):
            self._press_in_field(self.page, key, character)
        else:
            return self._press_in_list(self.page, key, character)
        return True

    def _press_in_list(self, page: ListPage[T], key: str, character: str) -> bool:
        for number, item in enumerate(page.items):
            if item.key and item.key in (key, character):
                self._list.highlighted = number
                self._follow(item.outcome)
                return True
        there = moved_cursor(self._list.highlighted or 0, key, len(page.items), self._rows)
        if there is not None:
            self._list.highlighted = there
        elif key == "enter":
            self._follow(page.items[self._list.highlighted or 0].outcome)
        elif key == "left" and page is not self.first:
            self._show(self.first)
        else:
            return False
        return True

    def _press_in_field(self, page: TypePage[T], key: str, character: str) -> None:
        if character:
            self._field.write(character)
        elif key in _NUDGES and page.nudge is not None:
            self._field.offer(page.nudge(self._field.value, _NUDGES[key]))
        elif key == "enter":
            try:
                self._follow(page.read(self._field.value))
            except UnreadableError as error:
                self.said = str(error)
        else:
            self._field.edit(key)

    def paste(self, text: str) -> None:
        if isinstance(self.page, TypePage):
            self._field.write(text)

    def on_option_list_option_selected(self, message: OptionList.OptionSelected) -> None:
        """A click on an item."""
        message.stop()
        if isinstance(self.page, ListPage) and not self._finished:
            self.said = ""
            self._follow(self.page.items[message.option_index].outcome)
            self.repaint()

    def facts(self, width: int, rows: int) -> list[Text]:
        """What stands under the title; nothing unless a dialog says so."""
        return []

    def aside(self, width: int, rows: int) -> tuple[int, list[Text]]:
        """What stands to the right of a list: its width in cells and its lines; nothing unless a dialog says so."""
        return 0, []

    def heading(self, width: int) -> tuple[str, str]:
        return self.page.title, TYPING_MODE if isinstance(self.page, TypePage) else ""

    def hints(self) -> Hints:
        back = (("←", "back"),) if self.page is not self.first and isinstance(self.page, ListPage) else ()
        return (*self.page.hints, *back)

    def lead(self, width: int, rows: int) -> list[Text]:
        page, facts = self.page, self.facts(width, rows)
        if isinstance(page, TypePage):
            return [*facts, *paragraph(page.lead, width, rows=max(0, min(3, rows - 1)))]
        spare = rows - len(facts) - min(len(page.items), 3)
        caution = paragraph(page.caution, width, ALERT, max(0, min(spare, 4)), "!")
        return [*facts, *caution, *paragraph(page.lead, width, PLAIN, max(0, min(spare - len(caution), 4)))]

    def notes(self, width: int, rows: int) -> list[Text]:
        return paragraph(self.page.hint, width, FAINT, max(0, min(2, rows - 1))) if isinstance(self.page, TypePage) else []

    def fit(self, width: int, rows: int) -> None:
        if isinstance(self.page, TypePage):
            prompt = f" {self.page.prompt} "
            self.query_one("#prompt", Static).update(in_cells(prompt, column_width([prompt], width // 2)))
            self.query_one("#preview", Static).update(f"  {self.page.preview(self._field.value)}")
            return
        self._rows = min(rows, len(self.page.items))
        across, lines = self.aside(width, rows)
        self._list.styles.max_height = rows
        self._list.styles.width = width - across
        self._aside.styles.width, self._aside.display = across, bool(across)
        self.say_lines("#aside", lines)
        keys = column_width([item.shown for item in self.page.items], width)
        for number, item in enumerate(self.page.items):
            line = _item_line(item, keys, width - across - 2)
            self._list.replace_option_prompt_at_index(number, under_cursor(line, number == self._list.highlighted))


def _item_line(item: MenuItem[T], keys: int, width: int) -> Text:
    key = f"{in_cells(item.shown, keys)} " if keys else ""
    style = FAINT if isinstance(item.outcome, Stay) else PLAIN
    return Text.assemble((key, STRONG), labelled(item.label, item.note, width - len(key), style))


class Confirm(PagedDialog[bool]):
    """Asks `question`; answers True for Enter, nothing for Escape. `yes_words` says what Enter does: `ends the part`."""

    def __init__(self, question: str, detail: str, yes_words: str) -> None:
        super().__init__(yes_page(question, Answer(True), yes_words, detail, (("Esc", "no, go on"),)))


class AskMargin(PagedDialog[int]):
    """Asks for a rest margin; answers milliseconds, from 0 to ten minutes. `scope` says for whom: `for this part`."""

    def __init__(self, current_ms: int, scope: str) -> None:
        super().__init__(margin_page(f"Rest margin {scope}", current_ms, lambda margin_ms: margin_ms))


def margin_page(title: str, current_ms: int, answer: Callable[[int], T]) -> TypePage[T]:
    """The page on which a margin is typed. `answer` makes the answer of the milliseconds."""
    return TypePage(
        title=title,
        prompt="at least",
        read=lambda text: Answer(answer(read_margin(text))),
        offered=duration_words(current_ms),
        lead=f"now {duration_words(current_ms)}: a rest under it is flagged",
        hint="15 or 0:15; 0 for none; ↓ ↑ change it by 1 s, PgDn PgUp by 5 s",
        nudge=nudged_margin,
    )


def nudged_margin(text: str, steps: int) -> str:
    """The typed margin some seconds up or down; what would be refused stays as it is."""
    try:
        return duration_words(read_margin(duration_words(max(0, parse_duration_ms(text) + steps * 1000))))
    except UnreadableError:
        return text


ResumeAnswer = Literal["stopped", "would_be"]


class ResumeQuestion(PagedDialog[ResumeAnswer]):
    """After a crash or a sleeping machine: carry on from where the class stopped, or from where it would be now?

    `away` is a sentence, such as `The class was away for 3 min 20 s.`;
    `stopped_at` and `would_be` say a place in the class, such as `round 3, 0:41 left`.
    """

    def __init__(self, away: str, stopped_at: str, would_be: str) -> None:
        items: tuple[MenuItem[ResumeAnswer], ...] = (
            MenuItem("it stopped", Answer("stopped"), note=stopped_at),
            MenuItem("it would be now", Answer("would_be"), note=would_be),
        )
        hints = (("Enter", "carry on"), ("↑↓", "move"), ("Esc", "not yet"))
        super().__init__(ListPage("Carry on from where", items, lead=away, hints=hints))
