"""The shapes of the session file: which keys there are and what may stand behind each.

Invariant: an unknown key is a problem, never ignored. What must fit together across keys is in `rules`;
these shapes also make the JSON Schema.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from floorclock.plan import quantities as q
from floorclock.plan.fields import (
    MINUTE_MS,
    Beat,
    Confidence,
    Flag,
    FromText,
    Margin,
    Moment,
    Name,
    Pause,
    Prose,
    Rounds,
    Speed,
    SpeedStep,
    Title,
    Window,
    counted,
    lasting,
    length,
)
from floorclock.plan.workformat import MOST_OPTIONS, Sentences, Shape, Slots, Work

MOST_PARTS = 50
MOST_STAGES = 100

KINDS = ("open", "rotation", "intervals", "for_time", "amrap", "paced")
TAGS = frozenset({"<text>", "<list>", "<mapping>", *(f"<{kind}>" for kind in KINDS)})
"""Steps that pydantic puts into a path and that are not in the file."""


class PartFile(Shape):
    """What all parts share."""

    title: Title | None = None
    notes: Sentences | None = None
    caution: Prose | None = None
    rest_margin: Margin | None = Field(None, description="the smallest rest wanted in this part")
    count_in: Moment | None = None


class OpenFile(PartFile):
    """A part that the coach ends."""

    kind: Literal["open"]
    time: Window | None = Field(None, description="advisory")
    min: Pause | None = Field(None, description="an earlier end is asked about")
    max: Window | None = Field(None, description="the part ends by itself then")


class RotationFile(PartFile):
    """Every minute, or whatever `every` says, the next station."""

    kind: Literal["rotation"]
    every: Window
    rounds: Rounds | None = None
    for_: Window | None = Field(None, alias="for", description="instead of `rounds`: a whole number of `every`")
    stations: Slots


class IntervalsFile(PartFile):
    """Sets of work with rest between."""

    kind: Literal["intervals"]
    work: Window
    rest: Pause
    sets: Rounds
    stations: Slots
    final_rest: Flag | None = None


class ChoiceFile(Shape):
    """An alternative to the whole of the work."""

    name: Name
    rounds: Rounds | None = None
    work: Work | None = None


class ForTimeFile(PartFile):
    """A fixed piece of work against the clock."""

    kind: Literal["for_time"]
    cap: Window
    rounds: Rounds | None = None
    work: Work
    choose: list[ChoiceFile] | None = Field(None, max_length=MOST_OPTIONS)
    wave_every: Pause | None = Field(None, description="each start group starts this much after the one before")
    tap: Annotated[str, FromText(q.parse_tap_meaning, "finish or round", {"enum": ["finish", "round"]})] | None = None


class AmrapFile(PartFile):
    """As many rounds as possible in the time."""

    kind: Literal["amrap"]
    time: Window
    work: Work
    choose: list[ChoiceFile] | None = Field(None, max_length=MOST_OPTIONS)


class StageFile(Shape):
    """One stage of a shuttle ladder."""

    speed: Speed
    shuttles: Annotated[int, counted(1, 1000)]


class ShuttleFile(Shape):
    """Lengths of `distance`: either `stages` written out, or `start`, `step`, `stage` and `count`."""

    distance: Annotated[Fraction, length(1000, 1_000_000, "20 m")]
    stages: Annotated[list[StageFile], Field(min_length=1, max_length=MOST_STAGES)] | None = None
    start: Speed | None = None
    step: SpeedStep | None = None
    stage: Annotated[int, lasting(1000, 60 * MINUTE_MS)] | None = None
    count: Annotated[int, counted(1, MOST_STAGES)] | None = None


class PacedFile(PartFile):
    """Work to a beat, or a shuttle ladder."""

    kind: Literal["paced"]
    move: Name | None = None
    beat: Beat | None = None
    beats_per_rep: Annotated[int, counted(1, 32)] | None = None
    time: Window | None = None
    shuttle: ShuttleFile | None = None


def _part_tag(value: object) -> str:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return f"<{kind.strip() if isinstance(kind, str) else ''}>"


AnyPartFile = Annotated[
    Annotated[OpenFile, Tag("<open>")]
    | Annotated[RotationFile, Tag("<rotation>")]
    | Annotated[IntervalsFile, Tag("<intervals>")]
    | Annotated[ForTimeFile, Tag("<for_time>")]
    | Annotated[AmrapFile, Tag("<amrap>")]
    | Annotated[PacedFile, Tag("<paced>")],
    Discriminator(_part_tag),
]


class CuesFile(Shape):
    """Which cues sound."""

    count: Annotated[int, counted(0, 10)] | None = None
    last_ten: Flag | None = None
    half: Flag | None = None
    rest: Flag | None = None
    last_round: Flag | None = None
    attention: Flag | None = None
    pace: Annotated[int, counted(0, 30)] | None = None
    volume: Annotated[int, counted(0, 100)] | None = Field(None, description="in percent; 100 when left out")


class RoomFile(Shape):
    """The wall: the diagonal of the screen and the distance of the farthest viewer."""

    screen: Annotated[Fraction, length(100, 30_000, "1.40 m")]
    farthest: Annotated[Fraction, length(300, 300_000, "12 m")]


class SessionFile(Shape):
    """A session file."""

    session: Title
    class_time: Window | None = Field(None, description="how long the room is ours")
    rest_margin: Margin | None = Field(None, description="the smallest rest wanted every round; 0:15 when left out")
    count_in: Moment | None = Field(None, description="before each timed part; 0:10 when left out, 0 for none")
    resume_count_in: Moment | None = Field(None, description="after a pause; 0:03 when left out")
    tap_grace: Annotated[int, lasting(0, 30_000)] | None = Field(
        None, description="a tap this soon after an interval begins may end the one before"
    )
    confidence: Confidence | None = Field(
        None, description="how sure advice has to be that a target keeps the margin, in percent; 90 when left out"
    )
    kit: dict[Name, Annotated[int, counted(0, 10_000)]] | None = Field(None, description="what there is, and how many")
    room: RoomFile | None = None
    cues: CuesFile | None = None
    voice: Flag | None = Field(None, description="speak the next station before its count; off when left out")
    parts: Annotated[list[AnyPartFile], Field(min_length=1, max_length=MOST_PARTS)]


PART_FILES: dict[str, type[PartFile]] = {
    "open": OpenFile,
    "rotation": RotationFile,
    "intervals": IntervalsFile,
    "for_time": ForTimeFile,
    "amrap": AmrapFile,
    "paced": PacedFile,
}
