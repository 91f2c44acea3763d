"""A recorded class as it stood: the plan in its journal read again, its events folded again.

Invariant: what comes out depends on the journal alone; no other file is looked at.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from floorclock.clock.events import Event
from floorclock.clock.fold import fold
from floorclock.clock.state import ClassState, new_state
from floorclock.errors import InputProblems, Problem
from floorclock.journal.reading import Header
from floorclock.plan.cue_choice import chosen_cues
from floorclock.plan.durations import UnreadableError
from floorclock.plan.session import Session

MOST_HELD = 64


def recorded_session(header: Header) -> Session:
    """The plan that a class followed, with the cues that were chosen for it.

    Raises:
        InputProblems: this version cannot read it.
    """
    # Imported on use: a floor opens without the readers.
    from floorclock.plan.read_session import read_session

    session, problems = read_session(header.session_text, header.session_file)
    if session is None:
        raise InputProblems(problems)
    try:
        return replace(session, cues=chosen_cues(header.cues, session.cues))
    except UnreadableError as error:
        raise InputProblems([Problem(header.session_file, 0, 0, "cues", error.message, error.hint)]) from None


def replay(header: Header, events: Iterable[Event], session: Session | None = None) -> ClassState:
    """The class after some events; `session` is its plan, where it was read already.

    Raises:
        InputProblems: this version cannot read its plan.
    """
    session = session or recorded_session(header)
    return fold(new_state(session, header.roster.athletes, header.rest_margin_ms), events)


class Plans:
    """The plans of many classes, each read once: a gym runs the same session again and again.

    A plan that this version cannot read is None, and costs no other one; no more than `most` are held.
    """

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
