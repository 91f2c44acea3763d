"""A session file into a `Session`, or into everything that is wrong with it.

Invariant: a session comes out if and only if there is no problem of severity `error`.
"""

from __future__ import annotations

from collections.abc import Mapping

from floorclock.errors import Problem
from floorclock.plan.document import Path, Place, in_order
from floorclock.plan.fileformat import SessionFile
from floorclock.plan.reader import read_yaml
from floorclock.plan.rules import session_problems
from floorclock.plan.session import Session
from floorclock.plan.wording import shape_of


def read_session(text: str | bytes, file: str) -> tuple[Session | None, tuple[Problem, ...]]:
    """The session of a file and all problems at once; the session is None if and only if one of them is an error."""
    session, problems, _ = read_session_places(text, file)
    return session, problems


def read_session_places(text: str | bytes, file: str) -> tuple[Session | None, tuple[Problem, ...], Mapping[Path, Place]]:
    """As `read_session`, with the places of its parts and stations, that `check_plan` points at."""
    document, problems = read_yaml(text, file)
    if document is None:
        return None, tuple(problems), {}
    shape, wrong = shape_of(document, SessionFile)
    problems += [*wrong, *session_problems(document)]
    if shape is None or problems:
        return None, in_order(problems), {}
    return shape.session(), (), document.places
