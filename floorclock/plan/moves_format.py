"""The shape of a file of moves, the one that comes with floorclock and a coach's own."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field, Tag

from floorclock.plan.fields import Flag, Name, Prose, kind_of, lasting
from floorclock.plan.fileformat import Kit, Names, Sentences, Shape

MOST_MOVES = 1000
_Time = Annotated[int, lasting(50, 600_000)]
PerLevel = Annotated[
    Annotated[dict[Name, _Time], Field(min_length=1, max_length=8), Tag("<mapping>")] | Annotated[_Time, Tag("<text>")],
    kind_of("<text>", "<text>", "<mapping>"),
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
    set_up_ms: Annotated[int, lasting(0, 600_000)] | None = Field(None, alias="set_up")
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
