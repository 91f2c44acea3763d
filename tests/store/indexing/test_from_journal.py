"""A journal as rows, held against the clock and the pace rooms one by one, and against scipy."""

from __future__ import annotations

import math
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from floorclock.clock.events import ClassEnded, PartBegun
from floorclock.clock.splits import Split, Status
from floorclock.clock.state import new_state
from floorclock.clock.tally import results, splits
from floorclock.digest.figures import athlete_figures
from floorclock.journal.reading import read_bytes
from floorclock.pace.flags import Flag, is_tight
from floorclock.pace.load import session_loads
from floorclock.store.indexing import class_rows
from floorclock.store.indexing.quick_fold import fold_quickly
from floorclock.store.indexing.quick_reading import read_quickly
from floorclock.store.rows import ClassRows, PaceRow
from tests.store.indexing.classes import NAMES, NO_PLAN, events, flags_one_by_one, folded, header, journal, kinds_of

SEEDS = range(40)
STATUS = {Status.DONE: 0, Status.UNTAPPED: 1, Status.NOT_FINISHED: 2}


def rows_of(data: bytes) -> ClassRows:
    found = class_rows(data, "20261125-1831-7f3a")
    assert found is not None
    return found


def rows_for(seed: int, *, calm: bool = False) -> tuple[ClassRows, bytes]:
    data = journal("20261125-1831-7f3a", events(seed, calm=calm))
    return rows_of(data), data


