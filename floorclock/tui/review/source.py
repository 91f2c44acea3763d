"""The records around the class that is reviewed, and where ratings go.

Invariant: what `rate` returned from is on the disk.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from floorclock.digest.class_digest import ClassDigest
from floorclock.pace.load import WeekLoad


class ReviewSource(Protocol):
    """The records around one class. The methods may take their time: they are called on a thread."""

    def weeks(self, summary: ClassDigest) -> Mapping[str, WeekLoad]:
        """For everybody in the class, the seven days that end with its day.

        Raises:
            FloorclockError: the records cannot be read.
        """

    def rate(self, athlete: str, effort: float | None) -> None:
        """Keeps an athlete's effort for the class; None takes it back.

        Raises:
            FloorclockError: it could not be kept.
        """
