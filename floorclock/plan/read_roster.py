"""A roster file, YAML or CSV, into a `Roster`, or into everything that is wrong with it.

Invariant: a roster comes out if and only if there is no problem of severity `error`. Of the moves and options that a
session knows only those written in the roster are looked at: what the session offers and nobody takes is no problem.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import cast

from pydantic import ValidationError

from floorclock.errors import Fix, Problem
from floorclock.plan.document import Document, Path, Tree, in_order
from floorclock.plan.durations import shown
from floorclock.plan.fileformat import MOST_ATHLETES, RosterFile
from floorclock.plan.names import LONGEST_TITLE, clean_name, first_few, nearest, plain, surely
from floorclock.plan.reader import read_yaml
from floorclock.plan.roster import Athlete, Roster, give_keys
from floorclock.plan.roster_concerns import roster_concerns, twin_keys, wish_concerns
from floorclock.plan.roster_csv import looks_like_csv, read_csv
from floorclock.plan.session import Paced, Piece, Session
from floorclock.plan.wording import shape_problems

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
    shape = None
    try:
        shape = RosterFile.model_validate(document.tree)
    except ValidationError as error:
        problems += shape_problems(error, document, RosterFile)
    problems += _doubles(document)
    if session is not None:
        problems += unknown_names(document, names_in(session))
    if shape is None or any(problem.severity == "error" for problem in problems):
        return None, in_order(problems)
    athletes = give_keys(cast(list[Athlete], shape.athletes))
    people = [person for _, person in _people(document.tree)]
    grouped = frozenset(
        one.name for one, person in zip(athletes, people, strict=True) if "group" in person and not isinstance(person, str)
    )
    roster = Roster(title=shape.roster or _title(file), athletes=athletes, grouped=grouped)
    concerns = (
        twin_keys(document, roster)
        + wish_concerns(document, roster)
        + (roster_concerns(document, roster, session) if session is not None else [])
    )
    return roster, in_order([*problems, *concerns])


def _title(file: str) -> str:
    """A title from the file's name, where the file gives none."""
    try:
        return clean_name(PurePath(file).stem.replace("-", " ").replace("_", " ").capitalize(), LONGEST_TITLE)
    except ValueError:
        return "Roster"


def _doubles(document: Document) -> list[Problem]:
    """Names and keys that two athletes share; `ali` and `Ali` cannot be told apart by calling them."""
    names: dict[str, str] = {}
    keys: dict[str, str] = {}
    problems = []
    for path, person in _people(document.tree):
        for step, taken, what in (("name", names, "name"), ("key", keys, "tap key")):
            value = person if isinstance(person, str) else person.get(step)
            if not isinstance(value, str) or (step == "key" and isinstance(person, str)) or not value.strip():
                continue
            tidy = plain(value)
            known = tidy.casefold() if step == "name" else tidy
            place = document.place((*path, step))
            if known in taken:
                message = f"the {what} {shown(tidy)} is taken by the athlete on line {taken[known]}"
                hint = "add the first letter of the family name" if step == "name" else "give another, or leave it out"
                problems.append(document.problem((*path, step), message, hint))
            else:
                taken[known] = str(place[0])
    return problems


def _people(tree: Tree) -> Iterable[tuple[Path, str | Mapping[str, Tree]]]:
    athletes = tree.get("athletes") if isinstance(tree, dict) else None
    for index, person in enumerate(athletes[:MOST_ATHLETES] if isinstance(athletes, list) else []):
        if not isinstance(person, list):
            yield ("athletes", index), person


@dataclass(frozen=True)
class PlanNames:
    """The moves of a session (those of options too) and the options that each move, or part with a choice, has."""

    moves: frozenset[str]
    options: dict[str, frozenset[str]]


