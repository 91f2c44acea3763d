"""What the index holds of one class, as plain values: made from a journal, written as it is, and read back equal.

Invariant: everything here follows from the journal of the class; nothing is asked of a store. A field has the name of its column
in `schema`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from floorclock.clock.splits import Split
from floorclock.plan.session import PartKind, ScoreUnit
from floorclock.plan.work import LoadUnit, Unit


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
class PaceRow:
    """One person at one station of a part, with one kind of work: what an athlete's page is made of.

    `rounds` counts the work intervals. `flags` has a bit for each flag that was raised, in the order of `Flag`. `level` is the
    natural logarithm of seconds per unit of work in round 1, `drift` its change with each round; None where too little was
    tapped. `target` is the round-1 target that they had at the end of the class, None where they did another move by then.
    """

    name: str
    part: int
    station: int
    move: str
    unit: Unit | None
    amount: Fraction | None
    target: Fraction | None = None
    rounds: int
    tapped: int
    not_finished: int
    flags: int
    median_split_ms: float | None
    least_rest_ms: int | None
    level: float | None
    drift: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """The class at one station of a part: what trends are made of.

    `tapped` counts splits, `not_finished` athletes; `mean_drift` is the mean of the athletes' drifts, as in `PaceRow`.
    """

    part: int
    station: int
    part_title: str
    move: str
    tapped: int
    not_finished: int
    median_rest_ms: float | None
    mean_drift: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """What one person reached in a part with a result, as in `clock.splits.Result`; `score_unit` is what was counted."""

    name: str
    part: int
    title: str
    kind: PartKind
    choice: str
    time_ms: int | None
    rounds: int | None
    reps: int | None
    not_finished: bool
    score_unit: ScoreUnit | None = None
    scores: tuple[tuple[int, Fraction], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftRow:
    """What one person lifted in one move over a class, as in `digest.volume`; `shared_by` is how many did it together."""

    name: str
    move: str
    reps: Fraction
    amount: Fraction
    heaviest: Fraction
    unit: LoadUnit
    shared_by: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassRows:
    """One class, whole.

    `home` tells apart the data folders that fill one store (the rooms of a gym): each knows the marks of its own journals only.
    """

    id: str
    started: datetime
    session: str
    rehearsal: bool
    mark: JournalMark
    home: str = ""
    attendance: tuple[AttendanceRow, ...] = ()
    splits: tuple[Split, ...] = ()
    paces: tuple[PaceRow, ...] = ()
    stations: tuple[StationRow, ...] = ()
    results: tuple[ResultRow, ...] = ()
    lifts: tuple[LiftRow, ...] = ()

    @property
    def names(self) -> set[str]:
        """Everybody who stands in it, as written."""
        named = {row.name for rows in (self.attendance, self.paces, self.results, self.lifts) for row in rows}
        return named | {split.athlete for split in self.splits}

    @property
    def moves(self) -> set[str]:
        """Every move in it."""
        return {row.move for rows in (self.splits, self.paces, self.stations, self.lifts) for row in rows}
