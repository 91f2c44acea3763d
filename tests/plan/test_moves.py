"""The usual moves: every figure with its source, against published cadences; and the coach's own."""

from __future__ import annotations

from itertools import pairwise

import pytest

from floorclock.plan.moves import Move, move_key
from floorclock.plan.read_moves import read_moves, usual_moves
from floorclock.plan.work import Unit
from tests.checks.reading import rows

MOVES = usual_moves()
LEVELS = ("new", "regular", "strong")
GUESSED = ("common practice, no source", "a second is a second")


def test_there_are_enough_of_them_and_each_is_whole() -> None:
    assert len(MOVES.all) >= 85
    for move in MOVES.all:
        assert all((move.pattern, move.standards, move.source)), move.name
        assert move.each_ms or move.source == "a second is a second", move.name
        for by_level in move.each_ms.values():
            assert tuple(by_level) == LEVELS, move.name
            assert all(slower >= faster for slower, faster in pairwise(by_level.values())), move.name


def test_what_stands_in_for_a_move_is_a_move_too_and_what_is_guarded_has_something() -> None:
    for move in MOVES.all:
        stand_ins = [MOVES.find(name) for name in move.options]
        assert None not in stand_ins, move.name
        assert not move.guarded or any(one is not None and not one.guarded for one in stand_ins), move.name


# Seconds a rep in published field tests to a beat (tests/checks/cadence.csv); a level may be within 1 % of its test.
@pytest.mark.parametrize(
    ("test", "move", "level"),
    [
        ("YMCA 3-min step", "step-up", "regular"),
        ("Queens College step women", "step-up", "new"),
        ("Chester step stage4", "step-up", "strong"),
        ("Harvard step", "box step-up", "strong"),
        ("ACSM/NSCA partial curl-up", "curl-up", "regular"),
        ("90-degree push-up", "push-up", "new"),
        ("Push-up test appendix D", "push-up", "strong"),
        ("YMCA bench press", "bench press", "strong"),
    ],
)
def test_a_usual_time_is_that_of_a_published_test(test: str, move: str, level: str) -> None:
    (published,) = (float(row["s_per_rep"]) for row in rows("cadence.csv") if row["test"] == test)
    known = MOVES.find(move)
    assert known is not None
    assert known.source not in GUESSED
    assert known.each_ms[Unit.REPS][level] == pytest.approx(1000 * published, rel=0.01)


# The usual ergometer formulas, quoted as in `moves.yaml`: W = 2.80 / (s per m)^3 and kcal/s = (4 W / 1000 + 0.35) / 4.2.
@pytest.mark.parametrize(("level", "watts"), [("new", 100), ("regular", 150), ("strong", 200)])
def test_rowing_is_so_many_watts_in_metres_and_in_calories(level: str, watts: int) -> None:
    row = MOVES.find("row")
    assert row is not None
    metre_s, calorie_s = (row.each_ms[unit][level] / 1000 for unit in (Unit.METRES, Unit.CALORIES))
    assert metre_s == pytest.approx((2.80 / watts) ** (1 / 3), rel=0.02)
    assert calorie_s == pytest.approx(4.2 / (4 * watts / 1000 + 0.35), rel=0.02)


@pytest.mark.parametrize("name", ["Push-ups", "push up", "PUSHUP"])
def test_a_move_is_found_however_it_is_written(name: str) -> None:
    assert MOVES.find(name) is MOVES.find("push-up") is not None
    assert MOVES.find("juggling") is None
    assert move_key("bench press") != move_key("bench pres")


@pytest.mark.parametrize(
    ("move", "unit", "pattern", "level", "ms"),
    [
        ("air squat", Unit.REPS, "", "", 2000),
        ("air squat", Unit.REPS, "", "new", 2600),
        ("air squat", Unit.REPS, "", "a level of ours", 2000),
        ("plank", Unit.SECONDS, "", "new", 1000),
        ("paddling", Unit.CALORIES, "row", "", 4400),
        ("paddling", Unit.SECONDS, "row", "", 1000),
    ],
)
def test_one_of_it_takes_so_long(move: str, unit: Unit, pattern: str, level: str, ms: int) -> None:
    assert MOVES.ms_of_one(move, unit, pattern, level) == ms


def test_what_nobody_knows_takes_the_middle_of_all_moves() -> None:
    known = [move.each_ms[Unit.REPS]["regular"] for move in MOVES.all if Unit.REPS in move.each_ms]
    assert min(known) < MOVES.ms_of_one("juggling", Unit.REPS, "play") < max(known)


def test_a_coachs_own_file_adds_and_overrides() -> None:
    own = "moves:\n  - {move: Push-up, rep: 2.5, guarded: true}\n  - {move: log press, pattern: push, rep: {new: 5, strong: 3}}\n"
    moves, problems = read_moves(own, "moves.yaml", MOVES)
    assert moves is not None
    assert problems == ()
    push_up, before, log = moves.find("push-up"), MOVES.find("push-up"), moves.find("log press")
    assert push_up is not None
    assert before is not None
    assert (push_up.ms_of_one(Unit.REPS, "new"), push_up.guarded) == (2500, True)
    assert (push_up.name, push_up.options, push_up.caution) == (before.name, before.options, before.caution)
    assert log == Move(name="log press", pattern="push", each_ms={Unit.REPS: {"new": 5000, "strong": 3000}})
    assert moves.find("air squat") is MOVES.find("air squat")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("moves: []\n", "own.yaml:1:8: moves: this list is empty"),
        ("moves:\n  - {move: a, reps: 2}\n", "own.yaml:2:15: moves[0].reps: unknown key `reps` (did you mean `rep`?)"),
        ("moves:\n  - {move: a, rep: quick}\n", "own.yaml:2:20: moves[0].rep: `quick` is no duration"),
        ("moves:\n  - {rep: 2}\n", "own.yaml:2:5: moves[0]: `move` is missing (write move: kettlebell swing)"),
        ("moves:\n  - move: a dip\n  - {move: b, also: A-dips}\n", "own.yaml:3:21: moves[1].also: `A-dips` is a move on line 2"),
        ("- a\n", "own.yaml:1:1: a mapping goes here, not a list"),
    ],
)
def test_what_is_wrong_with_it_has_its_place(text: str, said: str) -> None:
    moves, problems = read_moves(text, "own.yaml", MOVES)
    assert moves is None
    assert str(problems[0]).startswith(said), problems
