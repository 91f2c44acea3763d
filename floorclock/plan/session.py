"""The plan for a day: a session and its parts, as the rest of the house sees them.

Invariant: a `Session` is already checked; whoever holds one need not check it again.
Durations are integer milliseconds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import ClassVar, Literal

from floorclock.plan.work import Load, Station, Target

Turns = Literal["each round", "each interval", "shared", "same time"]
"""How a team works: one after the other by round or by interval, one at a time as they like, or all at once."""
ScoreUnit = Literal["reps", "calories", "metres", "load"]
PartKind = Literal["open", "rest", "rotation", "intervals", "for_time", "amrap", "paced"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Cues:
    """Which cues sound. `count` is how many pips come before work; `pace` how many even-pace beats fill a target's time.

    `volume` is in percent; with `voice` the next station is spoken.
    """

    count: int = 3
    last_ten: bool = True
    half: bool = False
    rest: bool = True
    last_round: bool = True
    attention: bool = True
    pace: int = 0
    volume: int = 100
    voice: bool = False


@dataclass(frozen=True, slots=True)
class Score:
    """A number that is asked for after each set, or once after the part, instead of a time."""

    unit: ScoreUnit
    each: Literal["set", "part"] = "set"


@dataclass(frozen=True, kw_only=True)
class Part:
    """What all parts share. `count_in_ms` and `rest_margin_ms` fall back on the session's when None.

    `written` is the title in the file, by which a roster names the part; `title` says the block, too. `block` is
    (this one, how many) for a part of a `repeat`. `path` is where the part stands in the file.
    """

    kind: ClassVar[PartKind]
    title: str
    written: str = field(default="", compare=False)
    block: tuple[int, int] | None = None
    path: tuple[str | int, ...] = field(default=(), compare=False)
    team_size: int = 1
    """How many share one result; 2 for pairs."""
    turns: Turns = "shared"
    score: Score | None = None
    notes: tuple[str, ...] = ()
    caution: str = ""
    count_in_ms: int | None = None
    rest_margin_ms: int | None = None

    @property
    def stations(self) -> tuple[Station, ...]:
        """The stations, or the items of the work, in order; empty where the part has none."""
        return ()

    @property
    def is_again(self) -> bool:
        """True for a later block of the same work: what is to be said of it was said of the first."""
        return self.block is not None and self.block[0] > 1

    def moves(self) -> Iterator[tuple[tuple[str | int, ...], Station]]:
        """Every move of the part by itself, with its place in the part as in the file: those of options are in it."""
        if self._list_key:
            yield from _each_move((self._list_key,), self.stations)
        for key in ("buy_in", "cash_out"):
            yield from _each_move((key,), getattr(self, key, ()))
        for which, choice in enumerate(getattr(self, "choose", ())):
            yield from _each_move(("choose", which, "work"), choice.work)

    _list_key: ClassVar[str] = ""
    """Under which key of the file the stations stand; empty where there are none to name."""


def _each_move(steps: tuple[str | int, ...], stations: Sequence[Station]) -> Iterator[tuple[tuple[str | int, ...], Station]]:
    for index, station in enumerate(stations):
        if station.items:
            yield from _each_move((*steps, index, "work"), station.items)
        elif not station.is_rest:
            yield (*steps, index), station


@dataclass(frozen=True, kw_only=True)
class OpenPart(Part):
    """A part that the coach ends: `time_ms` is advisory, `min_ms` asks before an earlier end, `max_ms` ends it."""

    kind: ClassVar[PartKind] = "open"
    time_ms: int | None = None
    min_ms: int | None = None
    max_ms: int | None = None


@dataclass(frozen=True, kw_only=True)
class RestPart(Part):
    """A rest of a fixed length that rolls on into the next part; the next part's count-in lies within it (`count_ms` of it)."""

    kind: ClassVar[PartKind] = "rest"
    time_ms: int
    count_ms: int = 0

    @property
    def length_ms(self) -> int:
        """How long it is until the next part's count-in begins."""
        return self.time_ms - self.count_ms


