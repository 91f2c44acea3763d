"""The app of the review, the class that it shows by its journal, and the way into it from the command line.

Invariant: the app does not end by a key or a signal while a rating is on its way to the disk; ratings go through `add_event`,
which alone adds to a class that is over.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Mapping
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.driver import Driver

from floorclock.clock.events import EffortRated
from floorclock.digest.class_digest import ClassDigest
from floorclock.errors import ResourceError
from floorclock.insight.history import loads_before, prior_before
from floorclock.live.afterwards import add_event, recorded_digest
from floorclock.pace.load import WeekLoad
from floorclock.platform import system
from floorclock.tui.review.effort import ReviewSource
from floorclock.tui.review.screen import ReviewScreen


class ReviewApp(App[int], inherit_bindings=False):
    """One recorded class on the whole screen."""

    CSS_PATH = "review.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "floorclock"
    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(self, digest: ClassDigest, source: ReviewSource, driver: type[Driver] | None = None) -> None:
        super().__init__(driver_class=driver)
        self.review = ReviewScreen(digest, source)

    def get_default_screen(self) -> ReviewScreen:
        """The review is all there is."""
        return self.review

    def on_load(self) -> None:
        if not self.is_headless:
            system.on_stop(self.review.leave, asyncio.get_running_loop().add_signal_handler)


class JournalSource:
    """One class of a home."""

    def __init__(self, home: Path, journal: Path) -> None:
        self._home, self._journal = home, journal

    def digest(self) -> ClassDigest:
        """Worked out anew each time, with what earlier classes say of its people."""
        return recorded_digest(self._journal, partial(prior_before, self._home))

    def weeks(self, digest: ClassDigest) -> Mapping[str, WeekLoad]:
        """The seven days up to the day on which the class began."""
        if not digest.started:
            return {}
        return loads_before(self._home, digest.athletes, datetime.fromisoformat(digest.started).date())

    def rate(self, athlete: str, effort: float | None) -> None:
        """Kept when it returns."""
        add_event(self._journal, EffortRated(at_ms=0, athlete=athlete, effort=effort))


def review_on_screen(home: Path, journal: Path) -> None:
    """Opens a recorded class on the terminal until the coach leaves.

    Raises:
        FloorclockError: the class cannot be read.
        ResourceError: the screen ended by a defect of its own.
    """
    from floorclock.tui.base.safe_driver import SafeDriver, watch_terminal

    source = JournalSource(home, journal)
    app = ReviewApp(source.digest(), source, SafeDriver)
    # Without a terminal nobody can leave; what was rated is on the disk, or on its way in a thread that ends by itself.
    watch_terminal(lambda: os._exit(0))
    app.run()
    if app.return_code:
        raise ResourceError("the review crashed; the ratings are kept")
