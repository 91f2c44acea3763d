"""Timelines against published totals, beats and shuttle tables, and the rules of where cues go."""

from __future__ import annotations

from fractions import Fraction

import pytest

from floorclock.clock.cues import CueName
from floorclock.clock.sheet import planned_ms, run_sheet
from floorclock.clock.timeline import IntervalKind, PartTimeline, part_timeline
from floorclock.plan.session import Amrap, AnyPart, Cues, ForTime, Intervals, OpenPart, Paced, Rotation, Session, Shuttle, Stage
from floorclock.plan.work import REST, Station
from tests.checks.reading import rows
from tests.clock.classes import ROW, STEP, SWING, harbour, session_of

PROTOCOLS = rows("protocols.csv")
CADENCES = [row for row in rows("cadence.csv") if row["metronome_bpm"]]
TIMED_CADENCES = [row for row in CADENCES if row["duration_s"] and row["total_reps"]]
SHUTTLE = rows("shuttle.csv")
VARIANTS = ("8.5_start", "8.0_start")


def timeline(part: AnyPart, groups: tuple[int, ...] = (1,), **values: int) -> PartTimeline:
    return part_timeline(part, session_of(part, **values), groups)


def times(made: PartTimeline, name: CueName) -> list[int]:
    return [cue.at_ms for cue in made.cues if cue.name is name]


def protocol(row: dict[str, str], *, final_rest: bool = False) -> Intervals:
    return Intervals(
        title=row["protocol"],
        work_ms=int(row["work_s"]) * 1000,
        rest_ms=int(row["rest_s"]) * 1000,
        sets=int(row["n"]),
        work=(SWING,),
        final_rest=final_rest,
    )


@pytest.mark.parametrize("row", PROTOCOLS, ids=lambda row: f"{row['protocol']} x{row['n']}")
def test_a_published_protocol_takes_its_published_total(row: dict[str, str]) -> None:
    """tests/checks/protocols.csv (each row names its paper): n work and n - 1 rest; with the final rest, n of each."""
    made, full = timeline(protocol(row)), timeline(protocol(row, final_rest=True))
    assert made.length_ms == made.intervals[-1].end_ms == Fraction(row["total_a_s"]) * 1000
    assert full.length_ms == full.intervals[-1].end_ms == Fraction(row["total_b_s"]) * 1000
    assert (len(made.intervals), len(full.intervals)) == (2 * int(row["n"]) - 1, 2 * int(row["n"]))
    assert len(times(made, CueName.GO)) == int(row["n"])


@pytest.mark.parametrize("row", PROTOCOLS, ids=lambda row: f"{row['protocol']} x{row['n']}")
def test_a_protocol_with_its_warm_up_and_cool_down_takes_its_full_time(row: dict[str, str]) -> None:
    warm, cool = (OpenPart(title=name, time_ms=int(row[name]) * 1000) for name in ("warm_s", "cool_s"))
    sheet = run_sheet(Session(title="A day", parts=(warm, protocol(row), cool)))
    assert sum(planned_ms(item) for item in sheet) == Fraction(row["full_s"]) * 1000


def test_a_block_of_30_20_10_is_five_minutes_as_published() -> None:
    """Five times 30 s, 20 s and 10 s (J Appl Physiol 113:16-24, as quoted in protocols.csv): a rotation of 10 s steps."""
    easy, brisk, fast = (Station(move=move) for move in ("easy run", "brisk run", "sprint"))
    block = timeline(Rotation(title="Block", every_ms=10_000, rounds=5, work=(easy, easy, easy, brisk, brisk, fast)))
    published = [row for row in PROTOCOLS if "10-20-30" in row["protocol"]]
    assert len(published) == 3
    assert {block.length_ms} == {int(row["work_s"]) * 1000 for row in published}


@pytest.mark.parametrize("row", TIMED_CADENCES, ids=lambda row: row["test"])
def test_a_cadenced_test_has_its_beats_and_reps_as_published(row: dict[str, str]) -> None:
    """tests/checks/cadence.csv: the k-th beat at k * 60,000 / bpm, from 0, and beats for the published number of reps."""
    bpm, per_rep, length = Fraction(row["metronome_bpm"]), int(row["beats_per_rep"]), int(row["duration_s"]) * 1000
    part = Paced(title=row["test"], beats_per_minute=bpm, beats_per_rep=per_rep, time_ms=length)
    beats = times(timeline(part), CueName.PACE)
    assert beats == [round(k * Fraction(60_000) / bpm) for k in range(int(row["total_reps"]) * per_rep)]
    assert (beats[0], timeline(part).length_ms) == (0, length)
    assert beats[-1] < length


@pytest.mark.parametrize("row", CADENCES, ids=lambda row: row["test"])
def test_one_rep_of_a_cadenced_test_takes_its_published_time(row: dict[str, str]) -> None:
    part = Paced(title=row["test"], beats_per_minute=Fraction(row["metronome_bpm"]), time_ms=600_000)
    beats = times(timeline(part), CueName.PACE)
    reps = beats[:: int(row["beats_per_rep"])]
    assert (reps[-1] - reps[0]) / (len(reps) - 1) == pytest.approx(float(row["s_per_rep"]) * 1000, abs=0.06)


