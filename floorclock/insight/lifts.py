"""What one athlete lifted, class by class and week by week.

Invariant: what several shared is in the history of each, and in nobody's week.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from floorclock.insight.as_json import Amount, Figure, Instant
from floorclock.plan.work import Load, LoadUnit
from floorclock.store.questions import Visit
from floorclock.store.rows import LiftRow


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftPoint:
    """One move in one class: the reps that had a load, reps times load, the heaviest; `shared_by` is how many did it together."""

    class_: str
    started: Instant
    reps: Amount[Fraction]
    volume_load: Figure[Fraction]
    heaviest: Figure[Fraction]
    shared_by: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftHistory:
    """A move with a load, the oldest point first, all in one unit: that of the newest."""

    move: str
    unit: LoadUnit
    points: tuple[LiftPoint, ...]


def lift_histories(history: Iterable[Visit]) -> tuple[LiftHistory, ...]:
    """What one athlete lifted, those moves of most classes first. `history` has the oldest class first."""
    found: dict[str, list[tuple[Visit, LiftRow]]] = {}
    for here in history:
        for row in here.lifts:
            found.setdefault(row.move, []).append((here, row))
    histories = []
    for move, rows in found.items():
        unit = rows[-1][1].unit
        points = tuple(
            LiftPoint(
                class_=here.class_id,
                started=here.started,
                reps=row.reps,
                volume_load=Load(row.amount, row.unit).in_unit(unit),
                heaviest=Load(row.heaviest, row.unit).in_unit(unit),
                shared_by=row.shared_by,
            )
            for here, row in rows
        )
        histories.append(LiftHistory(move=move, unit=unit, points=points))
    return tuple(sorted(histories, key=lambda lift: (-len(lift.points), lift.move)))


def week_volumes(history: Iterable[Visit], unit: LoadUnit) -> dict[date, Fraction]:
    """Volume load by the Monday of its week; what several shared is nobody's own."""
    found: dict[date, Fraction] = {}
    for here in history:
        monday = monday_of(here.started.date())
        own = (Load(row.amount, row.unit).in_unit(unit) for row in here.lifts if row.shared_by == 1)
        found[monday] = sum(own, found.get(monday, Fraction(0)))
    return found


def monday_of(day: date) -> date:
    """The first day of a week."""
    return day - timedelta(days=day.weekday())
