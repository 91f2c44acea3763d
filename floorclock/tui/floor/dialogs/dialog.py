"""What all dialogs share: a compact panel over the running floor, keys alone, and no tap lost.

Invariant: every key comes to the dialog itself, in the order in which it was read; the widgets in it are told what to do, and
never have the focus. A key that the dialog does not use and that could be a tap goes on to the app as `PassedKey`, with its time.
Backspace over an open dialog is the dialog's, whatever that makes of it: it never takes back a tap behind it.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final, Generic, TypeVar

from rich.cells import cell_len
from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input, Static
from textual.widgets.input import Selection

from floorclock.tui.base.lines import cut, shielded, wrapped
from floorclock.tui.base.palette import DIM, GROUND, INK, ORANGE

WIDEST, TALLEST = 76, 22
"""A dialog with its border is never wider or taller than this, however large the floor is; the page of all keys may be wider."""
LONGEST_TEXT: Final = 60
TYPING_MODE: Final = "typing: no taps"

PLAIN: Final = Style()
FAINT: Final = Style(color=DIM)
STRONG: Final = Style(bold=True)
ALERT: Final = Style(color=ORANGE, bold=True)
TITLE: Final = Style(color=GROUND, bgcolor=DIM, bold=True)
CURSOR: Final = Style(color=GROUND, bgcolor=INK, bold=True)

T = TypeVar("T")
Hints = tuple[tuple[str, str], ...]
"""Keys, each with what it does."""


@dataclass
class PassedKey(Message):
    """A key that an open dialog has no use for: the app treats it as if no dialog were open.

    Only what could be a tap comes (printable characters, space among them) from an open dialog. From one that is closed
    already comes every key: it is meant for what opened after it. `key.time` is when it was read.
    """

    key: events.Key
    from_closed: bool = False


class Dialog(ModalScreen[T], Generic[T]):
    """A question over the running floor: words above, a body of widgets, words below.

    Subclasses compose their `body`, say the words around it, and say what keys do (`press`).
    """

    CSS_PATH: ClassVar[str] = "dialogs.tcss"
    AUTO_FOCUS: ClassVar[str] = ""
    ALLOW_SELECT: ClassVar[bool] = False

    widest: ClassVar[int] = WIDEST

    def __init__(self) -> None:
        super().__init__()
        self._finished = False
        self.take: Callable[[T | None], None] = lambda answer: None
        """Takes the answer at once: what it opens is there before the next key is handled."""
        self.said = ""
        """The answer to the last wrong input, until the next key."""

    def body(self) -> ComposeResult:
        """The widgets between the words; none unless a dialog says so."""
        return ()

    @abstractmethod
    def heading(self, width: int) -> tuple[str, str]:
        """The title, and what keys mean while it is open."""

    @abstractmethod
    def hints(self) -> Hints:
        """What keys do here, the most important first."""

    def lead(self, width: int, rows: int) -> list[Text]:
        """The words above the body, which has `rows` with them; none unless a dialog says so."""
        return []

    def notes(self, width: int, rows: int) -> list[Text]:
        """The words below the body, which has `rows` with them; none unless a dialog says so."""
        return []

    def size_up(self, width: int, height: int) -> None:
        """Told of the room inside the border before anything is said."""

    def fit(self, width: int, rows: int) -> None:
        """Has the body take at most `rows` lines of this width."""

    @abstractmethod
    def press(self, key: str, character: str) -> bool:
        """Act on a key; False when the dialog has no use for it. `character` is empty for keys that print nothing."""

    def paste(self, text: str) -> None:
        """Take pasted text, without blanks at its ends; a dialog without typing has no use for it."""

    def finish(self, answer: T | None) -> None:
        """Close with an answer, once."""
        if not self._finished:
            self._finished = True
            self.dismiss(answer)
            self.take(answer)

    @property
    def _is_over(self) -> bool:
        """Whether it was answered, or is being taken down with the app: its widgets go first, and what is waiting comes after."""
        return self._finished or not self.display

    def compose(self) -> ComposeResult:
        with Vertical(id="panel"):
            yield Static(id="above", markup=False)
            yield from self.body()
            yield Static(id="below", markup=False)

    def on_mount(self) -> None:
        for widget in self.query("*"):
            widget.can_focus = False
        self.repaint()

    def on_resize(self) -> None:
        self.repaint()

    def repaint(self) -> None:
        """Says everything again, in the room that there is now."""
        if self._is_over or not self.is_mounted:
            return
        across, down = self.app.size
        tight = across < 60 or down < 18
        self.set_class(tight, "tight")
        border = 0 if tight else 2
        width, height = max(1, min(self.widest, across) - border), max(1, min(TALLEST, down) - border)
        self.query_one("#panel").styles.width = width + border
        self.query_one("#panel").styles.max_height = height + border
        self.size_up(width, height)
        foot = [*paragraph(self.said, width, ALERT, 2, "!"), hint_line(self.hints(), width)]
        rows = height - 1 - len(foot)
        lead = self.lead(width, rows)
        notes = self.notes(width, rows - len(lead))
        self.say_lines("#above", [title_line(*self.heading(width), width), *lead])
        self.say_lines("#below", [*notes, *foot])
        self.fit(width, max(1, rows - len(lead) - len(notes)))

    def say_lines(self, selector: str, lines: Sequence[Text]) -> None:
        """Has one of the dialog's texts say these lines, and take as many rows."""
        text = self.query_one(selector, Static)
        text.styles.height = len(lines)
        text.update(Text("\n").join(lines))

    def covers(self, x: int, y: int) -> bool:
        """Whether the panel covers a cell of the screen: a click elsewhere is meant for the floor."""
        return self.query_one("#panel").region.contains(x, y)

    def on_key(self, event: events.Key) -> None:
        # Stopped here: a key that bubbled up to the app as well would be a tap twice.
        event.stop()
        event.prevent_default()
        if self._is_over:
            self.app.post_message(PassedKey(event, from_closed=True))
            return
        self.said = ""
        character = event.character if event.is_printable and event.character else ""
        used = self.press(event.key, character)
        self.repaint()
        if not used and character:
            self.app.post_message(PassedKey(event, from_closed=self._finished))

    def on_paste(self, event: events.Paste) -> None:
        event.stop()
        if not self._is_over:
            self.said = ""
            pasted = event.text.strip()
            if pasted.isprintable():
                self.paste(pasted)
            else:
                self.said = "what was pasted holds control characters: nothing taken"
            self.repaint()


