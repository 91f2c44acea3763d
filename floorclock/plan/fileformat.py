"""The shapes of the session file and the roster file: which keys there are, what may stand behind each, what it is made into.

Invariant: an unknown key is a problem, never ignored. A field has the name that its value has in `session`, `work` or `roster`;
the key of the file is that name without its unit, else its alias, so that nothing has to be said twice. What must fit together
across keys is in `rules`; these shapes also make the JSON Schema.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Annotated, Any, ClassVar, Literal, TypeVar, cast, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Discriminator, Field, Tag

from floorclock.plan import quantities as q
from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.fields import (
    MINUTE_MS,
    Amount,
    AnyLoad,
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
    Weight,
    Window,
    by_form,
    counted,
    lasting,
    length,
    one_of,
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
    PartKind,
    RestPart,
    Room,
    Rotation,
    Score,
    ScoreUnit,
    Session,
    Shuttle,
    Stage,
    Turns,
    Untapped,
)
from floorclock.plan.work import REST, Load, Option, Station, Target, Unit, numbered

MOST_STATIONS = 60
MOST_OPTIONS = 20
MOST_PARTS = 50
MOST_STAGES = 100
MOST_ATHLETES = 200
MOST_GROUPS = 60
MOST_LEVELS = 8
MOST_ITEMS = 10
MOST_LOADS = 40
MOST_BLOCKS = 30
MOST_LIMITS = 50

KINDS = (*get_args(PartKind), "repeat")
TAGS = frozenset({"<text>", "<list>", "<mapping>", "<ladder>", "<several>", *(f"<{kind}>" for kind in KINDS)})
"""Steps that pydantic puts into a path and that are not in the file."""

_Made = TypeVar("_Made")
_Leveled = TypeVar("_Leveled", Target, Load)


def _key(field: str) -> str:
    """The key of a field that has no alias of its own: its name without its unit."""
    return re.sub("_(ms|mm|kmh)$", "", field)


class Shape(BaseModel):
    """A mapping of the file in which every key is known."""

    model_config = ConfigDict(extra="forbid", defer_build=True, alias_generator=_key)
    UNDER: ClassVar[dict[str, type[Shape]]] = {}
    """Of the shape of a whole file: what the mappings under a key of its own look like."""

    def values(self) -> dict[str, Any]:
        """What is written here, by field; what is left out has its default where it is made into something."""
        return {name: value for name, value in self if name != "kind" and value is not None}


def keys_of(shape: type[Shape]) -> tuple[str, ...]:
    """The keys that a shape knows, as written in the file."""
    return tuple(field.alias or _key(name) for name, field in shape.model_fields.items())


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


def _by_level(values: dict[str, _Leveled]) -> _Leveled:
    """The middle one stands for all where no level is known."""
    middle = list(values.values())[len(values) // 2]
    return replace(middle, levels=tuple(values.items()))


def _ladder_or_levels(value: object) -> str:
    if not isinstance(value, dict):
        return "<text>"
    return "<ladder>" if {"start", "step"} & value.keys() else "<mapping>"


_NO_LADDER = {"propertyNames": {"not": {"enum": ["start", "step"]}}}
ByLevel = Annotated[
    dict[Name, Amount], Field(min_length=1, max_length=MOST_LEVELS, json_schema_extra=_NO_LADDER), AfterValidator(_by_level)
]
AnyTarget = Annotated[
    Annotated[LadderFile, AfterValidator(_ladder), Tag("<ladder>")]
    | Annotated[ByLevel, Tag("<mapping>")]
    | Annotated[Amount, Tag("<text>")],
    Discriminator(_ladder_or_levels),
]
LoadByLevel = Annotated[dict[Name, AnyLoad], Field(min_length=1, max_length=MOST_LEVELS), AfterValidator(_by_level)]
Loaded = Annotated[Annotated[LoadByLevel, Tag("<mapping>")] | Annotated[AnyLoad, Tag("<text>")], by_form("mapping")]
Kit = Annotated[
    Annotated[dict[Name, Annotated[int, counted(1, 1000)]], Tag("<mapping>")]
    | Annotated[list[Name], Tag("<list>")]
    | Annotated[Name, Tag("<text>")],
    by_form("list", "mapping"),
    AfterValidator(_kit),
]
Sentences = Annotated[
    Annotated[list[Prose], Field(max_length=20), Tag("<list>")] | Annotated[Prose, Tag("<text>")],
    by_form("list"),
    AfterValidator(_sentences),
]

Names = Annotated[
    Annotated[list[Name], Tag("<list>")] | Annotated[Name, Tag("<text>")],
    by_form("list"),
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
    load: Loaded | None = None


class StationFile(Shape):
    """One move with its target: a slot of a rotation, or one item of the work."""

    move: Name
    target: AnyTarget | None = None
    kit: Kit | None = None
    pattern: Name | None = Field(None, description="hinge, squat, push, pull, core, carry, jump, run, row, ride, ...")
    standards: Sentences | None = Field(None, description="what counts as done, shown in the brief")
    caution: Prose | None = None
    guarded: Flag | None = Field(None, description="true: only for athletes listed as experienced in it")
    options: list[OptionFile] | None = Field(None, max_length=MOST_OPTIONS)
    rest_margin_ms: Margin | None = None
    least: Least | None = Field(None, description="the smallest amount that advice may come to, in the unit of the target")
    load: Loaded | None = Field(None, description="24 kg, 53 lb, or a percentage of the athlete's best in the move")
    time_ms: Window | None = Field(None, description="its own window; needs `together`, or one start group")


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
    values |= {key: station[key] for key in ("kit", "pattern", "guarded", "load") if same and key in station}
    return Option(**{**values, **shape.values()})


def _rest_word(text: str) -> Station:
    if text.strip().lower() != "rest":
        raise UnreadableError(f"{shown(text)} is no station", f"write `- move: {text.strip()[:30]}`, or the word rest")
    return REST


AnyStation = Annotated[StationFile, AfterValidator(_station)]


class SeveralFile(Shape):
    """Several moves in one window, one tap for all of them."""

    items: Annotated[list[AnyStation], Field(min_length=2, max_length=MOST_ITEMS), AfterValidator(tuple)] = Field(alias="work")
    caution: Prose | None = None
    rest_margin_ms: Margin | None = None
    time_ms: Window | None = None


def _several(shape: SeveralFile) -> Station:
    moves = " + ".join(item.move for item in shape.items)
    return Station(move=moves, target=Target(Fraction(1), Unit.WHOLE), **shape.values())


def _slot_tag(value: object) -> str:
    if isinstance(value, str):
        return "<text>"
    return "<several>" if isinstance(value, dict) and "work" in value and "move" not in value else "<mapping>"


RestWord = Annotated[Station, FromText(_rest_word, "a station", {"const": "rest"})]
Slot = Annotated[
    Annotated[AnyStation, Tag("<mapping>")]
    | Annotated[SeveralFile, AfterValidator(_several), Tag("<several>")]
    | Annotated[RestWord, Tag("<text>")],
    Discriminator(_slot_tag),
]
Slots = Annotated[list[Slot], Field(min_length=1, max_length=MOST_STATIONS), AfterValidator(numbered)]
Work = Annotated[list[AnyStation], Field(min_length=1, max_length=MOST_STATIONS), AfterValidator(numbered)]


class PartFile(Shape):
    """What all parts share."""

    title: Title | None = None
    notes: Sentences | None = None
    caution: Prose | None = None
    rest_margin_ms: Margin | None = Field(None, description="the smallest rest wanted in this part")
    count_in_ms: Moment | None = None


Scored = Annotated[str, one_of(*get_args(ScoreUnit), kind="what is counted")]


class ScoreFile(Shape):
    """A number that is asked for once after the part, or after each set."""

    unit: Scored
    each: Annotated[str, one_of("set", "part")] | None = None


AnyScore = Annotated[
    Annotated[ScoreFile, _into(Score), Tag("<mapping>")] | Annotated[Scored, AfterValidator(Score), Tag("<text>")],
    by_form("mapping"),
]


class WorkingFile(PartFile):
    """What all parts with work share."""

    team_size: Annotated[int, FromText(q.parse_team_size, "pairs or teams of 3", {"type": "string"})] | None = Field(
        None, alias="in", description="pairs, or teams of 3: one row, key and result for a team"
    )
    turns: Annotated[str, one_of(*get_args(Turns), kind="how a team works")] | None = None
    score: AnyScore | None = Field(None, description="reps, calories, metres or load, asked for after each set")


class OpenFile(PartFile):
    """A part that the coach ends."""

    kind: Literal["open"]
    time_ms: Window | None = Field(None, description="advisory")
    min_ms: Pause | None = Field(None, description="an earlier end is asked about")
    max_ms: Window | None = Field(None, description="the part ends by itself then")


class RestFile(PartFile):
    """A fixed rest that rolls on into the next part by itself; the next part's count-in lies within it."""

    kind: Literal["rest"]
    time_ms: Window


