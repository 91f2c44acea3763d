"""The brief on the wall: one part after the other, in as large a hand as the room allows, turned by key.

Invariant: it reads the plan and the roster and nothing else; no class is opened and nothing is recorded.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.driver import Driver

from floorclock.clock.state import ClassState
from floorclock.tui.base.keys_line import KeysLine
from floorclock.tui.brief.brief_clock import BriefClock
from floorclock.tui.floor.brief import BriefPanel
from floorclock.tui.floor.present_work import brief_pages
from floorclock.tui.floor.view import BriefView

KEYS = (("→", "next"), ("←", "back"), ("Page Down", "more of this part"), ("t", "three minutes again"), ("Esc", "leave"))


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
        self.keys.show((*KEYS, (f"{len(self.pages)}", "parts")) if len(self.pages) > 1 else KEYS)
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