def test_the_five_stages_of_the_rising_step_test_make_250_steps_in_600_seconds() -> None:
    """cadence.csv: 15 steps a minute and 5 more every 2 min; 250 steps, 600 s."""
    stages = [row for row in TIMED_CADENCES if row["test"].startswith("Chester")]
    parts = [
        Paced(title=row["test"], beats_per_minute=Fraction(row["metronome_bpm"]), time_ms=int(row["duration_s"]) * 1000)
        for row in stages
    ]
    assert len(stages) == 5
    assert sum(len(times(timeline(part), CueName.PACE)) for part in parts) == 250 * 4
    assert sum(timeline(part).length_ms or 0 for part in parts) == 600_000


def test_a_partial_curl_up_at_its_limit_ends_after_225_seconds() -> None:
    """cadence.csv, NSCA test 13.11: 40 beats a minute, 2 a rep, at most 75 reps (= 225 s)."""
    part = Paced(title="Curl-up", beats_per_minute=Fraction(40), beats_per_rep=2, time_ms=225_000)
    assert len(times(timeline(part), CueName.PACE)) == 75 * 2


def ladder(variant: str) -> tuple[list[dict[str, str]], Paced]:
    levels = [row for row in SHUTTLE if row["variant"] == variant]
    stages = tuple(Stage(Fraction(row["speed_kmh"]), int(row["shuttles"])) for row in levels)
    return levels, Paced(title="Shuttle", shuttle=Shuttle(Fraction(20), stages))


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_20_m_shuttle_run_ends_every_level_at_its_tabled_time(variant: str) -> None:
    """tests/checks/shuttle.csv (speeds: Leger et al. 1988), to the millisecond."""
    levels, part = ladder(variant)
    made = timeline(part)
    assert [interval.end_ms for interval in made.intervals] == [Fraction(row["cum_s"]) * 1000 for row in levels]
    assert [interval.start_ms for interval in made.intervals[1:]] == [interval.end_ms for interval in made.intervals[:-1]]


@pytest.mark.parametrize("variant", VARIANTS)
def test_every_one_of_the_247_shuttles_ends_at_the_exact_sum_rounded_once(variant: str) -> None:
    levels, part = ladder(variant)
    each = [Fraction(72) / Fraction(row["speed_kmh"]) for row in levels for _ in range(int(row["shuttles"]))]
    ends = times(timeline(part), CueName.SHUTTLE)
    assert len(ends) == 247
    assert ends == [round(1000 * sum(each[: k + 1])) for k in range(247)]
    for row in levels:
        assert Fraction(ends[int(row["cum_shuttles"]) - 1], 1000) == Fraction(row["cum_s"])


@pytest.mark.parametrize(("level", "shuttle", "published_s"), [(7, 5, 411), (16, 3, 959.5)])
def test_the_school_variant_is_within_half_a_second_of_published_marks(level: int, shuttle: int, published_s: float) -> None:
    """Level 7.5 after 6:51 and 16.3 after 15:59.5 (secondary page named in shuttle.csv; published from rounded beeps)."""
    levels, part = ladder("8.0_start")
    done = sum(int(row["shuttles"]) for row in levels[: level - 1]) + shuttle
    assert times(timeline(part), CueName.SHUTTLE)[done - 1] / 1000 == pytest.approx(published_s, abs=0.5)


def test_a_rotation_keeps_its_full_last_interval_and_counts_rounds_from_one() -> None:
    made = timeline(harbour(rounds=5))
    assert made.length_ms == 15 * 60_000
    assert [interval.round for interval in made.intervals] == [number for number in range(1, 6) for _ in range(3)]
    assert made.interval_at(14 * 60_000 + 59_999) == 14
    assert made.interval_at(15 * 60_000) is None
    assert made.interval_at(-1) is None


def test_a_rotation_for_a_time_has_as_many_intervals_as_fit() -> None:
    part = Rotation(title="Twenty", every_ms=60_000, for_ms=20 * 60_000, work=(SWING, STEP, REST))
    assert len(timeline(part).intervals) == 20


def test_an_interval_is_a_rest_only_when_every_start_group_rests() -> None:
    alone = [interval.kind for interval in timeline(harbour(rounds=1)).intervals]
    lanes = [interval.kind for interval in timeline(harbour(rounds=1), (1, 2, 3)).intervals]
    assert alone == [IntervalKind.WORK, IntervalKind.WORK, IntervalKind.REST]
    assert lanes == [IntervalKind.WORK] * 3


def test_a_working_minute_sounds_go_then_last_ten_then_the_count_of_the_next() -> None:
    made = timeline(harbour(rounds=1))
    second_minute = [(cue.at_ms, str(cue.name)) for cue in made.cues if 57_000 <= cue.at_ms < 120_000]
    assert second_minute == [(57_000, "count"), (58_000, "count"), (59_000, "count"), (60_000, "go"), (110_000, "last_ten")]
    assert [str(cue.name) for cue in made.cues if cue.at_ms >= 120_000] == ["rest", "end"]


