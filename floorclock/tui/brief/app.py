"""The brief on the wall: one part after the other, in letters as large as the room allows, turned by key.

Invariant: it reads the plan and the roster and nothing else; no class is opened and nothing is recorded.
Its three minutes are read from a clock each time they are shown; the timer only repaints.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import ClassVar, Final

from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.driver import Driver
from textual.widgets import Digits

from floorclock.clock.state import ClassState
from floorclock.plan.durations import duration_words
from floorclock.plan.names import counted
from floorclock.tui.base.keys_line import KeysLine
from floorclock.tui.floor.brief import BriefPanel
from floorclock.tui.floor.present_work import brief_pages
from floorclock.tui.floor.view import BriefView

KEYS = (("←", "back"), ("Page Down", "more of this part"), ("t", "three minutes again"), ("Esc", "leave"))
BRIEF_S: Final = 180
PAINT_S: Final = 0.2


def brief_words(gone_s: float) -> str:
    """`2:41` left, rounded up so that 0:00 is the end; `+0:12` over."""
    left_s = -int(-(BRIEF_S - gone_s) // 1)
    return duration_words(1000 * left_s) if left_s >= 0 else f"+{duration_words(-1000 * left_s)}"


class BriefClock(Digits):
    """The clock of the brief; it begins when it is first shown."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._now = now
        self._began_s = now()

    def on_mount(self) -> None:
        self.begin()
        self.set_interval(PAINT_S, self._show)

    def begin(self) -> None:
        """From the beginning."""
        self._began_s = self._now()
        self._show()

    def _show(self) -> None:
        words = brief_words(self._now() - self._began_s)
        if words != self.value:
            self.update(words)


class BriefApp(App[None]):
    """Pages through the parts of a session."""

    CSS = """
    Screen { background: #0A0C0F; overflow: hidden; }
    BriefPanel { height: 1fr; margin: 1 2; }
    #foot { height: 3; dock: bottom; }
    KeysLine { height: 1; width: 1fr; margin-top: 2; }
    BriefClock { width: auto; margin-right: 2; color: #F4F3EE; background: #0A0C0F; }
    """
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("right,space,enter", "turn(1)", show=False),
        Binding("left,backspace", "turn(-1)", show=False),
        Binding("pagedown,down", "more(1)", show=False),
        Binding("pageup,up", "more(-1)", show=False),
        Binding("t", "time_again", show=False),
        Binding("escape,q,ctrl+c", "quit", show=False),
    ]

    def __init__(self, state: ClassState, driver: type[Driver] | None = None) -> None:
        super().__init__(driver_class=driver)
        self.pages: Sequence[BriefView] = brief_pages(state)
        self.at = 0
        self.panel = BriefPanel()
        self.keys = KeysLine()
        self.clock = BriefClock()

    def compose(self) -> ComposeResult:
        yield self.panel
        with Horizontal(id="foot"):
            yield self.keys
            yield self.clock

    def on_mount(self) -> None:
        self.keys.show((("→", f"next of {counted(len(self.pages), 'part')}"), *KEYS))
        self.panel.show(self.pages[self.at])

    def action_turn(self, step: int) -> None:
        """The next part, or the one before."""
        self.at = max(0, min(len(self.pages) - 1, self.at + step))
        self.panel.show(self.pages[self.at])

    def action_more(self, step: int) -> None:
        """The next page of a part that is longer than the screen."""
        self.panel.turn_page(step)

    def action_time_again(self) -> None:
        """The clock of the brief from its beginning."""
        self.clock.begin()

    def on_click(self, event: events.Click) -> None:
        self.action_turn(1)