def names_in(session: Session) -> PlanNames:
    """What a roster can name in a session. A `for_time` or `amrap` part with `choose` counts by its title."""
    moves: set[str] = set()
    options: dict[str, set[str]] = {}
    for station in session.moves():
        moves |= {station.move, station.own(station.move)}
        options.setdefault(station.move, set()).update(option.name for option in station.options)
        moves.update(name for option in station.options for name in (option.move, station.own(option.move)))
    for part in session.parts:
        if isinstance(part, Piece) and part.choose:
            options.setdefault(part.written, set()).update(choice.name for choice in part.choose)
        if isinstance(part, Paced) and part.move:
            moves.add(part.move)
    return PlanNames(frozenset(moves), {name: frozenset(known) for name, known in options.items()})


def unknown_names(document: Document, known: PlanNames) -> list[Problem]:
    """Options that their move does not have (errors where a slip is likely), and moves that the session does not have."""
    tree = document.tree
    athletes = tree.get("athletes") if isinstance(tree, dict) else None
    looking = _Looking(document, known)
    for index, person in enumerate(athletes if isinstance(athletes, list) else []):
        if isinstance(person, dict):
            path: Path = ("athletes", index)
            looking.options((*path, "options"), person.get("options"))
            looking.targets((*path, "targets"), person.get("targets"))
            looking.experience((*path, "experienced"), person.get("experienced"))
    return looking.problems + looking.summary()


class _Looking:
    """Looks names up; spelling only for as many different ones as anybody would read."""

    def __init__(self, document: Document, known: PlanNames) -> None:
        self.document = document
        self.known = known
        self.problems: list[Problem] = []
        self.others: dict[str, Path] = {}
        """Moves of other sessions, each with where it stands first."""
        self.spelt: dict[tuple[str, str], str] = {}
        self.moves = sorted(known.moves)
        self.with_options = sorted(known.options)

    def near(self, word: str, among: Iterable[str], where: str) -> str:
        if (word, where) not in self.spelt:
            if len(self.spelt) >= MOST_SPELT:
                return ""
            self.spelt[word, where] = nearest(word, among)
        return self.spelt[word, where]

    def options(self, path: Path, options: Tree | None) -> None:
        for move, option in options.items() if isinstance(options, dict) else ():
            there = self.known.options.get(plain(move))
            if there is None:
                self.no_move((*path, move), move, self.with_options)
            elif isinstance(option, str) and plain(option) not in there:
                near = self.near(option, sorted(there), move)
                has = f"it has {', '.join(sorted(there))}" if there else "it has no options"
                hint = f"did you mean {near}?" if near else f"{has}; as written then"
                problem = self.document.problem((*path, move), f"{shown(move)} has no option {shown(option)}", hint)
                # A roster serves many sessions: only what looks like a slip of the pen must be put right first.
                fix = Fix((*path, move), near) if surely(option, near) else None
                self.problems.append(replace(problem, fix=fix) if near else replace(problem, severity="warning", kind="roster"))

    def targets(self, path: Path, targets: Tree | None) -> None:
        for move in targets if isinstance(targets, dict) else ():
            if plain(move) not in self.known.moves:
                self.no_move((*path, move), move, self.moves)

    def experience(self, path: Path, moves: Tree | None) -> None:
        """Experience in other moves is no mistake, unless it is nearly one of these."""
        for index, move in enumerate(moves if isinstance(moves, list) else [moves]):
            if isinstance(move, str) and plain(move) not in self.known.moves and self.near(move, self.moves, ""):
                self.no_move((*path, index), move, self.moves)

    def no_move(self, path: Path, move: str, known: Iterable[str]) -> None:
        near = self.near(move, known, "")
        if not near:
            self.others.setdefault(plain(move), path)
            return
        problem = self.document.problem(path, f"the session has no move {shown(move)}", f"did you mean {near}?", at_key=True)
        self.problems.append(replace(problem, severity="warning", kind="roster"))

    def summary(self) -> list[Problem]:
        """A roster serves many sessions: what this one does without is one note."""
        if not self.others:
            return []
        names = list(self.others)
        moves = "move" if len(names) == 1 else "moves"
        message = f"the session has no {moves} {first_few(list(map(shown, names)))}"
        hint = "this session does without it" if len(names) == 1 else "this session does without them"
        problem = self.document.problem(self.others[names[0]], message, hint, at_key=True)
        return [replace(problem, severity="note", kind="roster")]
