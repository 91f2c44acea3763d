"""Lines the sound up with the screen: a flash and a beep every second and a half, moved until they come together.

Invariant: the flash is at the instant, always; only the sound is moved, so what is found is how late the speaker sounds.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from typing import ClassVar, Protocol

from rich.text import Text
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.driver import Driver
from textual.widgets import Static

from floorclock.clock.cues import CueName
from floorclock.journal.settings import FARTHEST_OFFSET_MS
from floorclock.tui.base.palette import CAP, FAINT, GROUND, INK, STRONG

EVERY_S = 1.5
FLASH_S = 0.12
AHEAD_S = 0.6 + FARTHEST_OFFSET_MS / 1000
"""A beep is handed on so long before it is due: a late speaker has to be told earlier."""
FINE_MS, COARSE_MS = 10, 50


class Beeper(Protocol):
    """What is tuned: the speaker."""

    offset_ms: int

    @property
    def trouble(self) -> str:
        """Empty when it sounds."""

    def schedule(self, at_s: float, cue: CueName) -> None:
        """A cue at a monotonic time in seconds."""

    def withdraw(self) -> None:
        """Takes back what has not sounded."""


class TuneApp(App[int]):
    """Returns the offset in milliseconds that the coach saved, or nothing."""

    CSS = f"""
    Screen {{ background: {GROUND}; overflow: hidden; }}
    #light {{ height: 1fr; margin: 0 0 1 0; }}
    #words {{ height: 3; text-wrap: nowrap; text-overflow: ellipsis; }}
    """
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("right", f"later({FINE_MS})", show=False),
        Binding("left", f"later(-{FINE_MS})", show=False),
        Binding("pageup", f"later({COARSE_MS})", show=False),
        Binding("pagedown", f"later(-{COARSE_MS})", show=False),
        Binding("enter", "save", show=False),
        Binding("escape,q,ctrl+c", "leave", show=False),
    ]

    def __init__(self, beeper: Beeper, driver: type[Driver] | None = None, now: Callable[[], float] = time.monotonic) -> None:
        super().__init__(driver_class=driver)
        self.beeper = beeper
        self._now = now
        self.light, self.words = Static(id="light"), Static(id="words")
        self._next_s = 0.0
        self._timer: asyncio.TimerHandle | None = None

    def compose(self) -> ComposeResult:
        yield self.light
        yield self.words

    def on_mount(self) -> None:
        self._begin()

    def on_unmount(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self.beeper.withdraw()

    def _begin(self) -> None:
        """Starts the beat anew, with the offset as it is now."""
        if self._timer is not None:
            self._timer.cancel()
        self.beeper.withdraw()
        self._next_s = self._now() + AHEAD_S
        self.beeper.schedule(self._next_s, CueName.COUNT)
        self._show(lit=False)
        self._timer = asyncio.get_running_loop().call_later(AHEAD_S, self.flash)

    def flash(self) -> None:
        """Lights the screen for an instant, and hands on the beep of the next flash."""
        self._show(lit=True)
        self._next_s += EVERY_S
        self.beeper.schedule(self._next_s, CueName.COUNT)
        self._timer = asyncio.get_running_loop().call_later(FLASH_S, self._darken)

    def _darken(self) -> None:
        self._show(lit=False)
        left_s = max(0.0, self._next_s - self._now())
        self._timer = asyncio.get_running_loop().call_later(left_s, self.flash)

    def _show(self, *, lit: bool) -> None:
        # Not by a class of the style sheet: that would be looked up first, and the flash would come late.
        self.light.styles.background = INK if lit else GROUND
        sound = self.beeper.trouble or "sounding"
        lines = (
            (f" the speaker sounds {self.beeper.offset_ms} ms late   ({sound}) ", CAP),
            ("\n → the beep comes after the flash   ← before it   Page Up, Page Down in bigger steps", STRONG),
            ("\n Enter keeps it for this machine   Esc leaves it as it was", FAINT),
        )
        self.words.update(Text.assemble(*lines))

    def action_later(self, ms: int) -> None:
        """The beep came too late: it has to be sent earlier by so much more."""
        self.beeper.offset_ms = max(-FARTHEST_OFFSET_MS, min(FARTHEST_OFFSET_MS, self.beeper.offset_ms + ms))
        self._begin()

    def action_save(self) -> None:
        """What was found is kept."""
        self.exit(self.beeper.offset_ms)

    def action_leave(self) -> None:
        """Nothing is kept."""
        self.exit()
