"""A roster file, YAML or CSV, into a `Roster`, or into everything that is wrong with it.

Invariant: a roster comes out if and only if there is no problem of severity `error`. Of the moves and options that a
session knows only those written in the roster are looked at: what the session offers and nobody takes is no problem.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePath
from typing import cast

from floorclock.errors import Fix, Problem
from floorclock.plan.document import Document, Path, Tree, in_order
from floorclock.plan.durations import shown
from floorclock.plan.fileformat import RosterFile
from floorclock.plan.names import LONGEST_TITLE, clean_name, first_few, nearest, plain, plural, surely
from floorclock.plan.reader import read_yaml
from floorclock.plan.roster import Athlete, Roster, give_keys
from floorclock.plan.roster_concerns import people, roster_concerns, twin_keys, wish_concerns
from floorclock.plan.roster_csv import looks_like_csv, read_csv
from floorclock.plan.session import Paced, Piece, Session
from floorclock.plan.wording import shape_of

MOST_SPELT = 50
"""Of so many different words the nearest known one is looked for."""


def read_roster(text: str | bytes, file: str, session: Session | None = None) -> tuple[Roster | None, tuple[Problem, ...]]:
    """The roster of a file and all problems at once; the roster is None if and only if one of them is an error.

    CSV is known by the file's name (`.csv`) or by its first line. With a session, an option that its move does not have is
    an error, and a move that the session does not have a warning: a roster may serve many sessions. Everybody comes back
    with a tap key.
    """
    document, problems = (read_csv if looks_like_csv(text, file) else read_yaml)(text, file)
    if document is None:
        return None, tuple(problems)
    shape, wrong = shape_of(document, RosterFile)
    problems += [*wrong, *_doubles(document)]
    if session is not None:
        problems += _Lookup(document, session).problems()
    if shape is None or any(problem.severity == "error" for problem in problems):
        return None, in_order(problems)
    athletes = give_keys(cast(list[Athlete], shape.athletes))
    written = people(document)
    grouped = frozenset(athlete.name for athlete, (_, keys) in zip(athletes, written, strict=True) if "group" in keys)
    roster = Roster(title=shape.roster or _title(file), athletes=athletes, grouped=grouped)
    problems += twin_keys(document, roster) + wish_concerns(document, roster)
    if session is not None:
        problems += roster_concerns(document, roster, session)
    return roster, in_order(problems)


def _title(file: str) -> str:
    """A title from the file's name, where the file gives none."""
    try:
        return clean_name(PurePath(file).stem.replace("-", " ").replace("_", " ").capitalize(), LONGEST_TITLE)
    except ValueError:
        return "Roster"


def _doubles(document: Document) -> list[Problem]:
    """Names and keys that two athletes share; `ali` and `Ali` cannot be told apart by calling them."""
    lines: dict[tuple[str, str], int] = {}
    problems = []
    for path, written in people(document):
        for step, what, hint in (
            ("name", "name", "add the first letter of the family name"),
            ("key", "tap key", "give another, or leave it out"),
        ):
            value = written.get(step)
            if not isinstance(value, str) or not value.strip():
                continue
            tidy = plain(value)
            known = (step, tidy.casefold() if step == "name" else tidy)
            if known in lines:
                message = f"the {what} {shown(tidy)} is taken by the athlete on line {lines[known]}"
                problems.append(document.problem((*path, step), message, hint))
            else:
                lines[known] = document.place((*path, step))[0]
    return problems


class _Lookup:
    """Looks up what a roster names in a session; spelling only for as many different words as anybody would read.

    A roster serves many sessions: an option is an error, and a move a warning, only where a slip of the pen is likely.
    """

    def __init__(self, document: Document, session: Session) -> None:
        self.document = document
        self.found: list[Problem] = []
        self.others: dict[str, Path] = {}
        """Moves of other sessions, each with where it stands first."""
        self.spelt: dict[tuple[str, str], str] = {}
        self.moves: set[str] = set()
        self.options: dict[str, set[str]] = {}
        """By the move, or by the title of a part with `choose`, what can be chosen there."""
        for station in session.moves():
            self.moves |= {station.move, station.own(station.move)}
            self.options.setdefault(station.move, set()).update(option.name for option in station.options)
            self.moves.update(name for option in station.options for name in (option.move, station.own(option.move)))
        for part in session.parts:
            if isinstance(part, Piece) and part.choose:
                self.options.setdefault(part.written, set()).update(choice.name for choice in part.choose)
            if isinstance(part, Paced) and part.move:
                self.moves.add(part.move)

    def problems(self) -> list[Problem]:
        """Options that their move does not have, moves that the session does not have; those of other sessions in one note."""
        for path, written in people(self.document):
            options, targets, experienced = (written.get(key) for key in ("options", "targets", "experienced"))
            for move, option in options.items() if isinstance(options, dict) else ():
                self._option((*path, "options", move), move, option)
            for move in targets if isinstance(targets, dict) else ():
                if plain(move) not in self.moves:
                    self._no_move((*path, "targets", move), move, self.moves)
            # Experience in other moves is no mistake, unless it is nearly one of these.
            for index, done in enumerate(experienced if isinstance(experienced, list) else [experienced]):
                if isinstance(done, str) and plain(done) not in self.moves and self._near(done, self.moves):
                    self._no_move((*path, "experienced", index), done, self.moves)
        if self.others:
            names = list(self.others)
            message = f"the session has no {plural('move', len(names))} {first_few(list(map(shown, names)))}"
            hint = f"this session does without {'it' if len(names) == 1 else 'them'}"
            at = self.others[names[0]]
            self.found.append(self.document.problem(at, message, hint, "note", at_key=True, kind="roster"))
        return self.found

    def _near(self, word: str, among: Iterable[str], where: str = "") -> str:
        if (word, where) not in self.spelt:
            if len(self.spelt) >= MOST_SPELT:
                return ""
            self.spelt[word, where] = nearest(word, sorted(among))
        return self.spelt[word, where]

    def _option(self, path: Path, move: str, option: Tree) -> None:
        there = self.options.get(plain(move))
        if there is None:
            self._no_move(path, move, self.options)
        elif isinstance(option, str) and plain(option) not in there:
            near = self._near(option, there, move)
            message = f"{shown(move)} has no option {shown(option)}"
            if near:
                fix = Fix(path, near) if surely(option, near) else None
                self.found.append(self.document.problem(path, message, f"did you mean {near}?", fix=fix))
            else:
                has = f"it has {', '.join(sorted(there))}" if there else "it has no options"
                self.found.append(self.document.problem(path, message, f"{has}; as written then", "warning", kind="roster"))

    def _no_move(self, path: Path, move: str, known: Iterable[str]) -> None:
        near = self._near(move, known)
        if not near:
            self.others.setdefault(plain(move), path)
            return
        message = f"the session has no move {shown(move)}"
        self.found.append(self.document.problem(path, message, f"did you mean {near}?", "warning", at_key=True, kind="roster"))