@dataclass(frozen=True, kw_only=True)
class _Windowed(Part):
    """What rotations and intervals share: windows of work at stations that follow each other, each measured by a split.

    With `together` everybody is at one station, whatever their start group. `round_rest_ms` lies between two rounds, in the place
    of the rest after the last station.
    """

    _list_key: ClassVar[str] = "stations"
    work: tuple[Station, ...]
    together: bool = False
    round_rest_ms: int = 0
    tap: Literal["done", "none"] = "done"

    @property
    def stations(self) -> tuple[Station, ...]:
        return self.work

    @cached_property
    def moves_together(self) -> bool:
        """Everybody is at one station: so the plan says, or windows of different lengths leave nothing else."""
        return self.together or any(station.time_ms is not None for station in self.work)


@dataclass(frozen=True, kw_only=True)
class Rotation(_Windowed):
    """Every minute (or `every_ms`) the next station; exactly one of `rounds` and `for_ms` is set.

    With `until_out` who is not finished once is out of the part.
    """

    kind: ClassVar[PartKind] = "rotation"
    every_ms: int
    rounds: int | None = None
    for_ms: int | None = None
    until_out: bool = False

    def window_ms(self, station: int) -> int:
        """The time at a station."""
        own = self.work[station].time_ms
        return self.every_ms if own is None else own

    @property
    def count(self) -> int:
        """How many intervals it has. A `for_ms` that is no multiple of `every_ms` was refused on reading."""
        if self.rounds is not None:
            return self.rounds * len(self.work)
        return (self.for_ms or 0) // self.every_ms


@dataclass(frozen=True, kw_only=True)
class Intervals(_Windowed):
    """`sets` windows of work with rest between; the stations follow each other set by set."""

    kind: ClassVar[PartKind] = "intervals"
    work_ms: int
    rest_ms: int
    sets: int
    final_rest: bool = False

    def window_ms(self, station: int) -> int:
        """The time for the work at a station."""
        own = self.work[station].time_ms
        return self.work_ms if own is None else own

    @property
    def count(self) -> int:
        """How many windows of work it has."""
        return self.sets


