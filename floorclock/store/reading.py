"""From the columns of the tables back to plain values.

Invariant: what `laying` laid down is picked up equal. Each tuple of columns here and the function that reads it belong together.
"""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from fractions import Fraction
from functools import lru_cache
from typing import Any

from floorclock.store.answers import ClassLine
from floorclock.store.codes import KIND_OF, SOURCE_OF, UNIT_OF
from floorclock.store.rows import AttendanceRow, PaceRow, ResultRow, SplitRow, StationRow
from floorclock.store.tables import attendance, classes, moves, paces, persons, results, splits, stations

WHEN = (classes.c.class_id, classes.c.started, classes.c.offset_minutes, classes.c.session)
CLASS = (
    *WHEN,
    classes.c.rehearsal,
    classes.c.source,
    classes.c.rest_margin_ms,
    classes.c.minutes,
    classes.c.ended,
    classes.c.damage,
    classes.c.athletes,
    classes.c.splits,
    classes.c.tapped,
    classes.c.not_finished,
    classes.c.forgotten,
    classes.c.home,
)
ATTENDANCE = (persons.c.name, attendance.c.minutes, attendance.c.effort)
SPLIT = (
    splits.c.person_no,
    splits.c.part,
    splits.c.interval,
    splits.c.round,
    splits.c.station,
    splits.c.amount,
    splits.c.unit,
    splits.c.window_ms,
    splits.c.margin_ms,
    splits.c.split_ms,
    splits.c.status,
    splits.c.flags,
)
PACE = (
    paces.c.person_no,
    paces.c.part,
    paces.c.station,
    paces.c.unit,
    paces.c.amount,
    paces.c.rounds,
    paces.c.tapped,
    paces.c.tight,
    paces.c.not_finished,
    paces.c.flags,
    paces.c.median_split_ms,
    paces.c.first_ms,
    paces.c.last_ms,
    paces.c.least_rest_ms,
    paces.c.slope_ms,
    paces.c.cv_percent,
    paces.c.level,
    paces.c.drift,
)
STATION = (
    stations.c.part,
    stations.c.station,
    stations.c.part_title,
    stations.c.kind,
    moves.c.name,
    stations.c.athletes,
    stations.c.tapped,
    stations.c.untapped,
    stations.c.tight,
    stations.c.fading,
    stations.c.runs_out,
    stations.c.not_finished,
    stations.c.median_split_ms,
    stations.c.median_rest_ms,
    stations.c.mean_drift,
)
RESULT = (
    results.c.person_no,
    results.c.part,
    results.c.title,
    results.c.kind,
    results.c.choice,
    results.c.time_ms,
    results.c.rounds,
    results.c.reps,
    results.c.not_finished,
)


def at_place(instant: datetime, offset_minutes: int) -> datetime:
    """An instant with the offset of its place."""
    return instant.astimezone(_zone(offset_minutes))


def class_line(row: Any) -> ClassLine:
    """From the columns of CLASS."""
    id_, started, offset, session, rehearsal, source, margin_ms, minutes, ended, damage, *counts = row
    athletes, split_count, tapped, not_finished, forgotten, home = counts
    return ClassLine(
        id=id_,
        started=at_place(started, offset),
        session=session,
        rehearsal=rehearsal,
        source=SOURCE_OF[source],
        rest_margin_ms=margin_ms,
        minutes=minutes,
        ended=ended,
        damage=damage,
        athletes=athletes,
        splits=split_count,
        tapped=tapped,
        not_finished=not_finished,
        forgotten=forgotten,
        home=home,
    )


def attendance_row(row: Any) -> AttendanceRow:
    """From the columns of ATTENDANCE."""
    name, minutes, effort = row
    return AttendanceRow(name=name, minutes=minutes, effort=effort)


def split_row(row: Any, name: str, move: str) -> SplitRow:
    """From the columns of SPLIT."""
    _, part, interval, round_, station, amount, unit, window_ms, margin_ms, split_ms, status, flags = row
    return SplitRow(
        name=name,
        part=part,
        interval=interval,
        round=round_,
        station=station,
        move=move,
        amount=_amount(amount),
        unit=UNIT_OF[unit],
        window_ms=window_ms,
        margin_ms=margin_ms,
        split_ms=split_ms,
        status=status,
        flags=flags,
    )


def pace_row(row: Any, name: str, move: str) -> PaceRow:
    """From the columns of PACE."""
    _, part, station, unit, amount, rounds, tapped, tight, not_finished, flags, median_ms, *measures = row
    first_ms, last_ms, least_rest_ms, slope_ms, cv_percent, level, drift = measures
    return PaceRow(
        name=name,
        part=part,
        station=station,
        move=move,
        unit=UNIT_OF[unit],
        amount=_amount(amount),
        rounds=rounds,
        tapped=tapped,
        tight=tight,
        not_finished=not_finished,
        flags=flags,
        median_split_ms=median_ms,
        first_ms=first_ms,
        last_ms=last_ms,
        least_rest_ms=least_rest_ms,
        slope_ms=slope_ms,
        cv_percent=cv_percent,
        level=level,
        drift=drift,
    )


def station_row(row: Any) -> StationRow:
    """From the columns of STATION."""
    part, station, title, kind, move, athletes, tapped, untapped, tight, fading, runs_out, not_finished, *measures = row
    median_split_ms, median_rest_ms, mean_drift = measures
    return StationRow(
        part=part,
        station=station,
        part_title=title,
        kind=KIND_OF[kind],
        move=move,
        athletes=athletes,
        tapped=tapped,
        untapped=untapped,
        tight=tight,
        fading=fading,
        runs_out=runs_out,
        not_finished=not_finished,
        median_split_ms=median_split_ms,
        median_rest_ms=median_rest_ms,
        mean_drift=mean_drift,
    )


def result_row(row: Any, name: str) -> ResultRow:
    """From the columns of RESULT."""
    _, part, title, kind, choice, time_ms, rounds, reps, not_finished = row
    return ResultRow(
        name=name,
        part=part,
        title=title,
        kind=KIND_OF[kind],
        choice=choice,
        time_ms=time_ms,
        rounds=rounds,
        reps=reps,
        not_finished=not_finished,
    )


@lru_cache(maxsize=1024)
def _zone(offset_minutes: int) -> timezone:
    return timezone(timedelta(minutes=offset_minutes))


@lru_cache(maxsize=4096)
def _amount(text: str | None) -> Fraction | None:
    return None if text is None else Fraction(text)
