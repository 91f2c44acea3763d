"""The files that a coach names on the command line: read, and turned into a plan or into everything that is wrong with them."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from floorclock.errors import InputProblems, Problem
from floorclock.journal.disk import read_file, read_words
from floorclock.plan.roster import Roster
from floorclock.plan.session import Session

if TYPE_CHECKING:
    from floorclock.plan.moves import Moves

OWN_MOVES = "moves.yaml"
"""In the data folder: the coach's own moves."""
MOST_READ = 1 << 24
"""No file of a coach is as long."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A plan as it was read, with its source: the journal keeps the source, so that a class needs no other file."""

    file: str
    text: str
    session: Session
    roster: Roster
    warnings: tuple[Problem, ...] = ()


def read_bytes(path: Path) -> bytes:
    """The bytes of a file that a person named.

    Raises:
        InputProblems: it cannot be read.
    """
    try:
        return read_file(path, MOST_READ)
    except OSError as error:
        hint = "name a file that is there" if error.errno == errno.ENOENT else "name a file of text"
        raise InputProblems([Problem(str(path), 0, 0, "", read_words(error), hint)]) from error


def read_files(session_file: Path, roster_file: Path | None) -> tuple[bytes, bytes | None]:
    """The bytes of a session file and of a roster file, where one was named.

    Raises:
        InputProblems: with all that cannot be read.
    """
    found: list[bytes] = []
    problems: list[Problem] = []
    for path in (session_file, *([] if roster_file is None else [roster_file])):
        try:
            found.append(read_bytes(path))
        except InputProblems as error:
            problems += error.problems
    if problems:
        raise InputProblems(problems)
    return found[0], found[1] if roster_file is not None else None


def own_moves_file(home: Path | None) -> tuple[bytes, str] | None:
    """The bytes and the name of the coach's own moves in a data folder, None where there are none.

    Raises:
        InputProblems: they cannot be read.
    """
    path = None if home is None else home / OWN_MOVES
    return (read_bytes(path), str(path)) if path is not None and path.exists() else None


def moves_of(home: Path | None) -> Moves:
    """The usual moves, with the coach's own.

    Raises:
        InputProblems: with every problem of the coach's own file.
    """
    from floorclock.plan.read_moves import read_moves, usual_moves

    own = own_moves_file(home)
    moves, problems = (usual_moves(), ()) if own is None else read_moves(*own, usual_moves())
    if moves is None:
        raise InputProblems(problems)
    return moves


def read_plan(session_file: Path, roster_file: Path | None) -> Plan:
    """Reads a session and a roster; without a roster the class has nobody on the board.

    Raises:
        InputProblems: with every problem of both files at once.
    """
    # Imported on use: what a floor needs at once does not include the readers.
    from floorclock.plan.read_roster import read_roster
    from floorclock.plan.read_session import read_session

    text, people = read_files(session_file, roster_file)
    session, problems = read_session(text, str(session_file))
    roster: Roster | None = Roster(title="", athletes=())
    if people is not None:
        roster, more = read_roster(people, str(roster_file), session)
        problems = (*problems, *more)
    if session is None or roster is None:
        raise InputProblems([problem for problem in problems if problem.severity == "error"])
    source = text.decode("utf-8-sig")
    return Plan(file=session_file.name, text=source, session=session, roster=roster, warnings=tuple(problems))
