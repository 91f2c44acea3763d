"""The plan for a day: a session and its parts, as the rest of the house sees them.

Invariant: a `Session` is already checked; whoever holds one need not check it again.
Durations are integer milliseconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import ClassVar, Literal

from floorclock.plan.work import Station

PartKind = Literal["open", "rotation", "intervals", "for_time", "amrap", "paced"]


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


@dataclass(frozen=True, kw_only=True)
class Part:
    """What all parts share. `count_in_ms` and `rest_margin_ms` fall back on the session's when None."""

    kind: ClassVar[PartKind]
    title: str
    notes: tuple[str, ...] = ()
    caution: str = ""
    count_in_ms: int | None = None
    rest_margin_ms: int | None = None

    @property
    def stations(self) -> tuple[Station, ...]:
        """The stations, or the items of the work, in order; empty where the part has none."""
        return ()


@dataclass(frozen=True, kw_only=True)
class OpenPart(Part):
    """A part that the coach ends: `time_ms` is advisory, `min_ms` asks before an earlier end, `max_ms` ends it."""

    kind: ClassVar[PartKind] = "open"
    time_ms: int | None = None
    min_ms: int | None = None
    max_ms: int | None = None


@dataclass(frozen=True, kw_only=True)
class Rotation(Part):
    """Every minute (or `every_ms`) the next station; exactly one of `rounds` and `for_ms` is set."""

    kind: ClassVar[PartKind] = "rotation"
    every_ms: int
    work: tuple[Station, ...]
    rounds: int | None = None
    for_ms: int | None = None

    @property
    def stations(self) -> tuple[Station, ...]:
        return self.work

    @property
    def window_ms(self) -> int:
        """The time at one station."""
        return self.every_ms

    @property
    def count(self) -> int:
        """How many intervals it has. A `for_ms` that is no multiple of `every_ms` was refused on reading."""
        if self.rounds is not None:
            return self.rounds * len(self.work)
        return (self.for_ms or 0) // self.every_ms


@dataclass(frozen=True, kw_only=True)
class Intervals(Part):
    """`sets` windows of work with rest between; the stations follow each other set by set."""

    kind: ClassVar[PartKind] = "intervals"
    work_ms: int
    rest_ms: int
    sets: int
    work: tuple[Station, ...]
    final_rest: bool = False

    @property
    def stations(self) -> tuple[Station, ...]:
        return self.work

    @property
    def window_ms(self) -> int:
        """The time for the work of one set."""
        return self.work_ms


@dataclass(frozen=True, kw_only=True)
class Choice:
    """An alternative to the whole work of a `for_time` or `amrap` part, picked for an athlete by `name`."""

    name: str
    rounds: int | None = None
    work: tuple[Station, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ForTime(Part):
    """A fixed piece of work against the clock, at most `cap_ms`. Start group g starts (g - 1) * `wave_every_ms` later.

    `tap` says what a tap means: the finish, or one more round done (the last one is the finish).
    """

    kind: ClassVar[PartKind] = "for_time"
    cap_ms: int
    rounds: int = 1
    work: tuple[Station, ...]
    choose: tuple[Choice, ...] = ()
    wave_every_ms: int = 0
    tap: Literal["finish", "round"] = "finish"

    @property
    def stations(self) -> tuple[Station, ...]:
        return self.work


@dataclass(frozen=True, kw_only=True)
class Amrap(Part):
    """As many rounds as possible in `time_ms`; a tap is one more round done."""

    kind: ClassVar[PartKind] = "amrap"
    time_ms: int
    work: tuple[Station, ...]
    choose: tuple[Choice, ...] = ()

    @property
    def stations(self) -> tuple[Station, ...]:
        return self.work


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


AnyPart = OpenPart | Rotation | Intervals | ForTime | Amrap | Paced


@dataclass(frozen=True, kw_only=True)
class Room:
    """The wall: screen diagonal and farthest viewer, in millimetres."""

    screen_mm: int
    farthest_mm: int


@dataclass(frozen=True, kw_only=True)
class Session:
    """The plan for a day. `class_time_ms` is how long the room is ours, None where the coach did not say.

    `confidence` is how sure advice has to be, in percent, that a target keeps the margin to the last round.
    """

    title: str
    parts: tuple[AnyPart, ...]
    class_time_ms: int | None = None
    rest_margin_ms: int = 15_000
    count_in_ms: int = 10_000
    resume_count_in_ms: int = 3_000
    tap_grace_ms: int = 2_000
    confidence: int = 90
    kit: dict[str, int] = field(default_factory=dict)
    room: Room | None = None
    cues: Cues = Cues()

    def margin_ms(self, part: Part, station: Station | None = None) -> int:
        """The smallest rest wanted at a station of a part: the nearest value that somebody set."""
        if station is not None and station.rest_margin_ms is not None:
            return station.rest_margin_ms
        return self.rest_margin_ms if part.rest_margin_ms is None else part.rest_margin_ms
