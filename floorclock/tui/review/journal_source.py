"""A recorded class as the review's source: its journal, and the other journals of the same home.

Invariant: ratings go through `afterwards`, which alone adds to the journal of a class that is over.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from floorclock.clock.events import EffortRated
from floorclock.digest.class_digest import ClassDigest
from floorclock.insight.history import loads_of, prior_before
from floorclock.live.afterwards import add_event, recorded_digest
from floorclock.pace.load import WeekLoad


class JournalSource:
    """One class by its journal."""

    def __init__(self, home: Path, journal: Path) -> None:
        self._home, self._journal = home, journal

    def summary(self) -> ClassDigest:
        """Worked out anew each time, with what earlier classes say of its people."""
        return recorded_digest(self._journal, prior_before(self._home, self._journal))

    def weeks(self, summary: ClassDigest) -> Mapping[str, WeekLoad]:
        """The seven days up to the day on which the class began."""
        if not summary.started:
            return {}
        return loads_of(self._home, summary.athletes, datetime.fromisoformat(summary.started).date())

    def rate(self, athlete: str, effort: float | None) -> None:
        """Kept when it returns."""
        add_event(self._journal, EffortRated(at_ms=0, athlete=athlete, effort=effort))
