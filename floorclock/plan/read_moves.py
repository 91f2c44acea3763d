"""A file of moves into `Moves`, or into everything that is wrong with it.

Invariant: moves come out if and only if there is no problem.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.resources import files

from pydantic import ValidationError

from floorclock.errors import InputProblems, Problem
from floorclock.plan.document import Document, in_order
from floorclock.plan.durations import shown
from floorclock.plan.moves import USUAL_LEVEL, Move, Moves, move_key, with_own
from floorclock.plan.moves_format import MoveFile, MovesFile
from floorclock.plan.reader import read_yaml
from floorclock.plan.wording import shape_problems
from floorclock.plan.work import Unit

NO_MOVES = Moves(())
_UNITS = {"rep": Unit.REPS, "m": Unit.METRES, "cal": Unit.CALORIES}


@cache
def usual_moves() -> Moves:
    """The moves that come with floorclock: a part of the package, as constant as its code."""
    moves, problems = read_moves(files(__package__).joinpath("moves.yaml").read_bytes(), "moves.yaml", NO_MOVES)
    if moves is None:
        raise InputProblems(problems)
    return moves


def read_moves(text: str | bytes, file: str, usual: Moves) -> tuple[Moves | None, tuple[Problem, ...]]:
    """The usual moves with those of a file, and all problems at once; the moves are None if and only if there are any.

    A move that is there already keeps what the file does not say anew.
    """
    document, problems = read_yaml(text, file)
    if document is None:
        return None, tuple(problems)
    shape = None
    try:
        shape = MovesFile.model_validate(document.tree)
    except ValidationError as error:
        problems += shape_problems(error, document, MovesFile)
    if shape is not None:
        problems += _twice(document, shape)
    if shape is None or problems:
        return None, in_order(problems)
    return with_own(usual, [_move(written, usual) for written in shape.moves]), ()


def _move(written: MoveFile, usual: Moves) -> Move:
    values = written.values()
    given = {unit: values.pop(key) for key, unit in _UNITS.items() if key in values}
    known = usual.find(written.name) or Move(name=written.name)
    each_ms = {unit: {USUAL_LEVEL: ms} if isinstance(ms, int) else ms for unit, ms in given.items()}
    return replace(known, **{**values, "name": known.name, "each_ms": {**known.each_ms, **each_ms}})


def _twice(document: Document, shape: MovesFile) -> list[Problem]:
    """Names that two moves of the file share: nobody could say which is meant."""
    first: dict[str, int] = {}
    problems = []
    for index, move in enumerate(shape.moves):
        for name in (move.name, *(move.also or ())):
            at = first.setdefault(move_key(name), index)
            if at != index:
                line = document.place(("moves", at))[0]
                path = ("moves", index, "move" if name == move.name else "also")
                hint = "keep one of them, or give it another name"
                problems.append(document.problem(path, f"{shown(name)} is a move on line {line} already", hint))
    return problems
