"""The shapes of the session file and the roster file: which keys there are, what may stand behind each, what it is made into.

Invariant: an unknown key is a problem, never ignored. A field has the name that its value has in `session`, `work` or `roster`,
and the key of the file as its alias, so that nothing has to be said twice. What must fit together across keys is in `rules`;
these shapes also make the JSON Schema.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Discriminator, Field, Tag

from floorclock.plan import quantities as q
from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.fields import (
    MINUTE_MS,
    Amount,
    AnyStep,
    Beat,
    Confidence,
    Flag,
    FromText,
    Least,
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
    kind_of,
    lasting,
    length,
)
from floorclock.plan.names import clean_key
from floorclock.plan.roster import Athlete
from floorclock.plan.session import (
    Amrap,
    Choice,
    Cues,
    ForTime,
    Intervals,
    OpenPart,
    Paced,
    Part,
    Room,
    Rotation,
    Session,
    Shuttle,
    Stage,
)
from floorclock.plan.work import REST, Option, Station, Target

MOST_STATIONS = 60
MOST_OPTIONS = 20
MOST_PARTS = 50
MOST_STAGES = 100
MOST_ATHLETES = 200
MOST_GROUPS = 60

KINDS = ("open", "rotation", "intervals", "for_time", "amrap", "paced")
TAGS = frozenset({"<text>", "<list>", "<mapping>", *(f"<{kind}>" for kind in KINDS)})
"""Steps that pydantic puts into a path and that are not in the file."""

_Made = TypeVar("_Made")


class Shape(BaseModel):
    """A mapping of the file in which every key is known."""

    model_config = ConfigDict(extra="forbid", defer_build=True)

    def values(self) -> dict[str, Any]:
        """What is written here, by field; what is left out has its default where it is made into something."""
        return {name: value for name, value in self if name != "kind" and value is not None}


def keys_of(shape: type[Shape]) -> tuple[str, ...]:
    """The keys that a shape knows, as written in the file."""
    return tuple(field.alias or name for name, field in shape.model_fields.items())


def _into(make: type[_Made]) -> AfterValidator:
    """Makes the value from a shape whose fields are its fields."""
    return AfterValidator(lambda shape: make(**shape.values()))


class LadderFile(Shape):
    """A target that changes from round to round."""

    start: Amount = Field(description="the target in round 1")
    step: AnyStep = Field(description="how much more (or, with a minus, less) in each round after it")


def _ladder(shape: LadderFile) -> Target:
    return Target(shape.start.amount, shape.start.unit, shape.step[0])


def _kit(value: dict[str, int] | list[str] | str) -> tuple[tuple[str, int], ...]:
    if isinstance(value, dict):
        return tuple(value.items())
    names = [value] if isinstance(value, str) else value
    return tuple((name, names.count(name)) for name in dict.fromkeys(names))


def _sentences(value: list[str] | str) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value)


AnyTarget = Annotated[
    Annotated[LadderFile, AfterValidator(_ladder), Tag("<mapping>")] | Annotated[Amount, Tag("<text>")],
    kind_of("<text>", "<text>", "<mapping>"),
]
Kit = Annotated[
    Annotated[dict[Name, Annotated[int, counted(1, 1000)]], Tag("<mapping>")]
    | Annotated[list[Name], Tag("<list>")]
    | Annotated[Name, Tag("<text>")],
    kind_of("<text>", "<list>", "<mapping>"),
    AfterValidator(_kit),
]
Sentences = Annotated[
    Annotated[list[Prose], Field(max_length=20), Tag("<list>")] | Annotated[Prose, Tag("<text>")],
    kind_of("<text>", "<list>", "<text>"),
    AfterValidator(_sentences),
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
    rest_margin_ms: Margin | None = Field(None, alias="rest_margin")
    least: Least | None = Field(None, description="the smallest amount that advice may come to, in the unit of the target")


def _station(shape: StationFile) -> Station:
    values = shape.values()
    if shape.least is not None:
        values["least"] = shape.least[0]
    values["options"] = tuple(_option(option, values) for option in shape.options or ())
    return Station(**values)


def _option(shape: OptionFile, station: dict[str, Any]) -> Option:
    # What an option leaves out it keeps from the station, as long as it is the same move: a lighter target of a guarded
    # move is still guarded, and still needs the kettlebell.
    same = shape.move in (None, station["move"])
    values: dict[str, Any] = {"move": station["move"], "target": None}
    values |= {key: station[key] for key in ("kit", "pattern", "guarded") if same and key in station}
    return Option(**{**values, **shape.values()})


def _rest_word(text: str) -> Station:
    if text.strip().lower() != "rest":
        raise UnreadableError(f"{shown(text)} is no station", f"write `- move: {text.strip()[:30]}`, or the word rest")
    return REST


AnyStation = Annotated[StationFile, AfterValidator(_station)]
RestWord = Annotated[Station, FromText(_rest_word, "a station", {"const": "rest"})]
Slot = Annotated[
    Annotated[AnyStation, Tag("<mapping>")] | Annotated[RestWord, Tag("<text>")], kind_of("<text>", "<text>", "<mapping>")
]
Slots = Annotated[list[Slot], Field(min_length=1, max_length=MOST_STATIONS), AfterValidator(tuple)]
Work = Annotated[list[AnyStation], Field(min_length=1, max_length=MOST_STATIONS), AfterValidator(tuple)]


class PartFile(Shape):
    """What all parts share."""

    title: Title | None = None
    notes: Sentences | None = None
    caution: Prose | None = None
    rest_margin_ms: Margin | None = Field(None, alias="rest_margin", description="the smallest rest wanted in this part")
    count_in_ms: Moment | None = Field(None, alias="count_in")


class OpenFile(PartFile):
    """A part that the coach ends."""

    kind: Literal["open"]
    time_ms: Window | None = Field(None, alias="time", description="advisory")
    min_ms: Pause | None = Field(None, alias="min", description="an earlier end is asked about")
    max_ms: Window | None = Field(None, alias="max", description="the part ends by itself then")


class RotationFile(PartFile):
    """Every minute, or whatever `every` says, the next station."""

    kind: Literal["rotation"]
    every_ms: Window = Field(alias="every")
    rounds: Rounds | None = None
    for_ms: Window | None = Field(None, alias="for", description="instead of `rounds`: a whole number of `every`")
    work: Slots = Field(alias="stations")


class IntervalsFile(PartFile):
    """Sets of work with rest between."""

    kind: Literal["intervals"]
    work_ms: Window = Field(alias="work")
    rest_ms: Pause = Field(alias="rest")
    sets: Rounds
    work: Slots = Field(alias="stations")
    final_rest: Flag | None = None


class ChoiceFile(Shape):
    """An alternative to the whole of the work."""

    name: Name
    rounds: Rounds | None = None
    work: Work | None = None


Choices = Annotated[list[Annotated[ChoiceFile, _into(Choice)]], Field(max_length=MOST_OPTIONS), AfterValidator(tuple)]


class ForTimeFile(PartFile):
    """A fixed piece of work against the clock."""

    kind: Literal["for_time"]
    cap_ms: Window = Field(alias="cap")
    rounds: Rounds | None = None
    work: Work
    choose: Choices | None = None
    wave_every_ms: Pause | None = Field(
        None, alias="wave_every", description="each start group starts this much after the one before"
    )
    tap: Annotated[str, FromText(q.parse_tap_meaning, "finish or round", {"enum": ["finish", "round"]})] | None = None


class AmrapFile(PartFile):
    """As many rounds as possible in the time."""

    kind: Literal["amrap"]
    time_ms: Window = Field(alias="time")
    work: Work
    choose: Choices | None = None


class StageFile(Shape):
    """One stage of a shuttle ladder."""

    speed_kmh: Speed = Field(alias="speed")
    shuttles: Annotated[int, counted(1, 1000)]


class ShuttleFile(Shape):
    """Lengths of `distance`: either `stages` written out, or `start`, `step`, `stage` and `count`."""

    distance: Annotated[Fraction, length(1000, 1_000_000, "20 m")]
    stages: Annotated[list[Annotated[StageFile, _into(Stage)]], Field(min_length=1, max_length=MOST_STAGES)] | None = None
    start: Speed | None = None
    step: SpeedStep | None = None
    stage: Annotated[int, lasting(1000, 60 * MINUTE_MS)] | None = None
    count: Annotated[int, counted(1, MOST_STAGES)] | None = None


def _shuttle(shape: ShuttleFile) -> Shuttle:
    metres = shape.distance / 1000
    stages: Sequence[Any] = shape.stages or ()
    if shape.stages is None:
        start, step, stage_ms = shape.start or Fraction(0), shape.step or Fraction(0), shape.stage or 0
        speeds = [start + step * number for number in range(shape.count or 0)]
        stages = [Stage(speed, q.shuttles_nearest(metres, speed, stage_ms)) for speed in speeds]
    return Shuttle(metres, tuple(stages))


class PacedFile(PartFile):
    """Work to a beat, or a shuttle ladder."""

    kind: Literal["paced"]
    move: Name | None = None
    beats_per_minute: Beat | None = Field(None, alias="beat")
    beats_per_rep: Annotated[int, counted(1, 32)] | None = None
    time_ms: Window | None = Field(None, alias="time")
    shuttle: Annotated[ShuttleFile, AfterValidator(_shuttle)] | None = None


PART_FILES: dict[str, type[PartFile]] = {
    "open": OpenFile,
    "rotation": RotationFile,
    "intervals": IntervalsFile,
    "for_time": ForTimeFile,
    "amrap": AmrapFile,
    "paced": PacedFile,
}
_TITLES = {
    "open": "Open time",
    "rotation": "Rotation",
    "intervals": "Intervals",
    "for_time": "For time",
    "amrap": "As many rounds as possible",
    "paced": "To the beat",
}


def _part(make: type[Part]) -> AfterValidator:
    def part(shape: PartFile) -> Part:
        values = shape.values()
        title = "Shuttle ladder" if "shuttle" in values else _TITLES[make.kind]
        return make(**{"title": title, **values})

    return AfterValidator(part)


def _part_tag(value: object) -> str:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return f"<{kind.strip() if isinstance(kind, str) else ''}>"


AnyPartFile = Annotated[
    Annotated[OpenFile, _part(OpenPart), Tag("<open>")]
    | Annotated[RotationFile, _part(Rotation), Tag("<rotation>")]
    | Annotated[IntervalsFile, _part(Intervals), Tag("<intervals>")]
    | Annotated[ForTimeFile, _part(ForTime), Tag("<for_time>")]
    | Annotated[AmrapFile, _part(Amrap), Tag("<amrap>")]
    | Annotated[PacedFile, _part(Paced), Tag("<paced>")],
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

    screen_mm: Annotated[Fraction, length(100, 30_000, "1.40 m"), AfterValidator(round)] = Field(alias="screen")
    farthest_mm: Annotated[Fraction, length(300, 300_000, "12 m"), AfterValidator(round)] = Field(alias="farthest")


class SessionFile(Shape):
    """A session file."""

    title: Title = Field(alias="session")
    class_time_ms: Window | None = Field(None, alias="class_time", description="how long the room is ours")
    rest_margin_ms: Margin | None = Field(
        None, alias="rest_margin", description="the smallest rest wanted every round; 0:15 when left out"
    )
    count_in_ms: Moment | None = Field(
        None, alias="count_in", description="before each timed part; 0:10 when left out, 0 for none"
    )
    resume_count_in_ms: Moment | None = Field(None, alias="resume_count_in", description="after a pause; 0:03 when left out")
    tap_grace_ms: Annotated[int, lasting(0, 30_000)] | None = Field(
        None, alias="tap_grace", description="a tap this soon after an interval begins may end the one before"
    )
    confidence: Confidence | None = Field(
        None, description="how sure advice has to be that a target keeps the margin, in percent; 90 when left out"
    )
    kit: dict[Name, Annotated[int, counted(0, 10_000)]] | None = Field(None, description="what there is, and how many")
    room: Annotated[RoomFile, _into(Room)] | None = None
    cues: Annotated[CuesFile, _into(Cues)] | None = None
    voice: Flag | None = Field(None, description="speak the next station before its count; off when left out")
    parts: Annotated[list[AnyPartFile], Field(min_length=1, max_length=MOST_PARTS), AfterValidator(tuple)]

    def session(self) -> Session:
        """The session as the rest of the house sees it."""
        values = self.values()
        voice = values.pop("voice", False)
        return Session(**{**values, "cues": replace(values.get("cues", Cues()), voice=voice)})


class AthleteFile(Shape):
    """Somebody who is here today."""

    name: Name
    key: Annotated[str, FromText(clean_key, "a letter or digit", {"type": ["string", "integer"]})] | None = None
    level: Name | None = None
    options: dict[Name, Name] | None = None
    targets: dict[Name, Amount] | None = None
    experienced: (
        Annotated[
            Annotated[list[Name], Tag("<list>")] | Annotated[Name, Tag("<text>")],
            kind_of("<text>", "<list>", "<text>"),
            AfterValidator(lambda moves: frozenset(_sentences(moves))),
        ]
        | None
    ) = None
    group: Annotated[int, counted(1, MOST_GROUPS)] | None = None
    rest_margin_ms: Margin | None = Field(None, alias="rest_margin")


class RosterFile(Shape):
    """A roster file."""

    roster: Title | None = None
    athletes: Annotated[
        list[
            Annotated[
                Annotated[AthleteFile, _into(Athlete), Tag("<mapping>")]
                | Annotated[Name, AfterValidator(lambda name: Athlete(name=name)), Tag("<text>")],
                kind_of("<text>", "<text>", "<mapping>"),
            ]
        ],
        Field(min_length=1, max_length=MOST_ATHLETES),
    ]
