"""Invented classes as rows: small by hand, and any at all for property tests."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from fractions import Fraction
from typing import get_args

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
_small = st.integers(0, 2**15 - 1)
_real = st.floats(allow_nan=False, allow_infinity=False)
_weights = st.fractions(min_value=0, max_value=10**6)
_amounts = st.none() | _weights
_units = st.none() | st.sampled_from(Unit)
_kinds: st.SearchStrategy[PartKind] = st.sampled_from(get_args(PartKind))
_splits = st.builds(
    Split,
    athlete=names,
    part=_small,
    interval=_counts,
    round=_counts,
    station=_small,
    move=names,
    amount=_amounts,
    unit=_units,
    window_ms=_counts,
    margin_ms=_counts,
    split_ms=st.none() | _counts,
    status=st.sampled_from(Status),
    credited=st.booleans(),
    corrected=st.booleans(),
)
_paces = st.builds(
    PaceRow,
    name=names,
    part=_small,
    station=_small,
    move=names,
    unit=_units,
    amount=_amounts,
    target=_amounts,
    rounds=_counts,
    tapped=_counts,
    not_finished=_counts,
    flags=_small,
    median_split_ms=st.none() | _real,
    least_rest_ms=st.none() | _counts,
    level=st.none() | _real,
    drift=st.none() | _real,
)
_stations = st.builds(
    StationRow,
    part=_small,
    station=_small,
    part_title=names,
    move=names,
    tapped=_counts,
    not_finished=_counts,
    median_rest_ms=st.none() | _real,
    mean_drift=st.none() | _real,
)
_results = st.builds(
    ResultRow,
    name=names,
    part=_small,
    title=names,
    kind=_kinds,
    choice=names,
    time_ms=st.none() | _counts,
    rounds=st.none() | _counts,
    reps=st.none() | _counts,
    not_finished=st.booleans(),
    score_unit=st.none() | st.sampled_from(get_args(ScoreUnit)),
    scores=st.lists(st.tuples(st.integers(-1, 2**31 - 1), _weights), max_size=3).map(tuple),
)
_lifts = st.builds(
    LiftRow,
    name=names,
    move=names,
    reps=_weights,
    amount=_weights,
    heaviest=_weights,
    unit=st.sampled_from((LoadUnit.KG, LoadUnit.LB)),
    shared_by=_counts,
)
_offsets = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
any_class = st.builds(
    ClassRows,
    id=st.sampled_from(["20260302-1830-0001", "20260302-1830-0002", "20260302-1830-0003"]),
    started=st.datetimes(datetime(1970, 1, 2), datetime(2199, 1, 1), timezones=_offsets),
    session=names,
    rehearsal=st.booleans(),
    mark=st.builds(JournalMark, size=st.integers(0, 2**63 - 1), mtime_ns=st.integers(0, 2**63 - 1)),
    home=names,
    attendance=st.lists(
        st.builds(AttendanceRow, name=names, minutes=_real, effort=st.none() | _real), max_size=3, unique_by=lambda row: row.name
    ).map(tuple),
    splits=st.lists(_splits, max_size=4, unique_by=lambda row: (row.athlete, row.part, row.interval)).map(tuple),
    paces=st.lists(_paces, max_size=3, unique_by=lambda row: (row.name, row.move, row.unit, row.part, row.station)).map(tuple),
    stations=st.lists(_stations, max_size=2, unique_by=lambda row: (row.part, row.station)).map(tuple),
    results=st.lists(_results, max_size=2, unique_by=lambda row: (row.name, row.part)).map(tuple),
    lifts=st.lists(_lifts, max_size=2, unique_by=lambda row: (row.name, row.move)).map(tuple),
)
