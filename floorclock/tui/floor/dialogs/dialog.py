"""What all dialogs share: a compact panel over the running floor, keys alone, and no tap lost.

Invariant: a key that the dialog does not use itself and that could be a tap goes on to the app as `PassedKey`, in order and with
the time at which it was read, also when it comes after the key that closed the dialog. Backspace over an open dialog is meant for
the dialog, whatever that makes of it: it never takes back a tap behind it.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import ClassVar, Generic, TypeVar

from rich.cells import cell_len
from rich.segment import Segment
from textual import events
from textual.app import ComposeResult
from textual.geometry import Size
from textual.message import Message
from textual.screen import ModalScreen
from textual.strip import Strip
from textual.widget import Widget

from floorclock.tui.base.palette import INK, RAISED
from floorclock.tui.floor.dialogs.parts import STYLES, Line, in_width

WIDEST, TALLEST = 76, 22
"""A dialog with its border is never wider or taller than this, however large the floor is; the page of all keys may be wider."""

T = TypeVar("T")


@dataclass
class PassedKey(Message):
    """A key that an open dialog has no use for: the app treats it as if no dialog were open.

    Only what could be a tap comes: printable characters (space among them), and Backspace where the dialog had been closed
    already. `key.time` is when it was read.
    """

    key: events.Key


class DialogPanel(Widget):
    """Draws the lines it is given."""

    @dataclass
    class Picked(Message):
        """A click or touch on something that can be chosen."""

        number: int

    def __init__(self) -> None:
        super().__init__()
        self._lines: list[Line] = []
        self._width = 0

    def show(self, lines: list[Line], width: int) -> None:
        """Draw these lines, each `width` cells wide."""
        self._lines, self._width = [in_width(line, width) for line in lines], width
        self.refresh(layout=True)

    def get_content_width(self, container: Size, viewport: Size) -> int:
        return self._width

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self._lines)

    def render_line(self, y: int) -> Strip:
        if y >= len(self._lines):
            return Strip.blank(self.size.width, STYLES["text"])
        return Strip([Segment(part.text, STYLES[part.ink]) for part in self._lines[y]])

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if offset is None or offset.y >= len(self._lines):
            return
        end = 0
        for part in self._lines[offset.y]:
            end += cell_len(part.text)
            if offset.x < end:
                if part.pick is not None:
                    self.post_message(self.Picked(part.pick))
                return


class Dialog(ModalScreen[T], Generic[T]):
    """A question over the running floor. Subclasses draw themselves (`paint`) and say what keys do (`press`)."""

    CSS_PATH: ClassVar[str] = "dialogs.tcss"
    AUTO_FOCUS: ClassVar[str] = ""
    ALLOW_SELECT: ClassVar[bool] = False

    widest: ClassVar[int] = WIDEST

    def __init__(self) -> None:
        super().__init__()
        self._finished = False
        self.said = ""
        """The answer to the last wrong input, until the next key."""

    @abstractmethod
    def paint(self, width: int, height: int) -> list[Line]:
        """The dialog in `width` cells and at most `height` lines."""

    @abstractmethod
    def press(self, key: str, character: str) -> bool:
        """Act on a key; False when the dialog has no use for it. `character` is empty for keys that print nothing."""

    def paste(self, text: str) -> None:
        """Take pasted text; a dialog without typing has no use for it."""

    def pick(self, number: int) -> None:
        """Act on a click on choice `number`."""

    def finish(self, answer: T | None) -> None:
        """Close with an answer, once."""
        if not self._finished:
            self._finished = True
            self.dismiss(answer)

    def repaint(self) -> None:
        """Draw again, in the room that there is now."""
        if self._finished or not self.is_mounted:
            return
        width, height = self.app.size
        tight = width < 60 or height < 18
        panel = self.query_one(DialogPanel)
        panel.styles.border = ("none", RAISED) if tight else ("round", INK)
        border = 0 if tight else 2
        inner = max(1, min(self.widest, width) - border)
        room = max(1, min(TALLEST, height) - border)
        panel.show(self.paint(inner, room)[:room], inner)

    def covers(self, x: int, y: int) -> bool:
        """Whether the panel covers a cell of the screen: a click elsewhere is meant for the floor."""
        return self.query_one(DialogPanel).region.contains(x, y)

    def compose(self) -> ComposeResult:
        yield DialogPanel()

    def on_mount(self) -> None:
        self.query_one(DialogPanel).styles.background = RAISED
        self.repaint()

    def on_resize(self) -> None:
        self.repaint()

    def on_key(self, event: events.Key) -> None:
        # Stopped here: a key that bubbled up to the app as well would be a tap twice.
        event.stop()
        event.prevent_default()
        was_open = not self._finished
        if was_open:
            self.said = ""
            if self.press(event.key, event.character if event.is_printable and event.character else ""):
                self.repaint()
                return
        if event.is_printable or (event.key == "backspace" and not was_open):
            self.app.post_message(PassedKey(event))

    def on_paste(self, event: events.Paste) -> None:
        event.stop()
        if not self._finished:
            self.said = ""
            self.paste(event.text)
            self.repaint()

    def on_dialog_panel_picked(self, message: DialogPanel.Picked) -> None:
        message.stop()
        if not self._finished:
            self.said = ""
            self.pick(message.number)
            self.repaint()
