"""A session file into a `Session`, or into everything that is wrong with it.

Invariant: a session comes out if and only if there is no problem of severity `error`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from floorclock.errors import Problem
from floorclock.plan.document import Path, Place, in_order
from floorclock.plan.fileformat import SessionFile
from floorclock.plan.reader import read_yaml
from floorclock.plan.rules import session_problems
from floorclock.plan.session import Session
from floorclock.plan.wording import shape_of


@dataclass(frozen=True)
class SessionReading:
    """What came of a session file. `places` says where each part and station stands in it."""

    session: Session | None
    problems: tuple[Problem, ...]
    places: Mapping[Path, Place] = field(default_factory=dict)


def read_session(text: str | bytes, file: str) -> tuple[Session | None, tuple[Problem, ...]]:
    """The session of a file and all problems at once; the session is None if and only if one of them is an error."""
    reading = read_session_places(text, file)
    return reading.session, reading.problems


def read_session_places(text: str | bytes, file: str) -> SessionReading:
    """As `read_session`, with the places that `check_plan` points at."""
    document, problems = read_yaml(text, file)
    if document is None:
        return SessionReading(None, tuple(problems))
    shape, wrong = shape_of(document, SessionFile)
    problems += [*wrong, *session_problems(document)]
    if shape is None or problems:
        return SessionReading(None, in_order(problems))
    return SessionReading(shape.session(), (), document.places)
