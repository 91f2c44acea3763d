"""The plans of many classes, each read once: a gym runs the same session again and again.

Invariant: a plan that this version cannot read is None, and costs no other one; no more than `most` are held.
"""

from __future__ import annotations

from floorclock.errors import InputProblems
from floorclock.journal.reading import Header
from floorclock.journal.replay import recorded_session
from floorclock.plan.session import Session

MOST_HELD = 64


class Plans:
    """Reads the plan in a header, or remembers it."""

    def __init__(self, most: int = MOST_HELD) -> None:
        self._most = most
        self._held: dict[tuple[str, str, str], Session | None] = {}

    def of(self, header: Header) -> Session | None:
        """The plan of a class; None where this version cannot read it."""
        key = (header.session_text, header.session_file, header.cues)
        if key in self._held:
            return self._held[key]
        if len(self._held) >= self._most:
            del self._held[next(iter(self._held))]
        try:
            self._held[key] = recorded_session(header)
        except InputProblems:
            self._held[key] = None
        return self._held[key]