@dataclass(frozen=True, kw_only=True)
class Choice:
    """An alternative to the whole work of a `for_time` or `amrap` part, picked for an athlete by `name`."""

    name: str
    rounds: int | None = None
    work: tuple[Station, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Piece(Part):
    """What pieces of work against the clock share. Start group g starts (g - 1) * `wave_every_ms` later."""

    _list_key: ClassVar[str] = "work"
    work: tuple[Station, ...]
    choose: tuple[Choice, ...] = ()
    wave_every_ms: int = 0
    buy_in: tuple[Station, ...] = ()
    cash_out: tuple[Station, ...] = ()

    @property
    def stations(self) -> tuple[Station, ...]:
        return self.work


@dataclass(frozen=True, kw_only=True)
class ForTime(_Piece):
    """A fixed piece of work, at most `cap_ms`.

    `tap` says what a tap means: the finish, or one more round done (the last one is the finish).
    """

    kind: ClassVar[PartKind] = "for_time"
    cap_ms: int
    rounds: int = 1
    tap: Literal["finish", "round"] = "finish"
    round_rest_ms: int = 0
    """Each athlete's own rest after a round but the last, from their tap; then a tap is a round."""

    @property
    def limit_ms(self) -> int:
        """The most time that a wave has."""
        return self.cap_ms


@dataclass(frozen=True, kw_only=True)
class Amrap(_Piece):
    """As many rounds as possible in `time_ms`, each wave with its whole time; a tap is one more round done."""

    kind: ClassVar[PartKind] = "amrap"
    time_ms: int

    @property
    def limit_ms(self) -> int:
        """The time that a wave has."""
        return self.time_ms


@dataclass(frozen=True, slots=True)
class Stage:
    """`shuttles` lengths at `speed_kmh` (exact)."""

    speed_kmh: Fraction
    shuttles: int


@dataclass(frozen=True, slots=True)
class Shuttle:
    """An accelerating ladder of lengths of `distance_m`; a stage is an interval."""

    distance_m: Fraction
    stages: tuple[Stage, ...]


@dataclass(frozen=True, kw_only=True)
class Paced(Part):
    """Work to a beat: either `beats_per_minute` for `time_ms`, or a `shuttle` ladder. A tap says that the athlete stopped."""

    kind: ClassVar[PartKind] = "paced"
    move: str = ""
    beats_per_minute: Fraction | None = None
    beats_per_rep: int = 1
    time_ms: int | None = None
    shuttle: Shuttle | None = None

    @property
    def stations(self) -> tuple[Station, ...]:
        return (Station(move=self.move or "run"),) if self.shuttle else (Station(move=self.move or "work"),)


Untapped = OpenPart | RestPart
"""Parts in which nobody works against a clock."""
Windowed = Rotation | Intervals
"""Parts of windows, each measured by a split."""
Piece = ForTime | Amrap
"""Pieces of work against the clock, measured by a result."""
AnyPart = Untapped | Windowed | Piece | Paced


@dataclass(frozen=True, kw_only=True)
class Room:
    """The wall: screen diagonal and farthest viewer, in millimetres."""

    screen_mm: int
    farthest_mm: int


@dataclass(frozen=True, kw_only=True)
class Session:
    """The plan for a day. `class_time_ms` is how long the room is ours, None where the coach did not say; `changeover_ms` is what
    goes by between two parts, `pack_up_ms` at the end.

    `confidence` is how sure advice has to be, in percent, that a target keeps the margin to the last round.
    """

    title: str
    parts: tuple[AnyPart, ...]
    class_time_ms: int | None = None
    changeover_ms: int | None = None
    pack_up_ms: int | None = None
    volume_limit: Mapping[str, Target] = field(default_factory=dict)
    """The most of a move that one athlete is to do in the class."""
    rest_margin_ms: int = 15_000
    count_in_ms: int = 10_000
    resume_count_in_ms: int = 3_000
    tap_grace_ms: int = 2_000
    confidence: int = 90
    kit: dict[str, int] = field(default_factory=dict)
    kit_loads: dict[str, dict[str, int]] = field(default_factory=dict)
    """Of kit that is counted by what is on it: how many of each load, by its words. `kit` has their sum."""
    room: Room | None = None
    cues: Cues = Cues()
    load_step: Load | None = None
    view: Literal["class", "coach"] | None = None
    """What the floor shows first; None leaves it to what the coach chose last."""
    ranked: bool = False
    """Results may be ranked; nothing else ever is."""

    def moves(self) -> Iterator[Station]:
        """Every move of all parts by itself, a part's choices too, without the rests."""
        return (station for part in self.parts for _, station in part.moves())

    def kit_counts(self, kit: str, load: str) -> Iterator[tuple[str, int | None]]:
        """As what a piece of kit is counted, and how many there are: by its name, then by its load where those are counted.

        Without any kit in the plan nobody knows how many there are (None); kit that the plan does not name is not counted.
        """
        if not self.kit or kit in self.kit:
            yield kit, self.kit.get(kit)
        if load and kit in self.kit_loads:
            yield f"{load} {kit}", self.kit_loads[kit].get(load, 0)

    def margin_ms(self, part: Part, station: Station | None = None) -> int:
        """The smallest rest wanted at a station of a part: the nearest value that somebody set."""
        if station is not None and station.rest_margin_ms is not None:
            return station.rest_margin_ms
        return self.rest_margin_ms if part.rest_margin_ms is None else part.rest_margin_ms
