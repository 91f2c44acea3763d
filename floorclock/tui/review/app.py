"""The app of the review, and the way into it from the command line.

Invariant: the app does not end by a key or a signal while a rating is on its way to the disk.
"""

from __future__ import annotations

import asyncio
import os
import signal
from pathlib import Path
from typing import ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.driver import Driver

from floorclock.digest.class_digest import ClassDigest
from floorclock.errors import ResourceError
from floorclock.tui.review.screen import ReviewScreen
from floorclock.tui.review.source import JournalSource, ReviewSource


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
            loop = asyncio.get_running_loop()
            for number in (signal.SIGTERM, signal.SIGHUP):
                loop.add_signal_handler(number, self.review.leave)


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
        raise ResourceError("the review ended by a defect of its own; what was rated is kept")
