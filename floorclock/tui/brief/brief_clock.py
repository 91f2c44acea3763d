"""Three minutes for the brief: what is left of them, and with a plus what it has gone over.

Invariant: the time is read from a clock each time it is shown; the timer only repaints.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Final

from textual.widgets import Digits

from floorclock.plan.durations import duration_words

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
