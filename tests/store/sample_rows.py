"""Invented classes as rows: small by hand, and any at all for property tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from fractions import Fraction
from typing import Any, get_args, get_type_hints

from hypothesis import strategies as st

from floorclock.clock.splits import Split, Status
from floorclock.plan.session import PartKind, ScoreUnit
from floorclock.plan.work import LoadUnit, Unit
from floorclock.store.rows import AttendanceRow, ClassRows, JournalMark, LiftRow, PaceRow, ResultRow, StationRow

EVENING = datetime(2026, 3, 2, 18, 30, tzinfo=timezone(timedelta(hours=1)))
MINUTE_MS = 60_000
LATER = timedelta(days=1)


def split(name: str, interval: int = 0, *, split_ms: int | None = 31_000, move: str = "swing", part: int = 1) -> Split:
    return Split(
        athlete=name,
        part=part,
        interval=interval,
        round=interval + 1,
        station=0,
        move=move,
        amount=Fraction(25, 2),
        unit=Unit.CALORIES,
        window_ms=MINUTE_MS,
        margin_ms=15_000,
        split_ms=split_ms,
        status=Status.UNTAPPED if split_ms is None else Status.DONE,
    )


def pace(name: str, *, move: str = "swing", station: int = 0, tapped: int = 2) -> PaceRow:
    return PaceRow(
        name=name,
        part=1,
        station=station,
        move=move,
        unit=Unit.CALORIES,
        amount=Fraction(25, 2),
        rounds=2,
        tapped=tapped,
        not_finished=0,
        flags=2,
        median_split_ms=31_250.5,
        least_rest_ms=28_499,
        level=0.908,
        drift=0.0162,
    )


def station(*, move: str = "swing", number: int = 0) -> StationRow:
    return StationRow(
        part=1,
        station=number,
        part_title="The harbour",
        move=move,
        tapped=3,
        not_finished=0,
        median_rest_ms=29_000.0,
        mean_drift=0.02,
    )


def result(name: str) -> ResultRow:
    return ResultRow(
        name=name,
        part=3,
        title="Carry and sit",
        kind="for_time",
        choice="shorter",
        time_ms=401_200,
        rounds=3,
        reps=None,
        not_finished=False,
    )


def lift(name: str, *, heaviest: int = 60, shared_by: int = 1) -> LiftRow:
    amount = Fraction(20 * heaviest)
    return LiftRow(
        name=name,
        move="squat",
        reps=Fraction(20),
        amount=amount,
        heaviest=Fraction(heaviest),
        unit=LoadUnit.KG,
        shared_by=shared_by,
    )


def a_class(number: int, *names: str, **changes: object) -> ClassRows:
    """Class `number` starts that many days after the first evening; everybody in it taps twice and untapped is the third."""
    started = EVENING + number * LATER
    made = ClassRows(
        id=f"{started:%Y%m%d-%H%M}-{number:04x}",
        started=started,
        session="Five trips round the harbour",
        rehearsal=False,
        mark=JournalMark(size=4096 + number, mtime_ns=1_771_000_000_000_000_000 + number),
        attendance=tuple(AttendanceRow(name=name, minutes=58.5, effort=6.5) for name in names),
        splits=tuple(
            split(name, place, split_ms=split_ms) for name in names for place, split_ms in enumerate((31_000, 31_501, None))
        ),
        paces=tuple(pace(name) for name in names),
        stations=(station(),) if names else (),
        results=tuple(result(name) for name in names),
        lifts=tuple(lift(name) for name in names),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def in_key_order(rows: ClassRows) -> ClassRows:
    """The same class with its rows in the order in which the store gives them back."""
    return replace(
        rows,
        attendance=tuple(sorted(rows.attendance, key=lambda row: row.name)),
        splits=tuple(sorted(rows.splits, key=lambda row: (row.athlete, row.part, row.interval))),
        paces=tuple(sorted(rows.paces, key=lambda row: (row.name, row.part, row.station, row.move, row.unit or ""))),
        stations=tuple(sorted(rows.stations, key=lambda row: (row.part, row.station))),
        results=tuple(sorted(rows.results, key=lambda row: (row.name, row.part))),
        lifts=tuple(sorted(rows.lifts, key=lambda row: (row.name, row.move))),
    )


# Any text at all: what a database cannot hold (NUL, half a surrogate pair) is among it on purpose.
_HARD = ("Ilka", "ilka", "Ilka\x00", "\ud800", "\x100000", "'; DROP TABLE split; --", "%s")
names = st.text(max_size=20) | st.sampled_from(_HARD)
_counts = st.integers(0, 2**31 - 1)
_weights = st.fractions(min_value=0, max_value=10**6)
_of_type: dict[Any, st.SearchStrategy[Any]] = {
    str: names,
    int: _counts,
    float: st.floats(allow_nan=False, allow_infinity=False),
    bool: st.booleans(),
    Fraction: _weights,
    Unit: st.sampled_from(Unit),
    LoadUnit: st.sampled_from((LoadUnit.KG, LoadUnit.LB)),
    Status: st.sampled_from(Status),
    PartKind: st.sampled_from(get_args(PartKind)),
    ScoreUnit: st.sampled_from(get_args(ScoreUnit)),
    tuple[tuple[int, Fraction], ...]: st.lists(st.tuples(st.integers(-1, 2**31 - 1), _weights), max_size=3).map(tuple),
}
_of_type |= {kind | None: st.none() | found for kind, found in _of_type.items()}
_of_name = dict.fromkeys(("part", "station", "flags"), st.integers(0, 2**15 - 1))
"""Their columns are narrow."""


def some(row: type, most: int, key: Callable[[Any], object]) -> st.SearchStrategy[Any]:
    """At most so many rows with different keys, whatever their fields can hold; a field of no such type has no column."""
    fields = {name: _of_name.get(name, _of_type[kind]) for name, kind in get_type_hints(row).items() if kind in _of_type}
    return st.lists(st.builds(row, **fields), max_size=most, unique_by=key).map(tuple)


_offsets = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
any_class = st.builds(
    ClassRows,
    id=st.sampled_from(["20260302-1830-0001", "20260302-1830-0002", "20260302-1830-0003"]),
    started=st.datetimes(datetime(1970, 1, 2), datetime(2199, 1, 1), timezones=_offsets),
    session=names,
    rehearsal=st.booleans(),
    mark=st.builds(JournalMark, size=st.integers(0, 2**63 - 1), mtime_ns=st.integers(0, 2**63 - 1)),
    home=names,
    attendance=some(AttendanceRow, 3, lambda row: row.name),
    splits=some(Split, 4, lambda row: (row.athlete, row.part, row.interval)),
    paces=some(PaceRow, 3, lambda row: (row.name, row.move, row.unit, row.part, row.station)),
    stations=some(StationRow, 2, lambda row: (row.part, row.station)),
    results=some(ResultRow, 2, lambda row: (row.name, row.part)),
    lifts=some(LiftRow, 2, lambda row: (row.name, row.move)),
)
