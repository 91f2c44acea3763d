"""What plans come to, against published protocol totals, step tests and the shuttle table (sources in the CSV files)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from floorclock.plan.session import Shuttle, Stage
from floorclock.plan.totals import Volume, count_in_ms, interval_count, planned_ms, rounds_per_station, shuttle_ms, volume
from floorclock.plan.work import Unit
from tests.checks.reading import rows
from tests.plan.shipped import session_of


@pytest.mark.parametrize("row", rows("protocols.csv"), ids=lambda row: f"{row['protocol']} n={row['n']}")
def test_sets_come_to_the_published_total_with_and_without_the_last_rest(row: dict[str, str]) -> None:
    """`total_a_s` is n works and n - 1 rests, as published; `total_b_s` has the last rest too."""
    plan = (
        f"  - {{kind: intervals, work: {row['work_s']}, rest: {row['rest_s']} s, sets: {row['n']}, stations: [{{move: run}}]%s}}"
    )
    as_published, with_last_rest = session_of(plan % ""), session_of(plan % ", final_rest: true")
    assert planned_ms(as_published.parts[0]) == int(row["total_a_s"]) * 1000
    assert planned_ms(with_last_rest.parts[0]) == int(row["total_b_s"]) * 1000
    assert interval_count(as_published.parts[0]) == int(row["n"])


@pytest.mark.parametrize("row", [row for row in rows("protocols.csv") if int(row["warm_s"]) and "min" in row["published_total"]])
def test_a_whole_protocol_takes_the_minutes_that_were_published(row: dict[str, str]) -> None:
    made = session_of(
        f"  - {{kind: open, time: {row['warm_s']} s}}\n"
        f"  - {{kind: intervals, work: {row['work_s']}, rest: {row['rest_s']}, sets: {row['n']}, stations: [{{move: run}}]}}\n"
        f"  - {{kind: open, time: {row['cool_s']} s}}\n"
    )
    minutes = int(row["published_total"].split(" ")[0])
    assert sum(planned_ms(part) for part in made.parts) == minutes * 60_000


STEP_TESTS = [row for row in rows("cadence.csv") if row["metronome_bpm"] and row["duration_s"] and row["total_reps"]]


@pytest.mark.parametrize("row", STEP_TESTS, ids=lambda row: row["test"])
def test_a_cadenced_test_has_the_published_number_of_reps(row: dict[str, str]) -> None:
    made = session_of(
        f"  - {{kind: paced, move: step-up, beat: {row['metronome_bpm']} per minute,"
        f" beats_per_rep: {row['beats_per_rep']}, time: {row['duration_s']} s}}\n"
    )
    (work,) = volume(made)
    assert work == Volume("step-up", Unit.REPS, Fraction(row["total_reps"]))


@pytest.mark.parametrize("variant", ["8.5_start", "8.0_start"])
def test_a_shuttle_ladder_takes_the_time_and_metres_of_the_table(variant: str) -> None:
    table = [row for row in rows("shuttle.csv") if row["variant"] == variant]
    assert len(table) == 21
    stages = [Stage(Fraction(row["speed_kmh"]), int(row["shuttles"])) for row in table]
    for level, row in enumerate(table, start=1):
        exact = shuttle_ms(Shuttle(Fraction(20), tuple(stages[:level])))
        assert abs(exact - Fraction(row["cum_s"]) * 1000) <= Fraction(1, 2) + Fraction(1, 10)
    lines = "".join(f"{{speed: {row['speed_kmh']} km/h, shuttles: {row['shuttles']}}}," for row in table)
    made = session_of(f"  - {{kind: paced, shuttle: {{distance: 20 m, stages: [{lines}]}}}}\n")
    assert volume(made) == (Volume("run", Unit.METRES, Fraction(table[-1]["cum_m"])),)
    assert interval_count(made.parts[0]) == 21


KINDS = """
  - {kind: open, time: 12:00}
  - {kind: open}
  - kind: rotation
    every: 1:00
    for: 8:00
    count_in: 0
    stations: [{move: a, target: 10}, rest, {move: a, target: {start: 5, step: 2}}]
  - {kind: for_time, cap: 9:00, rounds: 4, work: [{move: b, target: {start: 10 m, step: -4 m}}, {move: a, target: 3}]}
  - {kind: amrap, time: 12:00, work: [{move: c, target: 9}]}
  - {kind: intervals, work: 0:30, rest: 0:15, sets: 3, stations: [{move: d}, {move: e, target: 8 cal}]}
"""


def test_time_intervals_and_rounds_of_every_kind_of_part() -> None:
    made = session_of(KINDS)
    assert [planned_ms(part) // 1000 for part in made.parts] == [720, 0, 480, 540, 720, 120]
    assert [count_in_ms(part, made) // 1000 for part in made.parts] == [0, 0, 0, 10, 10, 10]
    assert [interval_count(part) for part in made.parts] == [0, 0, 8, 1, 1, 3]
    assert [dict(rounds_per_station(part)) for part in made.parts] == [
        {},
        {},
        {"a": 3, "rest": 3, "a (2)": 2},
        {"b": 4, "a": 4},
        {},
        {"d": 2, "e": 1},
    ]


def test_volume_sums_moves_over_parts_and_ladders_over_rounds() -> None:
    """By hand: a is 3 x 10, then 5 + 7, then 4 x 3; b falls 10 + 6 + 2 + 0; d works 2 x 30 s; the amrap is not counted."""
    found = {(v.move, v.unit): v.amount for v in volume(session_of(KINDS))}
    assert found == {("a", Unit.REPS): 54, ("b", Unit.METRES): 18, ("d", Unit.SECONDS): 60, ("e", Unit.CALORIES): 8}


RELAYS = [
    # Six rounds of 10 and 200 m, round about: three of each. The rounds of who goes first are 1, 3 and 5: 2 + 6 + 10 of a ladder.
    ("for_time, cap: 9:00, rounds: 6, in: pairs, turns: each round", {"row": 600, "squat": 30, "step": 18}),
    # One works at a time and shares as they like: half of it. All of it where both do it together.
    ("for_time, cap: 9:00, rounds: 6, in: pairs, turns: shared", {"row": 600, "squat": 30, "step": 21}),
    ("for_time, cap: 9:00, rounds: 6, in: pairs, turns: same time", {"row": 1200, "squat": 60, "step": 42}),
    # Of 18 windows a team of 3 has six each: whoever goes first is at the first station every time.
    ("rotation, every: 1:00, rounds: 6, in: teams of 3, turns: each interval", {"row": 1200}),
    ("intervals, work: 0:40, rest: 0:20, sets: 18, in: pairs, turns: each interval", {"row": 600, "squat": 30, "step": 18}),
]


@pytest.mark.parametrize(("part", "amounts"), RELAYS, ids=lambda value: value if isinstance(value, str) else "")
def test_one_of_a_team_does_their_turns_only(part: str, amounts: dict[str, int]) -> None:
    """Counted by hand."""
    work = "work" if part.startswith("for_time") else "stations"
    moves = "[{move: row, target: 200 m}, {move: squat, target: 10 reps}, {move: step, target: {start: 2 reps, step: 2}}]"
    found = volume(session_of(f"  - {{kind: {part}, {work}: {moves}}}\n"))
    assert {one.move: one.amount for one in found} == amounts
