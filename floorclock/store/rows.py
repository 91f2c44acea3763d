"""What the index holds of one class, as plain values: made from a journal, and written as it is.

Invariant: everything here follows from the journal of the class and from who is the same person; nothing is asked of a store.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Literal

from floorclock.plan.session import PartKind
from floorclock.plan.work import Unit

Source = Literal["taps", "paper"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalMark:
    """Which journal it was made from: a journal whose mark is the same has not changed."""

    size: int
    mtime_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AttendanceRow:
    """One person in one class. `effort` is 0 to 10, None where it was not rated."""

    name: str
    minutes: float
    effort: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitRow:
    """One split, as in `clock.splits.Split`. `flags` has a bit for each flag it raised, in the order of `Flag`."""

    name: str
    part: int
    interval: int
    round: int
    station: int
    move: str
    amount: Fraction | None
    unit: Unit | None
    window_ms: int
    margin_ms: int
    split_ms: int | None
    status: int
    """0 done, 1 untapped, 2 not finished."""
    flags: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceRow:
    """One person at one station of a part: what an athlete's page is made of.

    `first_ms` and `last_ms` are the splits of the first and last tapped round, `rounds` counts the work intervals, `level` is
    the natural logarithm of seconds per unit of work, `drift` its change with each round; None where too little was tapped.
    """

    name: str
    part: int
    station: int
    move: str
    unit: Unit | None
    amount: Fraction | None
    rounds: int
    tapped: int
    tight: int
    not_finished: int
    flags: int
    median_split_ms: float | None
    first_ms: int | None
    last_ms: int | None
    least_rest_ms: int | None
    slope_ms: float | None
    cv_percent: float | None
    level: float | None
    drift: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """The class at one station of a part: what trends are made of. Counts are of athletes, `tapped` and `untapped` of splits."""

    part: int
    station: int
    part_title: str
    kind: PartKind
    move: str
    athletes: int
    tapped: int
    untapped: int
    tight: int
    fading: int
    runs_out: int
    not_finished: int
    median_split_ms: float | None
    median_rest_ms: float | None
    mean_drift: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """What one person reached in a part with a result, as in `clock.splits.Result`."""

    name: str
    part: int
    title: str
    kind: PartKind
    choice: str
    time_ms: int | None
    rounds: int | None
    reps: int | None
    not_finished: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassRows:
    """One class, whole. `forgotten` is how many people were taken out of it at their wish.

    `home` tells apart the data folders that fill one store (the rooms of a gym): each knows the marks of its own journals only.
    """

    id: str
    started: datetime
    session: str
    rehearsal: bool
    source: Source
    rest_margin_ms: int
    minutes: float
    ended: bool
    damage: int
    mark: JournalMark
    forgotten: int = 0
    home: str = ""
    attendance: tuple[AttendanceRow, ...] = ()
    splits: tuple[SplitRow, ...] = ()
    paces: tuple[PaceRow, ...] = ()
    stations: tuple[StationRow, ...] = ()
    results: tuple[ResultRow, ...] = ()
