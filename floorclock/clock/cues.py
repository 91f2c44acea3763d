"""The cues: signals at an instant, seen and heard."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class CueName(StrEnum):
    """What a cue means. The value is its name in files and on the sheet."""

    COUNT = "count"
    GO = "go"
    HALF = "half"
    LAST_TEN = "last_ten"
    REST = "rest"
    LAST_ROUND = "last_round"
    END = "end"
    PACE = "pace"
    SHUTTLE = "shuttle"
    ATTENTION = "attention"


MEANING: dict[CueName, str] = {
    CueName.COUNT: "the last seconds before work, one pip each",
    CueName.GO: "work begins, at the start of the tone",
    CueName.HALF: "half of the time is gone",
    CueName.LAST_TEN: "ten seconds left",
    CueName.REST: "work is over, rest",
    CueName.LAST_ROUND: "the last round comes",
    CueName.END: "the part is over",
    CueName.PACE: "the beat of an even pace",
    CueName.SHUTTLE: "be at the line now",
    CueName.ATTENTION: "for the coach: look at the screen",
}
"""What each cue tells people."""


@dataclass(frozen=True, slots=True, order=True)
class Cue:
    """A cue at an instant: milliseconds from the start of its part on a timeline, on the class clock in a running class."""

    at_ms: int
    name: CueName