class TogetherFile(WorkingFile):
    """What rotations and intervals share."""

    together: Flag | None = Field(None, description="everybody at one station, whatever their start group")
    round_rest_ms: Pause | None = Field(None, description="a rest between two rounds")
    tap: Annotated[str, one_of("done", "none")] | None = Field(None, description="none: nobody taps here, and nobody is untapped")


class RotationFile(TogetherFile):
    """Every minute, or whatever `every` says, the next station."""

    kind: Literal["rotation"]
    every_ms: Window
    rounds: Rounds | None = None
    for_ms: Window | None = Field(None, description="instead of `rounds`: a whole number of `every`")
    work: Slots = Field(alias="stations")
    until_out: Flag | None = Field(None, description="who is not finished once is out of the part")


class IntervalsFile(TogetherFile):
    """Sets of work with rest between."""

    kind: Literal["intervals"]
    work_ms: Window
    rest_ms: Pause
    sets: Rounds
    work: Slots = Field(alias="stations")
    final_rest: Flag | None = None


class ChoiceFile(Shape):
    """An alternative to the whole of the work."""

    name: Name
    rounds: Rounds | None = None
    work: Work | None = None


Choices = Annotated[list[Annotated[ChoiceFile, _into(Choice)]], Field(max_length=MOST_OPTIONS), AfterValidator(tuple)]


