"""A second screen for a class that runs in another terminal of this machine: what the class may see, and nothing to press.

Invariant: it reads the records and never writes to them; it may be opened and closed at any time, and no floor waits for it. Once
its class is over, or its floor gone, it follows the next one that runs.
"""

from __future__ import annotations

import asyncio
import os
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import ClassVar

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.driver import Driver

from floorclock.errors import InputProblems, NotFound, ResourceError
from floorclock.journal.shelf import Shelf
from floorclock.live.conductor import SystemClock
from floorclock.live.follower import Follower, FollowStatus
from floorclock.platform import system
from floorclock.tui.floor.floor_panel import FloorPanel
from floorclock.tui.floor.outlooks import Outlooks
from floorclock.tui.floor.present import FloorContext, Presenter

LOOK_S = 0.01
PAINT_LOOKS = 10
PAGE_LOOKS = 600
NEXT_LOOKS = 100
"""The shelf is read this seldom for a class to go on to."""
KEYS = (("Page Down", "more names"), ("Esc", "close"))
BADGES = {
    FollowStatus.RUNNING: "",
    FollowStatus.SILENT: "THE FLOOR DOES NOT ANSWER",
    FollowStatus.ENDED: "ended",
    FollowStatus.GONE: "THE CLASS IS GONE",
}


def running_class(home: Path, prefix: str = "") -> Path:
    """The journal of the class to follow: the one that is named, or the newest that runs.

    Raises:
        NotFound: no class runs, or none has that name.
        WrongUsage: several have it.
    """
    shelf = Shelf(home)
    if prefix:
        return shelf.find(prefix)
    running = next((entry for entry in shelf.classes() if entry.running), None)
    if running is None:
        raise NotFound("no class runs on this machine; start it first, in another terminal: floorclock run SESSION")
    return running.path


class WallApp(App[None]):
    """The class on a second screen."""

    CSS_PATH = "floor/floor.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,ctrl+c,ctrl+q", "quit", show=False),
        Binding("pagedown", "turn(1)", show=False),
        Binding("pageup", "turn(-1)", show=False),
    ]

    def __init__(self, journal: Path, driver: type[Driver] | None = None) -> None:
        super().__init__(driver_class=driver)
        self._home = journal.parent.parent
        self.follower = Follower(journal, SystemClock())
        self.panel = FloorPanel()
        self.trouble = ""
        self._presenter: Presenter | None = None
        self._looks = 0
        self._timer: asyncio.TimerHandle | None = None

    def compose(self) -> ComposeResult:
        yield self.panel

    def on_mount(self) -> None:
        if not self.is_headless:
            system.on_stop(self.exit, asyncio.get_running_loop().add_signal_handler)
        self._look()

    def on_unmount(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self.follower.close()

    def action_turn(self, step: int) -> None:
        """The next page of the names, or the one before."""
        self.panel.turn_page(step)

    def _look(self) -> None:
        """Reads what is new, and paints at once what an event changed; the clock ten times a second."""
        self._timer = asyncio.get_running_loop().call_later(LOOK_S, self._look)
        try:
            came = self.follower.look()
        except (InputProblems, ResourceError) as error:
            self.trouble = str(error)
            self.exit()
            return
        if came or self._looks % PAINT_LOOKS == 0:
            self._paint()
        if self._looks % NEXT_LOOKS == NEXT_LOOKS - 1 and self.follower.status is not FollowStatus.RUNNING:
            self._follow_next()
        if self._looks % PAGE_LOOKS == PAGE_LOOKS - 1:
            self.panel.turn_page()
        self._looks += 1

    def _follow_next(self) -> None:
        """To the next class, if one runs: nobody has to come to the second screen for it."""
        with suppress(NotFound, ResourceError):
            path = running_class(self._home)
            if path != self.follower.path:
                self.follower.close()
                self.follower, self._presenter = Follower(path, SystemClock()), None

    def _paint(self) -> None:
        self.follower.bring_to_now()
        state = self.follower.state
        if state is None:
            self.trouble = f"the journal {self.follower.path} does not say what the class started from"
            self.exit()
            return
        if self._presenter is None or self._presenter.state is not state:
            self._presenter = Presenter(state, Outlooks(state, bring=lambda: False), "class")
        outside = FloorContext(wall=datetime.now().astimezone().strftime("%H:%M"), badge=BADGES[self.follower.status])
        view = self._presenter.view(state.now_ms, self.follower.version, outside)
        self.panel.show(replace(view, keys=KEYS))


def follow_on_the_wall(journal: Path) -> None:
    """Shows a class until somebody closes the screen.

    Raises:
        ResourceError: the class cannot be read.
    """
    from floorclock.tui.base.safe_driver import SafeDriver, watch_terminal

    watch_terminal(lambda: os._exit(0))
    app = WallApp(journal, SafeDriver)
    app.run()
    if app.trouble:
        raise ResourceError(app.trouble)
    if app.return_code:
        raise ResourceError("the second screen crashed; the class goes on")
