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


@dataclass(frozen=True, slots=True, order=True)
class Cue:
    """A cue at an instant: milliseconds from the start of its part on a timeline, on the class clock in a running class."""

    at_ms: int
    name: CueName
