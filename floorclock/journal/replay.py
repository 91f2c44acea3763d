"""A recorded class as it stood: the plan in its journal read again, its events folded again.

Invariant: what comes out depends on the journal alone; no other file is looked at.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache

from floorclock.clock.events import Event
from floorclock.clock.fold import fold
from floorclock.clock.state import ClassState, new_state
from floorclock.errors import InputProblems, Problem
from floorclock.journal.reading import Header
from floorclock.plan.cue_choice import chosen_cues
from floorclock.plan.durations import UnreadableError
from floorclock.plan.session import Session

MOST_HELD = 500
"""So many plans are held at a time; ten years of a gym may know thousands."""


def recorded_session(header: Header) -> Session:
    """The plan that a class followed, with the cues that were chosen for it. It is read once: a gym runs it again and again.

    Raises:
        InputProblems: this version cannot read it.
    """
    session, problems = _read(header.session_text, header.session_file, header.cues)
    if session is None:
        raise InputProblems(problems)
    return session


@lru_cache(MOST_HELD)
def _read(text: str, file: str, cues: str) -> tuple[Session | None, tuple[Problem, ...]]:
    # Imported on use: a floor opens without the readers.
    from floorclock.plan.read_session import read_session

    session, problems = read_session(text, file)
    if session is None:
        return None, problems
    try:
        return replace(session, cues=chosen_cues(cues, session.cues)), ()
    except UnreadableError as error:
        return None, (Problem(file, 0, 0, "cues", error.message, error.hint),)


def session_or_none(header: Header) -> Session | None:
    """The plan of one class of many; one that this version cannot read is None, and costs no other one."""
    return _read(header.session_text, header.session_file, header.cues)[0]


def replay(header: Header, events: Iterable[Event]) -> ClassState:
    """The class after some events.

    Raises:
        InputProblems: this version cannot read its plan.
    """
    return fold(new_state(recorded_session(header), header.roster.athletes, header.rest_margin_ms), events)
