"""A roster file, YAML or CSV, into a `Roster`, or into everything that is wrong with it.

Invariant: a roster comes out if and only if there is no problem of severity `error`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import PurePath
from typing import cast

from pydantic import ValidationError

from floorclock.errors import Problem
from floorclock.plan.document import Document, Path, Tree, in_order
from floorclock.plan.durations import shown
from floorclock.plan.fileformat import MOST_ATHLETES, RosterFile
from floorclock.plan.names import LONGEST_TITLE, clean_name, plain
from floorclock.plan.reader import read_yaml
from floorclock.plan.roster import Athlete, Roster, give_keys
from floorclock.plan.roster_concerns import roster_concerns, twin_keys, wish_concerns
from floorclock.plan.roster_csv import looks_like_csv, read_csv
from floorclock.plan.roster_rules import names_in, unknown_names
from floorclock.plan.session import Session
from floorclock.plan.wording import shape_problems


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
