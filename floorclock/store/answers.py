"""What the questions to a store are answered with, as plain values.

Invariant: an instant has the offset of the place where the class was, so that its day is the day that people lived.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from floorclock.store.rows import AttendanceRow, PaceRow, ResultRow, Source, SplitRow, StationRow


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassLine:
    """One class in the list of classes. `athletes` counts who was there, `splits` every interval somebody worked in."""

    id: str
    started: datetime
    session: str
    rehearsal: bool
    source: Source
    rest_margin_ms: int
    minutes: float
    ended: bool
    damage: int
    athletes: int
    splits: int
    tapped: int
    not_finished: int
    forgotten: int
    home: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassFacts:
    """One class: who was there, how each station went, what was reached. By name, and by part and station."""

    line: ClassLine
    attendance: tuple[AttendanceRow, ...]
    stations: tuple[StationRow, ...]
    results: tuple[ResultRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteLine:
    """One person in the list of people: the name that counts, the other spellings, and the classes they were in."""

    name: str
    spellings: tuple[str, ...]
    classes: int
    first: datetime
    last: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteClass:
    """A class that one person was in. `name` is as it was written there."""

    class_id: str
    started: datetime
    session: str
    rehearsal: bool
    name: str
    minutes: float
    effort: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceOf:
    """One person at one station of a class."""

    class_id: str
    started: datetime
    session: str
    pace: PaceRow


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultOf:
    """What one person reached in a part of a class."""

    class_id: str
    started: datetime
    session: str
    result: ResultRow


@dataclass(frozen=True, slots=True, kw_only=True)
class StationOf:
    """How a class fared at one station."""

    class_id: str
    started: datetime
    session: str
    station: StationRow


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitOf:
    """One split of somebody in a class."""

    class_id: str
    started: datetime
    session: str
    split: SplitRow
