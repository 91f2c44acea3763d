"""Figures in words."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from floorclock.clock.splits import Result
from floorclock.digest.words import (
    NO_ADVICE,
    SAFETY,
    chance_words,
    drift_words,
    flag_words,
    forecast_words,
    held_words,
    load_words,
    margin_words,
    rest_words,
    result_words,
    target_words,
    time_words,
)
from floorclock.digest.work_words import as_written, goal_of, own_words, part_words, plan_words
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag
from floorclock.pace.load import SessionLoad
from floorclock.plan.names import listed
from floorclock.plan.roster import Assignment
from floorclock.plan.session import AnyPart, PartKind
from floorclock.plan.work import Station, Target, Unit
from tests.clock.classes import ROW, STEP, SWING, reps
from tests.pace.taps import split
from tests.plan.shipped import SESSION_NAMES, session
from tests.report.outlooks import advice, to_come


@pytest.mark.parametrize(
    ("slope_ms", "words"),
    [
        (None, "too little was tapped to tell the pace"),
        (0.0, "the same pace from round to round"),
        (-199, "the same pace from round to round"),
        (1_400, "1.4 s slower each round"),
        (-250, "0.2 s faster each round"),
    ],
)
def test_drift(slope_ms: float | None, words: str) -> None:
    assert drift_words(slope_ms) == words


def test_words_are_listed_as_they_are_said() -> None:
    assert [listed(["row", "swing", "plank"][:count]) for count in range(4)] == [
        "",
        "row",
        "row and swing",
        "row, swing and plank",
    ]


def test_a_rest_is_never_more_than_there_was() -> None:
    assert [rest_words(split(rest)) for rest in (24.9, 12.9, "?", "-")] == ["24", "12!", "?", "/"]


def test_a_flag_has_its_sign_and_is_no_forecast_when_it_came_true() -> None:
    assert flag_words(Flag.TIGHT) == "! tight"
    assert [flag_words(Flag.RUNS_OUT, over=over) for over in (False, True)] == ["x runs out", "x ran out"]


def test_what_to_give() -> None:
    ladder = Target(Fraction(6), Unit.REPS, Fraction(2))
    metres = Target(Fraction(200), Unit.METRES)
    assert target_words(advice(0, Way.LESS, 8)) == "8 ↓"
    assert target_words(advice(0, Way.MORE, 8, target=metres)) == "200 m ↑"
    assert target_words(advice(0, Way.LESS, 8, target=ladder, round=4)) == "12 in round 4, +2 each round ↓"
    assert target_words(advice(0, Way.OPTION, 8, option="lighter")) == "lighter 8 →"
    assert target_words(advice(0, Way.OPTION, 8, option="lighter", target=None)) == "lighter →"
    given = advice(0, Way.OPTION, 8, option="lighter", target=None, amount=Fraction(14), unit=Unit.REPS)
    assert target_words(given) == "lighter 14 →"


def test_no_chance_is_surer_than_anybody_can_be() -> None:
    said = [chance_words(advice(0, Way.LESS, 8, chance=chance)) for chance in (0.995, 0.92, 0.5, 0.0)]
    assert said == ["likely (over 99%)", "likely (92%)", "too close to call (50%)", "unlikely (under 1%)"]
    assert chance_words(advice(0, Way.OPTION, 8, option="lighter", chance=0.0)) == "not known"


def test_who_does_another_move_than_the_station_has_it_named_with_the_number() -> None:
    """Somebody who was never allowed a guarded move must not be given its number."""
    instead = advice(0, Way.KEEP, 12, own_move="box step-up")
    assert target_words(instead) == "box step-up 12 ="
    assert target_words(instead, with_move=False) == "12 ="


def test_a_forecast_never_stands_without_its_span() -> None:
    assert forecast_words(to_come(0, 5, 30)) == "30 s (27 to 33)"


def test_a_forecast_says_what_is_in_doubt_before_the_worse_of_it() -> None:
    assert forecast_words(to_come(0, 5, 45)) == "45 s (40 to 50; margin kept: too close to call)"
    assert forecast_words(to_come(0, 5, 50)) == "50 s (45 to 55; margin kept: unlikely)"
    assert forecast_words(to_come(0, 5, 60)).endswith("; in time: too close to call)")


def test_how_likely_the_margin_goes_is_said_in_the_same_words() -> None:
    said = [margin_words(5, chance) for chance in (0.8, 0.6, 0.2, None)]
    assert said == [
        "the margin likely goes in round 5",
        "the margin may go in round 5: too close to call",
        "the margin may go in round 5: unlikely",
        "the margin went in round 5",
    ]


def test_load_is_effort_times_minutes_and_unknown_without_an_effort() -> None:
    # Foster 1998: a rating of 6 for 42 minutes is 252; the product is the definition (tests/checks has the published weeks).
    assert load_words(SessionLoad(name="x", effort=6, minutes=42)) == "effort 6 x 42 minutes = load 252"
    assert load_words(SessionLoad(name="x", effort=0, minutes=42)) == "effort 0 x 42 minutes = load 0"
    assert load_words(SessionLoad(name="x", effort=None, minutes=42)) == "effort not rated, 42 minutes"


def test_how_many_held_says_who_was_tapped_only_where_not_everybody_was() -> None:
    assert held_words(6, 16, 16) == "6 of 16 held margin and pace"
    assert held_words(6, 14, 16) == "6 of the 14 who were tapped held margin and pace"
    assert held_words(0, 0, 16) == "nobody was tapped"


@pytest.mark.parametrize(
    ("kind", "reached", "words"),
    [
        ("for_time", {"time_ms": 372_480}, "6:12.4"),
        ("for_time", {"rounds": 1}, "1 round"),
        ("for_time", {"rounds": 3, "not_finished": True}, "/ not finished: 3 rounds"),
        ("amrap", {"rounds": 9, "reps": 4}, "9 rounds + 4"),
        ("amrap", {"reps": 4}, "0 rounds + 4"),
        ("amrap", {}, "untapped"),
        ("paced", {"time_ms": 61_900, "rounds": 1, "reps": 8}, "stopped at 1:01.9, 1 stage, 8 shuttles"),
    ],
)
def test_what_was_reached(kind: PartKind, reached: dict[str, Any], words: str) -> None:
    assert result_words(Result(athlete="x", part=0, **reached), kind) == words


def test_what_nobody_tapped_or_typed_is_said_to_be_so() -> None:
    assert [result_words(None, kind) for kind in ("amrap", "paced")] == ["untapped", "did not stop (no tap)"]
    assert result_words(None, "rotation", "load") == "not entered"
    assert result_words(Result(athlete="x", part=0, scores=((1, Fraction(60)),)), "rotation", "load") == "60 kg"


def test_times_are_cut_off_as_a_stopwatch_does() -> None:
    assert [time_words(ms) for ms in (999, 59_999, 60_000, 750_049)] == ["0:00.9", "0:59.9", "1:00.0", "12:30.0"]


def test_targets_and_amounts_follow_the_ladder() -> None:
    assert [goal_of(STEP.target, None, number) for number in (1, 2, 3)] == ["10 reps", "11 reps", "12 reps"]
    assert [plan_words(station) for station in (SWING, ROW, Station(move="plank"))] == ["14 reps", "200 m", ""]
    assert plan_words(STEP) == "10 reps, +1 each round"


@pytest.mark.parametrize(
    ("work", "words"),
    [
        (Assignment("kettlebell swing", SWING.target), ""),
        (Assignment("kettlebell swing", reps(10)), "10"),
        (Assignment("kettlebell deadlift", reps(12), "lighter"), "12 lighter"),
        (Assignment("kettlebell deadlift", SWING.target, "lighter"), "lighter"),
        (Assignment("kettlebell swing", SWING.target, gated=True), "needs the coach's yes"),
        (Assignment("row", Target(Fraction(100), Unit.METRES), "row"), "100 m row"),
    ],
)
def test_what_is_different_for_one_athlete_is_said_and_nothing_else(work: Assignment, words: str) -> None:
    assert own_words(work, as_written(SWING), 1) == words


@pytest.mark.parametrize("part", [part for name in SESSION_NAMES for part in session(name).parts], ids=lambda part: part.title)
def test_every_kind_of_part_is_said_in_a_line(part: AnyPart) -> None:
    words = part_words(part)
    assert words
    assert "\n" not in words
    assert "Fraction" not in words
    assert "None" not in words


def test_the_safety_line_says_when_to_stop_and_who_decides() -> None:
    for word in ("chest pain", "dizziness", "no medical advice", "local rules", "qualified staff"):
        assert word in f"{SAFETY} {NO_ADVICE}"
