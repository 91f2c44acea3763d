"""What came of an event, as data; the floor chooses the words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class What(StrEnum):
    """What folding an event did."""

    DONE = "done"
    COUNTED = "counted"
    """A tap gave a split, a lap or a finish."""
    CREDITED = "credited"
    """A tap just after the boundary gave the interval before in full."""
    ALREADY = "already tapped"
    TOO_SOON = "too soon"
    """A lap so short after the one before that it is the same tap twice."""
    RESTING = "resting"
    OUT = "out of the part"
    NOT_STARTED = "not started"
    NOTHING_TO_TAP = "nothing to tap"
    UNKNOWN = "unknown athlete"
    AWAY = "not in the class"
    TAKEN_BACK = "taken back"
    NOTHING_TO_TAKE_BACK = "nothing to take back"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Outcome:
    """`amount_ms` is the split or lap, or how much time was added; `part` and `interval` say where a tap counted.

    `saved` is false while the disk refuses the event: it counts, but whoever shows it must not call it taken.
    """

    what: What
    athlete: str = ""
    amount_ms: int | None = None
    rest_ms: int | None = None
    part: int | None = None
    interval: int | None = None
    because: str = ""
    saved: bool = True

    @property
    def took_effect(self) -> bool:
        """True when the state is another one than before."""
        return self.what in (What.DONE, What.COUNTED, What.CREDITED, What.TAKEN_BACK)