@pytest.mark.parametrize(("count_in_ms", "pips"), [(10_000, 3), (3_000, 3), (2_999, 2), (500, 0), (0, 0)])
def test_the_count_before_work_fits_into_what_stands_before_it(count_in_ms: int, pips: int) -> None:
    made = timeline(harbour(rounds=1), count_in_ms=count_in_ms)
    assert [at for at in times(made, CueName.COUNT) if at < 0] == [-1_000 * k for k in range(pips, 0, -1)]
    assert made.count_in_ms == count_in_ms


FAST = Intervals(title="Fast", work_ms=20_000, rest_ms=10_000, sets=8, work=(SWING,))
MANY = Amrap(title="As many", time_ms=720_000, work=(SWING,))
CARRY = ForTime(title="Carry", cap_ms=300_000, rounds=1, work=(SWING,), wave_every_ms=60_000)
ADVISED, LIMITED = OpenPart(title="Brief", time_ms=60_000), OpenPart(title="Brief", time_ms=60_000, max_ms=90_000)
WHERE_CUES_GO: dict[str, tuple[AnyPart, tuple[int, ...], int | None, CueName, list[int]]] = {
    "the last round is told before its first work": (harbour(3), (1,), 540_000, CueName.LAST_ROUND, [354_000]),
    "in short intervals just after its go": (FAST, (1,), 230_000, CueName.LAST_ROUND, [211_000]),
    "an only round is no last one": (harbour(1), (1,), 180_000, CueName.LAST_ROUND, []),
    "against the clock half time is told": (MANY, (1,), 720_000, CueName.HALF, [360_000]),
    "and the last ten": (MANY, (1,), 720_000, CueName.LAST_TEN, [710_000]),
    "and the end": (MANY, (1,), 720_000, CueName.END, [720_000]),
    "waves each get their go": (CARRY, (1, 2, 3), 420_000, CueName.GO, [0, 60_000, 120_000]),
    "even when nobody is in the first": (CARRY, (2, 3), 420_000, CueName.GO, [0, 60_000, 120_000]),
    "one wave takes its cap": (CARRY, (1,), 300_000, CueName.GO, [0]),
    "an open part calls for attention at its time": (ADVISED, (1,), None, CueName.ATTENTION, [60_000]),
    "and does not end by itself": (ADVISED, (1,), None, CueName.END, []),
    "but at its most": (LIMITED, (1,), 90_000, CueName.END, [90_000]),
    "without a time nothing is known of it": (OpenPart(title="Brief"), (1,), None, CueName.ATTENTION, []),
}


@pytest.mark.parametrize(("part", "groups", "length_ms", "name", "at"), WHERE_CUES_GO.values(), ids=WHERE_CUES_GO.keys())
def test_where_cues_go(part: AnyPart, groups: tuple[int, ...], length_ms: int | None, name: CueName, at: list[int]) -> None:
    made = timeline(part, groups)
    assert (made.length_ms, times(made, name)) == (length_ms, at)


def test_pace_beats_fill_the_time_before_the_margin() -> None:
    session = Session(title="A day", parts=(harbour(rounds=1),), rest_margin_ms=15_000, cues=Cues(pace=3))
    made = part_timeline(session.parts[0], session)
    assert [at for at in times(made, CueName.PACE) if at < 60_000] == [15_000, 30_000, 45_000]


def test_a_stretched_interval_moves_its_own_end_and_everything_after_it() -> None:
    made = timeline(harbour(rounds=1)).stretched(1, 15_000)
    assert [(interval.start_ms, interval.end_ms) for interval in made.intervals] == [
        (0, 60_000),
        (60_000, 135_000),
        (135_000, 195_000),
    ]
    assert (made.length_ms, times(made, CueName.END)) == (195_000, [195_000])
    assert times(made, CueName.LAST_TEN) == [50_000, 125_000]


def test_a_round_trip_of_stretches_gives_the_same_timeline() -> None:
    made = timeline(harbour(rounds=2))
    assert made.stretched(2, 10_000).stretched(2, -10_000) == made


def test_windows_of_sets_count_the_work_and_never_the_rest() -> None:
    part = Intervals(title="Fast", work_ms=20_000, rest_ms=10_000, sets=3, work=(SWING, ROW))
    assert [interval.window for interval in timeline(part).intervals] == [0, -1, 1, -1, 2]
    assert [interval.round for interval in timeline(part).intervals] == [1, 1, 1, 1, 2]


def test_cues_are_looked_up_in_a_half_open_window_of_positions() -> None:
    made = timeline(harbour(rounds=1))
    assert [cue.name for cue in made.cues_between(0, 50_001)] == [CueName.GO, CueName.LAST_TEN]
    assert [cue.name for cue in made.cues_between(1, 50_000)] == []
