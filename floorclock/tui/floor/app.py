"""The app: holds the screen, the conductor and the ways out.

Invariant: the app decides nothing about the class. Whatever ends it (a key, a signal, a closed terminal) leaves the
journal whole: every event was written before it was shown.
"""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, Protocol

from textual import events
from textual.app import App
from textual.binding import Binding, BindingType
from textual.driver import Driver

from floorclock.live.conductor import Conductor
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.tui.floor.floor_screen import FloorScreen

if TYPE_CHECKING:
    from floorclock.tui.floor.dialogs.dialog import PassedKey


class Autopilot(Protocol):
    """Athletes who tap by themselves, for a demo."""

    def run(self, conductor: Conductor) -> None:
        """Sends the taps that are due by now."""


@dataclass(frozen=True, kw_only=True)
class Away:
    """The class was interrupted: how long ago, in wall time."""

    away_ms: int


@dataclass(kw_only=True)
class FloorSettings:
    """What a floor needs besides its class. `badges` are asked for the standing notices at every look.

    `preparations` run one after the other on a thread once the first picture is there (a device may take its time to
    open); the coming cues are handed to the sound after each. `sound_problems` fills up meanwhile. `prior` is asked after
    them, on a thread too: what earlier classes say of the athletes.
    """

    badges: Callable[[], str] = lambda: ""
    attach: Callable[[asyncio.AbstractEventLoop], None] = lambda loop: None
    away: Away | None = None
    autopilot: Autopilot | None = None
    mute: Callable[[bool], None] = lambda quiet: None
    beat: Callable[[int], None] = lambda class_ms: None
    driver: type[Driver] | None = None
    notices: list[str] = field(default_factory=list)
    preparations: Sequence[Callable[[], None]] = ()
    sound_problems: Sequence[str] = ()
    prior: Callable[[], Prior] = lambda: NO_PRIOR


class FloorApp(App[int], inherit_bindings=False):
    """The floor on the wall. No key of the framework's own ends it: F10 does, and asks first."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+c,ctrl+q", "help_quit", show=False, system=True)]
    CSS_PATH = "floor.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "floorclock"

    def __init__(self, conductor: Conductor, settings: FloorSettings) -> None:
        super().__init__(driver_class=settings.driver)
        self.conductor = conductor
        self.settings = settings
        self.last_event_time = 0.0
        """The time of the event that is handled now; mouse events lose it on their way to a widget."""

    def on_load(self) -> None:
        loop = asyncio.get_running_loop()
        self.settings.attach(loop)
        if not self.is_headless:
            for number in (signal.SIGTERM, signal.SIGHUP):
                loop.add_signal_handler(number, self.exit, 0)

    def get_default_screen(self) -> FloorScreen:
        return FloorScreen(self.conductor, self.settings)

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key | events.MouseEvent) and not event.is_forwarded:
            self.last_event_time = event.time
            if isinstance(event, events.MouseDown):
                self._press_beside_a_dialog(event)
        await super().on_event(event)

    def _press_beside_a_dialog(self, event: events.MouseDown) -> None:
        """While a dialog is open, a press beside it is still a press on the board."""
        floor = self.screen_stack[0]
        if isinstance(floor, FloorScreen) and floor is not self.screen:
            from floorclock.tui.floor.dialogs.dialog import Dialog

            if isinstance(self.screen, Dialog) and not self.screen.covers(event.x, event.y):
                floor.press_board(event)

    def on_passed_key(self, message: PassedKey) -> None:
        """A key that an open dialog had no use for."""
        floor = self.screen_stack[0]
        if isinstance(floor, FloorScreen):
            floor.take_key(message.key)

    def action_help_quit(self) -> None:
        """Ctrl+C and Ctrl+Q do not end a class; they say what does."""
        floor = self.screen_stack[0]
        if isinstance(floor, FloorScreen):
            floor.say("F10 ends the class", warning=True)