class ForTimeFile(WorkingFile):
    """A fixed piece of work against the clock."""

    kind: Literal["for_time"]
    cap_ms: Window
    rounds: Rounds | None = None
    work: Work
    choose: Choices | None = None
    wave_every_ms: Pause | None = Field(None, description="each start group starts this much after the one before")
    tap: Annotated[str, one_of("finish", "round")] | None = None
    buy_in: Work | None = Field(None, description="done once, before the rounds")
    cash_out: Work | None = Field(None, description="done once, after the rounds")
    round_rest_ms: Pause | None = Field(None, description="each athlete's own rest after a round, from their tap")


class AmrapFile(WorkingFile):
    """As many rounds as possible in the time."""

    kind: Literal["amrap"]
    time_ms: Window
    work: Work
    choose: Choices | None = None
    wave_every_ms: Pause | None = Field(None, description="each start group starts this much after the one before")
    buy_in: Work | None = Field(None, description="done once, before the rounds")
    cash_out: Work | None = Field(None, description="done once, before the time is over")


class StageFile(Shape):
    """One stage of a shuttle ladder."""

    speed_kmh: Speed
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


class PacedFile(WorkingFile):
    """Work to a beat, or a shuttle ladder."""

    kind: Literal["paced"]
    move: Name | None = None
    beats_per_minute: Beat | None = Field(None, alias="beat")
    beats_per_rep: Annotated[int, counted(1, 32)] | None = None
    time_ms: Window | None = None
    shuttle: Annotated[ShuttleFile, AfterValidator(_shuttle)] | None = None


PART_FILES: dict[str, type[PartFile]] = {
    "open": OpenFile,
    "rest": RestFile,
    "rotation": RotationFile,
    "intervals": IntervalsFile,
    "for_time": ForTimeFile,
    "amrap": AmrapFile,
    "paced": PacedFile,
}


