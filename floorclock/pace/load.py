"""Session load: how hard times how long.

Invariant: no effort, no load; what is not defined is said to be so, and never a number.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionLoad:
    """One athlete's class: `effort` from 0 to 10 (None where it was not rated) and the minutes they were in it."""

    name: str
    effort: float | None
    minutes: float

    @property
    def load(self) -> float | None:
        """Effort times minutes (Foster 1998); None without an effort."""
        return None if self.effort is None else self.effort * self.minutes
