"""The class that is reviewed, by its journal: what it came to, the weeks around it, and where ratings go.

Invariant: what `rate` returned from is on the disk; it goes through `add_event`, which alone adds to a class that is over.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Protocol

from floorclock.clock.events import EffortRated
from floorclock.digest.class_digest import ClassDigest
from floorclock.insight.history import loads_of, prior_before
from floorclock.live.afterwards import add_event, recorded_digest
from floorclock.pace.load import WeekLoad


class ReviewSource(Protocol):
    """The records around one class. The methods may take their time: they are called on a thread."""

    def weeks(self, digest: ClassDigest) -> Mapping[str, WeekLoad]:
        """For everybody in the class, the seven days that end with its day.

        Raises:
            FloorclockError: the records cannot be read.
        """

    def rate(self, athlete: str, effort: float | None) -> None:
        """Keeps an athlete's effort for the class; None takes it back.

        Raises:
            FloorclockError: it could not be kept.
        """


class JournalSource:
    """One class of a home."""

    def __init__(self, home: Path, journal: Path) -> None:
        self._home, self._journal = home, journal

    def digest(self) -> ClassDigest:
        """Worked out anew each time, with what earlier classes say of its people."""
        return recorded_digest(self._journal, prior_before(self._home, self._journal))

    def weeks(self, digest: ClassDigest) -> Mapping[str, WeekLoad]:
        """The seven days up to the day on which the class began."""
        if not digest.started:
            return {}
        return loads_of(self._home, digest.athletes, datetime.fromisoformat(digest.started).date())

    def rate(self, athlete: str, effort: float | None) -> None:
        """Kept when it returns."""
        add_event(self._journal, EffortRated(at_ms=0, athlete=athlete, effort=effort))