def _part(make: type[Part], title: str) -> AfterValidator:
    """Makes the part; `title` is for one that the file gives none."""

    def part(shape: PartFile) -> Part:
        values = shape.values()
        values.setdefault("title", "Shuttle ladder" if "shuttle" in values else title)
        if make is ForTime and values.get("round_rest_ms"):
            values["tap"] = "round"  # An athlete's rest begins with their tap.
        return make(written=values["title"], **values)

    return AfterValidator(part)


def kind_of(part: object) -> str:
    """The kind that a part says it is, be it a tree, a shape or made already; empty where it says none."""
    kind = part.get("kind") if isinstance(part, dict) else getattr(part, "kind", None)
    return kind.strip() if isinstance(kind, str) else ""


_BY_KIND = Discriminator(lambda part: f"<{kind_of(part)}>")
OnePart = (
    Annotated[OpenFile, _part(OpenPart, "Open time"), Tag("<open>")]
    | Annotated[RestFile, _part(RestPart, "Rest"), Tag("<rest>")]
    | Annotated[RotationFile, _part(Rotation, "Rotation"), Tag("<rotation>")]
    | Annotated[IntervalsFile, _part(Intervals, "Intervals"), Tag("<intervals>")]
    | Annotated[ForTimeFile, _part(ForTime, "For time"), Tag("<for_time>")]
    | Annotated[AmrapFile, _part(Amrap, "As many rounds as possible"), Tag("<amrap>")]
    | Annotated[PacedFile, _part(Paced, "To the beat"), Tag("<paced>")]
)


class RepeatFile(Shape):
    """The same parts several times, block by block, each with its own splits and results."""

    kind: Literal["repeat"]
    times: Annotated[int, counted(2, MOST_BLOCKS)]
    parts: Annotated[list[Annotated[OnePart, _BY_KIND]], Field(min_length=1, max_length=MOST_PARTS)]


AnyPartFile = Annotated[OnePart | Annotated[RepeatFile, Tag("<repeat>")], _BY_KIND]


def _blocks(parts: Sequence[Any]) -> Iterator[Part]:
    """The parts in the order in which they are run, each with its place in the file and its block."""
    for number, item in enumerate(parts):
        if not isinstance(item, RepeatFile):
            yield replace(item, path=("parts", number))
            continue
        for block in range(1, item.times + 1):
            for inner, part in enumerate(cast(Sequence[Part], item.parts)):
                title = f"{part.title}, block {block} of {item.times}"
                yield replace(part, path=("parts", number, "parts", inner), title=title, block=(block, item.times))


def _rolled_on(parts: Sequence[Part], count_in_ms: int) -> Iterator[Part]:
    """A fixed rest knows how much of it is the count-in of the part that follows."""
    for part, following in zip(parts, [*parts[1:], None], strict=True):
        if isinstance(part, RestPart) and following is not None and not isinstance(following, Untapped):
            count_ms = count_in_ms if following.count_in_ms is None else following.count_in_ms
            part = replace(part, count_ms=min(count_ms, part.time_ms - 1))
        yield part


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

    screen_mm: Annotated[Fraction, length(100, 30_000, "1.40 m"), AfterValidator(round)]
    farthest_mm: Annotated[Fraction, length(300, 300_000, "12 m"), AfterValidator(round)]


HowMany = Annotated[int, counted(0, 10_000)]
Owned = Annotated[
    Annotated[dict[Weight, HowMany], Field(min_length=1, max_length=MOST_LOADS), Tag("<mapping>")]
    | Annotated[HowMany, Tag("<text>")],
    by_form("mapping"),
]