class Field(Input):
    """A line of text that a dialog types into. Text that was offered is selected: the first character typed replaces it."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id, compact=True, select_on_focus=False, max_length=LONGEST_TEXT, highlighter=None)
        self.cursor_blink = False

    def offer(self, text: str) -> None:
        """Puts a text there, to keep or to type over."""
        self.value = text
        self.selection = Selection(0, len(text))

    def write(self, text: str) -> None:
        """Types or pastes; what would make the line too long is left out."""
        start, end = sorted(self.selection)
        room = LONGEST_TEXT - len(self.value) + (end - start)
        self.replace(text[:room], start, end)

    def edit(self, key: str) -> bool:
        """Acts on an editing key; False when it is none."""
        match key:
            case "backspace" | "ctrl+h":
                self.action_delete_left()
            case "delete":
                self.action_delete_right()
            case "ctrl+u":
                self.action_delete_left_all()
            case "left":
                self.action_cursor_left()
            case "right":
                self.action_cursor_right()
            case "home":
                self.action_home()
            case "end":
                self.action_end()
            case _:
                return False
        return True


def in_cells(text: str, width: int) -> str:
    """`text` in exactly `width` cells, cut or filled on its right; one that runs from the right keeps to its place."""
    text = cut(text, width)
    return shielded(text) + " " * (width - cell_len(text))


def paragraph(text: str, width: int, style: Style = PLAIN, rows: int = 3, mark: str = "") -> list[Text]:
    """Words as indented lines, at most `rows`; `mark` stands before the first. Nothing for no words."""
    start = f" {mark} " if mark else " "
    lines = wrapped(text, max(1, width - len(start) - 1), rows) if text else []
    return [Text((start if at == 0 else " " * len(start)) + line, style) for at, line in enumerate(lines)]


def title_line(title: str, mode: str, width: int) -> Text:
    """The first line of a dialog: what it is, and what keys mean while it is open."""
    right = f"  {mode} " if mode else " "
    return Text(in_cells(f" {title}", max(0, width - cell_len(right))) + cut(right, width), TITLE)


def hint_line(hints: Hints, width: int) -> Text:
    """What keys do here, as many as fit whole, the first first."""
    line = Text()
    for key, words in hints:
        if line.cell_len + cell_len(f" {key} {words}") > width:
            break
        line.append(f" {key}", STRONG).append(f" {words} ", FAINT)
    return line


def labelled(label: str, note: str, width: int, style: Style = PLAIN) -> Text:
    """A label and a faint note at the right end, in `width` cells; the label keeps two thirds of them where it needs them."""
    note_cells = min(cell_len(note), max(width - cell_len(label) - 2, width // 3)) if note else 0
    if note_cells < 2:
        return Text(in_cells(label, width), style)
    return Text.assemble((in_cells(label, width - note_cells - 2) + "  ", style), (in_cells(note, note_cells), FAINT))


def under_cursor(line: Text, chosen: bool) -> Text:
    """A line of a list, with the mark and without colours of its own where the cursor is."""
    return Text(f"›{line.plain}") if chosen else Text(" ") + line


def moved_cursor(cursor: int, key: str, count: int, rows: int, columns: int = 1) -> int | None:
    """Where the cursor goes on a key among `count` choices in columns; None when the key moves no cursor.

    `rows` is how many rows are in sight.
    """
    steps = {"up": -columns, "down": columns, "pageup": -columns * rows, "pagedown": columns * rows, "home": -count, "end": count}
    if columns > 1:
        steps |= {"left": -1, "right": 1}
    if key not in steps:
        return None
    there = cursor + steps[key]
    if key in ("up", "down") and not 0 <= there < count:
        return cursor
    return max(0, min(count - 1, there))


def first_in_sight(at: int, count: int, rows: int) -> int:
    """The first of the `rows` rows shown so that row `at` of `count` is among them, near the middle."""
    return max(0, min(at - rows // 2, count - rows))


def column_width(words: Sequence[str], widest: int) -> int:
    """The cells that the longest of some words takes, `widest` at most."""
    return min(widest, max(map(cell_len, words), default=0))
