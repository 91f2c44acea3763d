"""A journal without a disk."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from floorclock.clock.events import Event


class MemoryJournal:
    """Keeps events in memory and says so at once."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self.written: Callable[[Event], None] = lambda event: None

    def append(self, event: Event, wall: datetime) -> int:
        self.events.append(event)
        self.written(event)
        return len(self.events)
