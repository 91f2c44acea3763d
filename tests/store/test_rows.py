"""A journal as rows, held against the clock and the pace rooms one by one, and against scipy."""

from __future__ import annotations

import functools
import math
from fractions import Fraction
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from floorclock.clock.events import ClassEnded, Event, OptionChosen, PartBegun, ScoreEntered, Tapped, TargetChanged
from floorclock.clock.splits import Split, Status
from floorclock.clock.tally import results, splits
from floorclock.journal.reading import header_line, read_bytes
from floorclock.pace.flags import Flag
from floorclock.pace.load import session_loads
from floorclock.plan.work import Target, Unit
from floorclock.store.rows import ClassRows, PaceRow, class_rows
from tests.journal.sample_class import class_of
from tests.store.sample_journals import NAMES, NO_PLAN, events, flags_one_by_one, header, journal, kinds_of

SEEDS = range(16)


def rows_of(data: bytes) -> ClassRows:
    found = class_rows(data, "20261125-1831-7f3a")
    assert found is not None
    return found


@functools.cache
def rows_for(seed: int, *, calm: bool = False) -> tuple[ClassRows, bytes]:
    data = journal("20261125-1831-7f3a", events(seed, calm=calm))
    return rows_of(data), data


@pytest.mark.parametrize("calm", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_splits_are_those_of_the_clock(seed: int, calm: bool) -> None:
    rows, data = rows_for(seed, calm=calm)
    assert rows.splits == splits(class_of(data))


def test_the_invented_classes_have_of_everything() -> None:
    """Otherwise the comparisons above and below would prove little."""
    seen = [row for seed in SEEDS for calm in (True, False) for row in rows_for(seed, calm=calm)[0].splits]
    assert {row.status for row in seen} == set(Status)
    bits = [row.flags for seed in SEEDS for calm in (True, False) for row in rows_for(seed, calm=calm)[0].paces]
    assert all(any(row & 1 << list(Flag).index(flag) for row in bits) for flag in (Flag.TIGHT, Flag.FADING, Flag.NOT_FINISHED))
    assert any(row.split_ms == row.window_ms for row in seen), "a credited tap"
    assert len({row.amount for row in seen if row.move == "row"}) > 2, "a changed target"
    assert any(row.move == "low step" for row in seen), "an option"


@pytest.mark.parametrize("calm", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_figures_of_an_athlete_are_those_of_their_splits(seed: int, calm: bool) -> None:
    rows, data = rows_for(seed, calm=calm)
    state = class_of(data)
    found = {(row.name, row.part, row.station, row.move, row.unit): row for row in rows.paces}
    kinds, raised = list(kinds_of(state)), flags_one_by_one(state)
    assert len(found) == len(rows.paces) == len(kinds)
    for here in kinds:
        last = here[-1]
        row = found[last.athlete, last.part, last.station, last.move, last.unit]
        taken = [split.split_ms for split in here if split.split_ms is not None]
        assert (row.rounds, row.tapped, row.amount) == (len(here), len(taken), last.amount)
        assert row.not_finished == sum(split.status is Status.NOT_FINISHED for split in here)
        assert row.least_rest_ms == min((split.rest_ms for split in here if split.rest_ms is not None), default=None)
        assert row.median_split_ms == (median(taken) if taken else None)
        own = {flag for split in here for flag in raised.get((split.athlete, split.part, split.interval), ())}
        assert {flag for place, flag in enumerate(Flag) if row.flags & 1 << place} == own
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
        assert one.tapped == len(tapped)
        assert one.not_finished == len({row.athlete for row in here if row.status is Status.NOT_FINISHED})
        assert one.median_rest_ms == (median(row.window_ms - (row.split_ms or 0) for row in tapped) if tapped else None)
        drifts = [row.drift for row in rows.paces if (row.part, row.station) == (one.part, one.station) and row.drift is not None]
        assert one.mean_drift == (pytest.approx(sum(drifts) / len(drifts), abs=1e-12) if drifts else None)


@pytest.mark.parametrize("seed", SEEDS)
def test_results_and_attendance_are_those_of_the_class(seed: int) -> None:
    rows, data = rows_for(seed)
    state = class_of(data)
    assert [(row.name, row.part, row.time_ms, row.rounds, row.reps, row.not_finished) for row in rows.results] == [
        (one.athlete, one.part, one.time_ms, one.rounds, one.reps, one.not_finished) for one in results(state)
    ]
    assert [(row.name, row.minutes, row.effort) for row in rows.attendance] == [
        (load.name, load.minutes, load.effort) for load in session_loads(state) if load.minutes > 0 or load.effort is not None
    ]


def test_damage_costs_the_damaged_lines_and_no_others() -> None:
    data = journal("20261125-1831-7f3a", events(1, calm=True))
    lines = data.splitlines(keepends=True)
    lines[40] = b"\xff\xfe nothing\r\n"
    lines[60] = lines[60].replace(b'"at_ms":', b'"at_ms":1')
    damaged = b"".join(lines) + lines[-1][:30]
    rows, state = rows_of(damaged), class_of(damaged)
    assert rows.splits == splits(state)
    assert len(read_bytes(damaged).damage) == 2


def test_a_plan_that_cannot_be_read_leaves_the_class_without_splits() -> None:
    rows = rows_of(journal("20261125-1831-7f3a", events(1), session_text=NO_PLAN))
    assert (rows.session, rows.splits, rows.attendance) == ("Quay and back", (), ())


def test_a_class_nobody_was_tapped_in_has_its_people_and_no_figures() -> None:
    told = [PartBegun(at_ms=0, part=0), ClassEnded(at_ms=120_000)]
    rows = rows_of(journal("20261125-1831-7f3a", told))
    assert [(row.name, row.minutes) for row in rows.attendance] == [(name, 2.0) for name in NAMES]
    assert (rows.splits, rows.paces, rows.stations, rows.results) == ((), (), (), ())


def test_a_class_that_never_began_had_nobody_in_it() -> None:
    assert rows_of(journal("20261125-1831-7f3a", [])).attendance == ()


@pytest.mark.parametrize("data", [b"", b"\n", b"{}\n", b'{"v":1,"event":"opened"', b"\x00\xff\n\n"])
def test_what_says_nothing_of_a_class_is_none(data: bytes) -> None:
    assert class_rows(data, "20261125-1831-7f3a") is None


@given(st.data())
def test_no_bytes_make_it_raise(data: st.DataObject) -> None:
    whole = bytearray(journal("20261125-1831-7f3a", events(3, calm=True)[:60]))
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(whole) - 1))
        if data.draw(st.booleans()):
            whole[at] = data.draw(st.integers(0, 255))
        else:
            del whole[at : at + data.draw(st.integers(1, 400))]
            whole += b"{"
    rows = class_rows(bytes(whole), "20261125-1831-7f3a")
    assert (rows is None) == (read_bytes(bytes(whole)).header is None)


