"""The app of the review: holds the screens, what is looked at, and the way ratings take to the disk.

Invariant: ratings are kept in the order they were made; the app does not end while one is on its way.
"""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.driver import Driver

from floorclock.digest.class_digest import ClassDigest
from floorclock.errors import FloorclockError, ResourceError
from floorclock.pace.load import WeekLoad
from floorclock.tui.floor.dialogs.help_page import HelpPage
from floorclock.tui.review.athlete_screen import AthleteScreen
from floorclock.tui.review.effort_screen import EffortScreen
from floorclock.tui.review.glance_screen import GlanceScreen
from floorclock.tui.review.keys import ALL_KEYS
from floorclock.tui.review.rest_screen import RestScreen
from floorclock.tui.review.results_screen import ResultsScreen
from floorclock.tui.review.review_screen import ReviewScreen
from floorclock.tui.review.selection import ReviewSelection
from floorclock.tui.review.source import ReviewSource
from floorclock.tui.review.tabs import VIEWS


class ReviewApp(App[int], inherit_bindings=False):
    """One recorded class on the whole screen."""

    CSS_PATH = "review.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "floorclock"
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(self, summary: ClassDigest, source: ReviewSource, driver: type[Driver] | None = None) -> None:
        super().__init__(driver_class=driver)
        self.selection = ReviewSelection(summary)
        self.source = source
        self.weeks: Mapping[str, WeekLoad] = {}
        self.trouble = ""
        """Why the last thing that should have been kept or read was not; empty when all is well."""
        self.views: tuple[ReviewScreen, ...] = (
            GlanceScreen(), RestScreen(), AthleteScreen(), ResultsScreen(), EffortScreen(),
        )  # fmt: skip
        self._came_from: int | None = None
        """The view in which the athlete in sight was asked for; None where the coach turned to them."""
        self._way = asyncio.Lock()
        self._on_the_way = 0

    def on_load(self) -> None:
        if not self.is_headless:
            loop = asyncio.get_running_loop()
            for number in (signal.SIGTERM, signal.SIGHUP):
                loop.add_signal_handler(number, self.leave)

    async def on_mount(self) -> None:
        # Installed screens live on while another one is open.
        for screen in self.views:
            self.install_screen(screen, name=VIEWS[screen.NUMBER])
        await self.push_screen(self.views[0])
        self.run_worker(self._read_weeks(), exclusive=False)

    @property
    def view(self) -> ReviewScreen:
        """The view that is open, under a dialog too."""
        return next((screen for screen in reversed(self.screen_stack) if isinstance(screen, ReviewScreen)), self.views[0])

    def turn_to(self, number: int) -> None:
        """Opens a view (from 0)."""
        self._came_from = None
        if self.view is not self.views[number] and self.screen is self.view:
            self.switch_screen(self.views[number])

    def open_athlete(self, name: str) -> None:
        """Looks at somebody; Escape goes back to where that was asked for."""
        came_from = self.view.NUMBER
        self.selection.choose(name)
        self.turn_to(VIEWS.index("athlete"))
        self._came_from = came_from

    def go_back(self) -> None:
        """Back to where somebody was asked for; from everywhere else, out."""
        if self._came_from is None:
            self.leave()
        else:
            self.turn_to(self._came_from)

    def turn(self, step: int) -> None:
        """The next view, or the one before."""
        self.turn_to((self.view.NUMBER + step) % len(self.views))

    def show_keys(self) -> None:
        """All keys on one page."""
        self.push_screen(HelpPage(ALL_KEYS))

    def leave(self) -> None:
        """Leaves once everything that was rated is kept."""
        self.run_worker(self._leave(), exclusive=False)

    def rate(self, athlete: str, effort: float | None) -> None:
        """Sends a rating on its way; the open view is shown again when it is kept, or why it was not."""
        self._on_the_way += 1
        self.run_worker(self._rate(athlete, effort), exclusive=False)

    @property
    def keeping(self) -> bool:
        """True while a rating is on its way to the disk."""
        return self._on_the_way > 0

    async def _rate(self, athlete: str, effort: float | None) -> None:
        # The lock is fair: what was typed first is kept first.
        async with self._way:
            try:
                await asyncio.to_thread(self.source.rate, athlete, effort)
                self.trouble = ""
                self.selection.summary = rated(self.selection.summary, athlete, effort)
            except FloorclockError as error:
                self.trouble = f"not kept: {error}"
            finally:
                self._on_the_way -= 1
        if not self.keeping:
            await self._read_weeks()

    async def _read_weeks(self) -> None:
        """The weeks as they are recorded now, on the screen as soon as they are known."""
        if self.is_running:
            self.view.refill()
        async with self._way:
            try:
                self.weeks = await asyncio.to_thread(self.source.weeks, self.selection.summary)
            except FloorclockError as error:
                self.trouble = self.trouble or str(error)
        if self.is_running:
            self.view.refill()

    async def _leave(self) -> None:
        async with self._way:
            pass
        self.exit(0)


def rated(summary: ClassDigest, athlete: str, effort: float | None) -> ClassDigest:
    """The class with one more rating; nothing else of it follows from that."""
    load = tuple(replace(one, effort=effort) if one.name == athlete else one for one in summary.load)
    return replace(summary, load=load)


def review_on_screen(home: Path, journal: Path) -> None:
    """Opens a recorded class on the terminal until the coach leaves.

    Raises:
        FloorclockError: the class cannot be read.
        ResourceError: the screen ended by a defect of its own.
    """
    from floorclock.tui.base.safe_driver import SafeDriver, watch_terminal
    from floorclock.tui.review.journal_source import JournalSource

    source = JournalSource(home, journal)
    app = ReviewApp(source.summary(), source, SafeDriver)
    # Without a terminal nobody can leave; what was rated is on the disk, or on its way in a thread that ends by itself.
    watch_terminal(lambda: os._exit(0))
    app.run()
    if app.return_code:
        raise ResourceError("the review ended by a defect of its own; what was rated is kept")
