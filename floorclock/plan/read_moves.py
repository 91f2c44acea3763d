"""A file of moves, the one that comes with floorclock or a coach's own: its shape, and the `Moves` in it or all that is wrong.

Invariant: moves come out if and only if there is no problem.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Annotated, ClassVar

from pydantic import Field, Tag

from floorclock.errors import InputProblems, Problem
from floorclock.plan.document import Document, in_order
from floorclock.plan.durations import shown
from floorclock.plan.fields import Flag, Name, Prose, by_form, lasting
from floorclock.plan.fileformat import Kit, Names, Sentences, Shape
from floorclock.plan.moves import USUAL_LEVEL, Move, Moves, move_key
from floorclock.plan.reader import read_yaml
from floorclock.plan.wording import shape_of
from floorclock.plan.work import Unit

MOST_MOVES = 1000
_Time = Annotated[int, lasting(50, 600_000)]
PerLevel = Annotated[
    Annotated[dict[Name, _Time], Field(min_length=1, max_length=8), Tag("<mapping>")] | Annotated[_Time, Tag("<text>")],
    by_form("mapping"),
]


class MoveFile(Shape):
    """One move; of one that is there already, what is to be different."""

    name: Name = Field(alias="move")
    also: Names | None = None
    pattern: Name | None = None
    grip: Flag | None = None
    kit: Kit | None = None
    guarded: Flag | None = None
    each_side: Flag | None = None
    set_up_ms: Annotated[int, lasting(0, 600_000)] | None = None
    rep: PerLevel | None = None
    m: PerLevel | None = None
    cal: PerLevel | None = None
    standards: Sentences | None = None
    options: Names | None = None
    caution: Prose | None = None
    source: Prose | None = None


class MovesFile(Shape):
    """A file of moves."""

    UNDER: ClassVar[dict[str, type[Shape]]] = {"moves": MoveFile}
    moves: list[MoveFile] = Field(min_length=1, max_length=MOST_MOVES)


_UNITS = {"rep": Unit.REPS, "m": Unit.METRES, "cal": Unit.CALORIES}


@cache
def usual_moves() -> Moves:
    """The moves that come with floorclock: a part of the package, as constant as its code."""
    moves, problems = read_moves(files(__package__).joinpath("moves.yaml").read_bytes(), "moves.yaml", Moves(()))
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
    shape, wrong = shape_of(document, MovesFile)
    problems += wrong if shape is None else _twice(document, shape)
    if shape is None or problems:
        return None, in_order(problems)
    return Moves((*usual.all, *(_move(written, usual) for written in shape.moves))), ()


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
