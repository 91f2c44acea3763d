"""The shapes of one station's work in a session file: its move, target, options and kit.

Invariant: an unknown key is a problem, never ignored. These shapes also make the JSON Schema.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, Tag

from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.fields import Amount, AnyStep, Flag, FromText, Least, Margin, Name, Prose, counted, kind_of
from floorclock.plan.work import REST, Station

MOST_STATIONS = 60
MOST_OPTIONS = 20


class Shape(BaseModel):
    """A mapping of the file in which every key is known."""

    model_config = ConfigDict(extra="forbid", defer_build=True)


def keys_of(shape: type[Shape]) -> tuple[str, ...]:
    """The keys that a shape knows, as written in the file."""
    return tuple(field.alias or name for name, field in shape.model_fields.items())


class LadderFile(Shape):
    """A target that changes from round to round."""

    start: Amount = Field(description="the target in round 1")
    step: AnyStep = Field(description="how much more (or, with a minus, less) in each round after it")


AnyTarget = Annotated[
    Annotated[LadderFile, Tag("<mapping>")] | Annotated[Amount, Tag("<text>")],
    kind_of("<text>", "<text>", "<mapping>"),
]
Kit = Annotated[
    Annotated[dict[Name, Annotated[int, counted(1, 1000)]], Tag("<mapping>")]
    | Annotated[list[Name], Tag("<list>")]
    | Annotated[Name, Tag("<text>")],
    kind_of("<text>", "<list>", "<mapping>"),
]
Sentences = Annotated[
    Annotated[list[Prose], Field(max_length=20), Tag("<list>")] | Annotated[Prose, Tag("<text>")],
    kind_of("<text>", "<list>", "<text>"),
]


class OptionFile(Shape):
    """A substitute move and/or target, chosen for an athlete by its name."""

    name: Name
    move: Name | None = None
    target: AnyTarget | None = None
    kit: Kit | None = None
    pattern: Name | None = None
    guarded: Flag | None = None


class StationFile(Shape):
    """One slot of a rotation, or one item of the work."""

    move: Name
    target: AnyTarget | None = None
    kit: Kit | None = None
    pattern: Name | None = Field(None, description="hinge, squat, push, pull, core, carry, jump, run, row, ride, ...")
    standards: Sentences | None = Field(None, description="what counts as done, shown in the brief")
    caution: Prose | None = None
    guarded: Flag | None = Field(None, description="true: only for athletes listed as experienced in it")
    options: list[OptionFile] | None = Field(None, max_length=MOST_OPTIONS)
    rest_margin: Margin | None = None
    least: Least | None = Field(None, description="the smallest amount that advice may come to, in the unit of the target")


def _rest_word(text: str) -> Station:
    if text.strip().lower() != "rest":
        raise UnreadableError(f"{shown(text)} is no station", f"write `- move: {text.strip()[:30]}`, or the word rest")
    return REST


RestWord = Annotated[Station, FromText(_rest_word, "a station", {"const": "rest"})]
Slot = Annotated[
    Annotated[StationFile, Tag("<mapping>")] | Annotated[RestWord, Tag("<text>")], kind_of("<text>", "<text>", "<mapping>")
]
Slots = Annotated[list[Slot], Field(min_length=1, max_length=MOST_STATIONS)]
Work = Annotated[list[StationFile], Field(min_length=1, max_length=MOST_STATIONS)]