def test_the_target_that_stood_at_the_end_is_told_where_they_still_did_the_move() -> None:
    changed = TargetChanged(at_ms=60_000, athlete="Ilka", move="step-up", target=Target(Fraction(8), Unit.REPS))
    other = OptionChosen(at_ms=60_000, athlete="Bråm", move="step-up", option="lower")
    told = [PartBegun(at_ms=0, part=0), PartBegun(at_ms=0, part=1), changed, other, ClassEnded(at_ms=500_000)]
    found = {(row.name, row.move): row.target for row in rows_of(journal("20261125-1831-7f3a", told)).paces}
    assert found["Ilka", "step-up"] == 8
    assert found["Нура", "step-up"] == 10
    assert found["Bråm", "low step"] == 8
    assert found["Ilka", "press"] == 5, "a ladder is told by its first step"


LOADED = """\
session: Lifts
count_in: 0
parts:
  - kind: rotation
    every: 1:00
    rounds: 3
    stations: [{move: squat, target: 5 reps, load: 60 kg}]
  - {kind: intervals, work: 0:20, rest: 0:10, sets: 2, score: reps, stations: [{move: press, target: max reps, load: 20 kg}]}
"""


def test_what_was_lifted_and_counted_is_in_the_rows() -> None:
    told: list[Event] = [
        PartBegun(at_ms=0, part=0),
        *(Tapped(at_ms=at_ms, athlete="Ilka") for at_ms in (30_000, 90_000)),
        PartBegun(at_ms=180_000, part=1),
        ScoreEntered(at_ms=205_000, athlete="Ilka", part=1, interval=0, amount=14),
        ClassEnded(at_ms=300_000),
    ]
    rows = rows_of(journal("20261125-1831-7f3a", told, session_text=LOADED))
    assert {(row.name, row.move, float(row.reps), float(row.amount), float(row.heaviest)) for row in rows.lifts} == {
        ("Ilka", "squat", 10, 600, 60),
        ("Ilka", "press", 14, 280, 20),
    }
    assert [(row.name, row.score_unit, dict(row.scores)) for row in rows.results] == [("Ilka", "reps", {1: Fraction(14)})]


def test_a_rehearsal_is_one_in_its_rows() -> None:
    assert rows_of(header_line(header("20261125-1831-7f3a", rehearsal=True))).rehearsal