@pytest.mark.parametrize("calm", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_quick_fold_gives_the_state_that_the_fold_gives(seed: int, calm: bool) -> None:
    data = journal("20261125-1831-7f3a", events(seed, calm=calm))
    told, state = read_quickly(data), folded(data)
    assert told is not None
    quick = fold_quickly(new_state(state.session, told.header.roster.athletes, told.header.rest_margin_ms), told.events)
    for one, other in zip(quick.runs, state.runs, strict=True):
        names = ("status", "split_ms", "move", "amount", "unit", "credited", "corrected")
        assert {at: [getattr(mark, name) for name in names] for at, mark in one.marks.items()} == {
            at: [getattr(mark, name) for name in names] for at, mark in other.marks.items()
        }
        one.marks = other.marks = {}
    assert [(tap.athlete, tap.part, tap.interval, tap.at_ms, tap.lap_ms) for tap in quick.taken] == [
        (tap.athlete, tap.part, tap.interval, tap.at_ms, tap.lap_ms) for tap in state.taken
    ]
    quick.taken, state.taken = [], []
    assert quick == state


@pytest.mark.parametrize("calm", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_splits_are_those_of_the_clock_with_the_flags_of_pace(seed: int, calm: bool) -> None:
    rows, data = rows_for(seed, calm=calm)
    state = folded(data)
    raised = flags_one_by_one(state)
    wanted = [
        (
            one.athlete,
            one.part,
            one.interval,
            one.round,
            one.station,
            one.move,
            one.amount,
            one.unit,
            one.window_ms,
            one.margin_ms,
            one.split_ms,
            STATUS[one.status],
            sum(1 << list(Flag).index(flag) for flag in raised.get((one.athlete, one.part, one.interval), ())),
        )
        for one in splits(state)
    ]
    names = [
        "name",
        "part",
        "interval",
        "round",
        "station",
        "move",
        "amount",
        "unit",
        "window_ms",
        "margin_ms",
        "split_ms",
        "status",
        "flags",
    ]
    assert [tuple(getattr(row, name) for name in names) for row in rows.splits] == wanted


def test_the_invented_classes_have_of_everything() -> None:
    """Otherwise the comparisons above and below would prove little."""
    seen = [row for seed in SEEDS for calm in (True, False) for row in rows_for(seed, calm=calm)[0].splits]
    assert {row.status for row in seen} == {0, 1, 2}
    bits = {row.flags for row in seen}
    assert {1 << list(Flag).index(flag) for flag in (Flag.TIGHT, Flag.FADING, Flag.NOT_FINISHED)} <= bits
    assert any(row.split_ms == row.window_ms for row in seen), "a credited tap"
    assert len({row.amount for row in seen if row.move == "row"}) > 2, "a changed target"
    assert any(row.move == "low step" for row in seen), "an option"


@pytest.mark.parametrize("calm", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_figures_of_an_athlete_are_those_of_pace(seed: int, calm: bool) -> None:
    rows, data = rows_for(seed, calm=calm)
    found = {(row.name, row.part, row.station, row.move, row.unit): row for row in rows.paces}
    kinds = list(kinds_of(folded(data)))
    assert len(found) == len(rows.paces) == len(kinds)
    for here in kinds:
        last, figures = here[-1], athlete_figures(here[0].station, "", here)
        row = found[last.athlete, last.part, last.station, last.move, last.unit]
        taken = [one.split_ms for one in here if one.split_ms is not None]
        assert (row.rounds, row.tapped, row.amount) == (len(here), len(taken), last.amount)
        assert row.tight == sum(is_tight(one) for one in here)
        assert row.not_finished == sum(one.status is Status.NOT_FINISHED for one in here)
        assert (row.first_ms, row.last_ms) == ((taken[0], taken[-1]) if taken else (None, None))
        assert row.least_rest_ms == min((one.rest_ms for one in here if one.rest_ms is not None), default=None)
        for own, known in (
            (row.median_split_ms, figures.median_split_ms),
            (row.slope_ms, figures.slope_ms),
            (row.cv_percent, figures.cv_percent),
        ):
            assert own == (None if known is None else pytest.approx(known, rel=1e-12, abs=1e-9))
        _check_line(row, here)


def _check_line(row: PaceRow, here: list[Split]) -> None:
    """Outside check: Sen's slope by scipy (`scipy.stats.theilslopes`, its joint intercept, at round 1)."""
    points = [(one.round - 1, math.log(one.split_ms / 1000 / float(one.amount))) for one in here if one.split_ms and one.amount]
    if len({x for x, _ in points}) > 1:
        # Its stubs do not know "joint", which it takes.
        fit = theilslopes([y for _, y in points], [x for x, _ in points], method="joint")  # type: ignore[call-overload]
        assert row.drift == pytest.approx(fit.slope, rel=1e-9, abs=1e-12)
        assert row.level == pytest.approx(fit.intercept, rel=1e-9)
    else:
        assert row.drift is None
        assert row.level == (pytest.approx(median(y for _, y in points)) if points else None)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_station_counts_its_athletes_and_their_splits(seed: int) -> None:
    rows, _ = rows_for(seed)
    assert {(row.part, row.station) for row in rows.stations} == {(row.part, row.station) for row in rows.splits}
    for one in rows.stations:
        here = [row for row in rows.splits if (row.part, row.station) == (one.part, one.station)]
        tapped = [row for row in here if row.split_ms is not None]
        assert one.athletes == len({row.name for row in here})
        assert (one.tapped, one.untapped) == (len(tapped), sum(row.status == 1 for row in here))
        for flag, count in ((Flag.TIGHT, one.tight), (Flag.FADING, one.fading), (Flag.NOT_FINISHED, one.not_finished)):
            assert count == len({row.name for row in here if row.flags & 1 << list(Flag).index(flag)})
        assert one.runs_out == 0
        assert one.median_split_ms == (median(row.split_ms or 0 for row in tapped) if tapped else None)
        assert one.median_rest_ms == (median(row.window_ms - (row.split_ms or 0) for row in tapped) if tapped else None)
        drifts = [row.drift for row in rows.paces if (row.part, row.station) == (one.part, one.station) and row.drift is not None]
        assert one.mean_drift == (pytest.approx(sum(drifts) / len(drifts), abs=1e-12) if drifts else None)


@pytest.mark.parametrize("seed", SEEDS)
def test_results_and_attendance_are_those_of_the_class(seed: int) -> None:
    rows, data = rows_for(seed)
    state = folded(data)
    assert [(row.name, row.part, row.time_ms, row.rounds, row.reps, row.not_finished) for row in rows.results] == [
        (one.athlete, one.part, one.time_ms, one.rounds, one.reps, one.not_finished) for one in results(state)
    ]
    assert [(row.name, row.minutes, row.effort) for row in rows.attendance] == [
        (one.name, one.minutes, one.effort) for one in session_loads(state) if one.minutes > 0 or one.effort is not None
    ]
    assert rows.ended == any(isinstance(event, ClassEnded) for event in read_bytes(data).events)


def test_damage_costs_the_damaged_lines_and_no_others() -> None:
    data = journal("20261125-1831-7f3a", events(1, calm=True))
    lines = data.splitlines(keepends=True)
    lines[40] = b"\xff\xfe nothing\r\n"
    lines[60] = lines[60].replace(b'"at_ms":', b'"at_ms":1')
    damaged = b"".join(lines) + lines[-1][:30]
    rows, state = rows_of(damaged), folded(damaged)
    assert [(row.name, row.part, row.interval, row.split_ms) for row in rows.splits] == [
        (one.athlete, one.part, one.interval, one.split_ms) for one in splits(state)
    ]
    assert rows.damage == len(read_bytes(damaged).damage) == 2


def test_a_plan_that_cannot_be_read_leaves_the_class_without_splits() -> None:
    rows = rows_of(journal("20261125-1831-7f3a", events(1), session_text=NO_PLAN))
    assert (rows.session, rows.damage, rows.splits, rows.attendance) == ("Quay and back", 1, (), ())


def test_a_class_nobody_was_tapped_in_has_its_people_and_no_figures() -> None:
    told = [PartBegun(at_ms=0, part=0), ClassEnded(at_ms=120_000)]
    rows = rows_of(journal("20261125-1831-7f3a", told))
    assert [(row.name, row.minutes) for row in rows.attendance] == [(name, 2.0) for name in NAMES]
    assert (rows.splits, rows.paces, rows.stations, rows.results, rows.minutes) == ((), (), (), (), 2.0)


def test_a_class_that_never_began_had_nobody_in_it() -> None:
    assert rows_of(journal("20261125-1831-7f3a", [])).attendance == ()


@pytest.mark.parametrize("data", [b"", b"\n", b"{}\n", b'{"v":1,"event":"opened"', b"\x00\xff\n\n"])
def test_what_says_nothing_of_a_class_is_none(data: bytes) -> None:
    assert class_rows(data, "20261125-1831-7f3a") is None


@given(st.data())
def test_no_bytes_make_it_raise_and_damage_never_parts_it_from_the_reader(data: st.DataObject) -> None:
    whole = bytearray(journal("20261125-1831-7f3a", events(3, calm=True)[:60]))
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(whole) - 1))
        if data.draw(st.booleans()):
            whole[at] = data.draw(st.integers(0, 255))
        else:
            del whole[at : at + data.draw(st.integers(1, 400))]
            whole += b"{"
    reading, rows = read_bytes(bytes(whole)), class_rows(bytes(whole), "20261125-1831-7f3a")
    assert (rows is None) == (reading.header is None)
    told = read_quickly(bytes(whole))
    if told is not None:
        assert told.damage == len(reading.damage)
        assert [one if isinstance(one, tuple) else (one.at_ms, getattr(one, "athlete", "")) for one in told.events] == [
            (one.at_ms, getattr(one, "athlete", "")) for one in reading.events
        ]


def test_paper_a_rehearsal_a_margin_and_who_was_forgotten_stand_in_the_row() -> None:
    from floorclock.journal.lines import encode

    told = header("20261125-1831-7f3a", paper=True, rehearsal=True, rest_margin_ms=7_000)
    rows = rows_of(encode({**told.to_dict(), "forgotten": 2}))
    assert (rows.source, rows.rehearsal, rows.rest_margin_ms, rows.forgotten) == ("paper", True, 7_000, 2)