class SessionFile(Shape):
    """A session file."""

    title: Title = Field(alias="session")
    class_time_ms: Window | None = Field(None, description="how long the room is ours")
    changeover_ms: Pause | None = Field(None, description="what goes by between two parts, for `check`")
    pack_up_ms: Pause | None = Field(None, description="what goes by at the end, for `check`")
    volume_limit: dict[Name, Amount] | None = Field(
        None, max_length=MOST_LIMITS, description="the most of a move for one athlete in this class"
    )
    rest_margin_ms: Margin | None = Field(None, description="the smallest rest wanted every round; 0:15 when left out")
    count_in_ms: Moment | None = Field(None, description="before each timed part; 0:10 when left out, 0 for none")
    resume_count_in_ms: Moment | None = Field(None, description="after a pause; 0:03 when left out")
    tap_grace_ms: Annotated[int, lasting(0, 30_000)] | None = Field(
        None, description="a tap this soon after an interval begins may end the one before"
    )
    confidence: Confidence | None = Field(
        None, description="how sure advice has to be that a target keeps the margin, in percent; 90 when left out"
    )
    kit: dict[Name, Owned] | None = Field(None, description="what there is, and how many; of bells and bars also by load")
    room: Annotated[RoomFile, _into(Room)] | None = None
    cues: Annotated[CuesFile, _into(Cues)] | None = None
    voice: Flag | None = Field(None, description="speak the next station before its count; off when left out")
    load_step: Weight | None = Field(None, description="what percentages of a best are rounded to; 2.5 kg or 5 lb when left out")
    view: Annotated[str, one_of("class", "coach")] | None = Field(
        None,
        description="what the floor shows first: class (no flags) or coach (everything); the last one when left out",
    )
    ranked: Flag | None = Field(None, description="true: results may be ranked")
    parts: Annotated[list[AnyPartFile], Field(min_length=1, max_length=MOST_PARTS)]

    def session(self) -> Session:
        """The session as the rest of the house sees it."""
        values = self.values()
        voice = values.pop("voice", False)
        count_in_ms = Session.count_in_ms if self.count_in_ms is None else self.count_in_ms
        parts = tuple(_rolled_on(tuple(_blocks(self.parts)), count_in_ms))
        kit = values.pop("kit", {})
        loads = {name: {load.words(): many for load, many in own.items()} for name, own in kit.items() if isinstance(own, dict)}
        values["kit"] = {name: sum(loads[name].values()) if name in loads else many for name, many in kit.items()}
        values |= {"kit_loads": loads, "parts": parts, "cues": replace(values.get("cues", Cues()), voice=voice)}
        return Session(**values)


class AthleteFile(Shape):
    """Somebody who is here today."""

    name: Name
    key: Annotated[str, FromText(clean_key, "a letter or digit", {"type": ["string", "integer"]})] | None = None
    level: Name | None = None
    options: dict[Name, Name] | None = None
    targets: dict[Name, Amount] | None = None
    experienced: Annotated[Names, AfterValidator(frozenset)] | None = None
    group: Annotated[int, counted(1, MOST_GROUPS)] | None = None
    rest_margin_ms: Margin | None = None
    loads: dict[Name, Weight] | None = None
    best: dict[Name, Weight] | None = Field(None, description="the most they moved once, by move")
    avoid: Annotated[Names, AfterValidator(lambda moves: frozenset(move.casefold() for move in moves))] | None = Field(
        None, description="moves or patterns that they stay away from"
    )
    team: Annotated[int, counted(1, MOST_GROUPS)] | None = None
    together: Annotated[Names, AfterValidator(frozenset)] | None = Field(
        None, alias="with", description="names of those whose start group and team they share"
    )
    apart: Annotated[Names, AfterValidator(frozenset)] | None = Field(
        None, alias="not_with", description="names of those whose start group and team they do not share"
    )
    note: Prose | None = Field(None, description="for the coach's eyes only")


class RosterFile(Shape):
    """A roster file."""

    roster: Title | None = None
    athletes: Annotated[
        list[
            Annotated[
                Annotated[AthleteFile, _into(Athlete), Tag("<mapping>")]
                | Annotated[Name, AfterValidator(lambda name: Athlete(name=name)), Tag("<text>")],
                by_form("mapping"),
            ]
        ],
        Field(min_length=1, max_length=MOST_ATHLETES),
    ]
