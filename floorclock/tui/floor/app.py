"""The app: holds the screen, the conductor and the ways out.

Invariant: the app decides nothing about the class. Whatever ends it (a key, a signal, a closed terminal) leaves the
journal whole: every event was written before it was shown.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from textual import events
from textual.app import App

from floorclock.live.conductor import Conductor
from floorclock.platform import system
from floorclock.tui.floor.desk import FloorSettings
from floorclock.tui.floor.floor_screen import FloorScreen

if TYPE_CHECKING:
    from floorclock.tui.floor.dialogs.dialog import PassedKey


class FloorApp(App[int], inherit_bindings=False):
    """The floor on the wall. No key of the framework's own ends it: F10 does, and asks first."""

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
            system.on_stop(lambda: self.exit(0), loop.add_signal_handler)

    def get_default_screen(self) -> FloorScreen:
        return FloorScreen(self.conductor, self.settings)

    @property
    def _floor(self) -> FloorScreen:
        floor = self.screen_stack[0]
        assert isinstance(floor, FloorScreen)
        return floor

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key | events.MouseEvent) and not event.is_forwarded:
            self.last_event_time = event.time
            if isinstance(event, events.Key):
                # On its way out the app has no screen any more.
                if self.screen_stack:
                    self._take_key(event)
                return
            if isinstance(event, events.MouseDown):
                self._press_beside_a_dialog(event)
        await super().on_event(event)

    def _take_key(self, event: events.Key) -> None:
        """The floor takes a key at once: what it opens is there before the next key, which is the dialog's then."""
        if event.key in ("ctrl+c", "ctrl+q"):
            self._floor.desk.say("F10 ends the class", warning=True)
        elif self.screen is self._floor:
            self._floor.take_key(event)
        else:
            self.screen.post_message(event)

    def _press_beside_a_dialog(self, event: events.MouseDown) -> None:
        """While a dialog is open, a press beside it is still a press on the board."""
        if self.screen is not self._floor:
            from floorclock.tui.floor.dialogs.dialog import Dialog

            if isinstance(self.screen, Dialog) and not self.screen.covers(event.x, event.y):
                self._floor.press_board(event)

    def on_passed_key(self, message: PassedKey) -> None:
        """A key that a dialog had no use for; one that came to a closed dialog is the next dialog's, if another is open."""
        if not self.screen_stack:
            # The app is on its way out.
            return
        if message.from_closed and self.screen is not self._floor:
            # An event that was handled once is not handled again: the next dialog gets its like.
            key = events.Key(message.key.key, message.key.character)
            key.time = message.key.time
            self.screen.post_message(key)
        elif message.key.is_printable or message.key.key == "backspace":
            self._floor.take_key(message.key)
