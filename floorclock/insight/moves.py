"""One athlete at one move over time: a point for each class, and whether they get faster.

Invariant: a pace is seconds for one unit of work in the middle round of a class, so that a changed target or a ladder turns
nothing; what was not tapped is in no point.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from floorclock.insight.intervals import Course, course
from floorclock.insight.next_target import NextTarget
from floorclock.pace.flags import Flag
from floorclock.pace.model.work import log_ratio
from floorclock.plan.work import Unit
from floorclock.store.answers import PaceOf
from floorclock.store.rows import PaceRow

LEAST_FOR_A_COURSE = 6
"""A course is called from so many classes on."""
MOST_FOR_A_COURSE = 40
"""It is that of the newest so many."""


class Way(StrEnum):
    """What became of a pace."""

    FASTER = "faster"
    SLOWER = "slower"
    UNTOLD = "cannot be told"
    TOO_LITTLE = "too little to tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One station of one class. `s_per_unit` is None for work without a target, and where nothing was tapped."""

    class_id: str
    started: datetime
    amount: Fraction | None
    median_split_ms: float | None
    s_per_unit: float | None
    least_rest_ms: int | None
    drift: float | None
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveHistory:
    """A move in one unit (None without a target), the oldest point first.

    `course` is that of the logarithm of the pace (`even_s`) over the newest classes; None where there are too few.
    """

    move: str
    unit: Unit | None
    points: tuple[Point, ...]
    course: Course | None
    next_target: NextTarget | None = None

    @property
    def even_s(self) -> tuple[float | None, ...]:
        """The pace of each point as the newest target would have it, so that points of other targets compare."""
        return even_paces(self.points)

    @property
    def classes(self) -> int:
        """In how many classes they did it."""
        return len({point.class_id for point in self.points})

    @property
    def way(self) -> Way:
        """Whether they get faster, in words."""
        return Way.TOO_LITTLE if self.course is None else way_of(self.course.change, is_told=self.course.is_told)

    @property
    def change_percent(self) -> float | None:
        """By how much the pace changed from the first to the last class of the course; below 0 is faster."""
        return None if self.course is None else percent(self.course.change)


def way_of(change: float, *, is_told: bool) -> Way:
    """What a change of the time for one unit of work means."""
    if not is_told:
        return Way.UNTOLD
    return Way.FASTER if change < 0 else Way.SLOWER


def percent(logarithm: float) -> float:
    """The change in per cent behind a difference of logarithms."""
    return 100 * math.expm1(logarithm)


@lru_cache(maxsize=64)
def flags_of(bits: int) -> tuple[Flag, ...]:
    """The flags behind the bits of a row, the most urgent first."""
    return tuple(flag for place, flag in enumerate(Flag) if bits >> place & 1)


def middle_pace_s(row: PaceRow) -> float | None:
    """Seconds for one unit of work in the middle round, by the line through all of them."""
    if row.level is None:
        return None
    return math.exp(row.level + (row.drift or 0.0) * (row.rounds - 1) / 2)


def move_histories(
    paces: Iterable[PaceOf], targets: dict[tuple[str, Unit | None], NextTarget] | None = None
) -> tuple[MoveHistory, ...]:
    """The moves of one athlete, those of most classes first. `paces` come in any order."""
    found: dict[tuple[str, Unit | None], list[Point]] = {}
    for one in sorted(paces, key=lambda pace: (pace.started, pace.class_id, pace.pace.part, pace.pace.station)):
        if one.pace.tapped or one.pace.not_finished:
            found.setdefault((one.pace.move, one.pace.unit), []).append(_point(one))
    told = targets or {}
    histories = [
        MoveHistory(move=move, unit=unit, points=tuple(points), course=_course(points), next_target=told.get((move, unit)))
        for (move, unit), points in found.items()
    ]
    return tuple(sorted(histories, key=lambda one: (-one.classes, one.move, one.unit or "")))


def even_paces(points: Sequence[Point]) -> tuple[float | None, ...]:
    """Seconds for one unit of work as the newest target would take them: a part of every split is setting up."""
    amounts = [float(point.amount) for point in points if point.amount]
    if len(set(amounts)) < 2:
        return tuple(point.s_per_unit for point in points)
    # What setting up takes goes by the amount most often given, the smallest of several, as in a class.
    times = Counter(amounts)
    usual = min(times, key=lambda amount: (-times[amount], amount))
    return tuple(_even(point, amounts[-1], usual) for point in points)


def _even(point: Point, newest: float, usual: float) -> float | None:
    amount = float(point.amount or 0)
    if point.s_per_unit is None or not amount:
        return point.s_per_unit
    return point.s_per_unit * amount / newest * math.exp(log_ratio(newest, amount, usual))


def _point(one: PaceOf) -> Point:
    row = one.pace
    return Point(
        class_id=one.class_id,
        started=one.started,
        amount=row.amount,
        median_split_ms=row.median_split_ms,
        s_per_unit=middle_pace_s(row),
        least_rest_ms=row.least_rest_ms,
        drift=row.drift,
        flags=flags_of(row.flags),
    )


def _course(points: Sequence[Point]) -> Course | None:
    """Over classes: two stations with the same move in one class are one value."""
    by_class: dict[str, tuple[int, list[float]]] = {}
    for point, pace_s in zip(points, even_paces(points), strict=True):
        if pace_s is not None:
            here = by_class.setdefault(point.class_id, (point.started.date().toordinal(), []))
            here[1].append(math.log(pace_s))
    taken = list(by_class.values())[-MOST_FOR_A_COURSE:]
    if len(taken) < LEAST_FOR_A_COURSE:
        return None
    # Equal paces stay equal, whatever the last digit says.
    return course([[(day, round(math.fsum(logs) / len(logs), 9)) for day, logs in taken]])
