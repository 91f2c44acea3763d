"""Loads, scores set by set, and teams of which somebody was missing, on paper."""

from __future__ import annotations

from pathlib import Path

import pytest

from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.digest.volume import volume_loads
from floorclock.live.plan_files import Plan
from floorclock.transfer.paper import blank_sheet
from tests.opened_classes import plan_at
from tests.transfer.test_paper import problems, recorded

PEOPLE = "athletes: [Ilka, Bram, Odd, Runa, Sefa]\n"
SESSION = """\
session: Bar and boat
count_in: 0
parts:
  - kind: rotation
    title: Bar
    every: 2:00
    rounds: 3
    stations: [{move: squat, target: 5 reps, load: 60 kg}]
  - {kind: intervals, title: Sets, work: 0:40, rest: 0:20, sets: 3, score: reps, stations: [{move: press, load: 20 kg}]}
  - {kind: amrap, title: Boat, time: 5:00, in: pairs, work: [{move: row, target: 200 m}]}
  - {kind: for_time, title: Carry, cap: 9:00, in: pairs, rounds: 2, work: [{move: lunge, target: 10 reps, load: 24 kg}]}
"""
HEAD = "part,round,station,athlete,split,load,team,score 1,score 2,score 3\n"


@pytest.fixture
def plan(tmp_path: Path) -> Plan:
    return plan_at(tmp_path / "plan", SESSION, PEOPLE)


def taken(text: str, plan: Plan, home: Path) -> tuple[ClassState, dict[tuple[str, str], tuple[float, float]]]:
    state = recorded(text, plan, home)
    lifted = volume_loads(state, splits(state), results(state))
    return state, {(one.athlete, one.move): (float(one.reps), float(one.amount)) for one in lifted}


def test_a_load_is_that_of_its_row_and_the_planned_one_where_nothing_is_written(plan: Plan, tmp_path: Path) -> None:
    rows = "1,1,squat,Ilka,31.4,70 kg,,,,\n1,2,squat,Ilka,30.5,155 lb,,,,\n1,3,squat,Ilka,33.1,,,,,\n"
    rows += "2,,,Ilka,,22.5 kg,,14,,12\n4,,,Bram,8:10,20 kg,Bram + Odd,,,\n"
    state, lifted = taken(HEAD + rows, plan, tmp_path / "home")
    assert [split.load.words() for split in splits(state) if split.load and split.split_ms] == ["70 kg", "155 lb", "60 kg"]
    # 5 x 70 + 5 x 155 x 0.45359237 + 5 x 60 kg; 26 reps at 22.5 kg; 20 lunges at 20 kg.
    assert lifted["Ilka", "squat"] == pytest.approx((15, 1001.534), abs=0.001)
    assert lifted["Ilka", "press"] == (26, 585)
    assert lifted["Bram", "lunge"] == (20, 400)
    scores = next(one.scores for one in results(state) if one.athlete == "Ilka")
    assert dict(scores) == {1: 14, 3: 12}


def test_a_set_has_a_split_and_what_was_counted_in_it(plan: Plan, tmp_path: Path) -> None:
    """As `review --csv` writes a class whose sets were tapped and counted."""
    rows = "2,1,press,Ilka,21.5,,,,,\n2,2,press,Ilka,22.5,,,,,\n2,,,Ilka,,,,14,12,\n"
    state, _ = taken(HEAD + rows, plan, tmp_path / "home")
    assert [split.split_ms for split in splits(state) if split.athlete == "Ilka" and split.part == 1] == [21_500, 22_500]
    assert dict(next(one.scores for one in results(state) if one.athlete == "Ilka")) == {1: 14, 2: 12}
    twice = problems(HEAD + rows + "2,,,Ilka,,,,13,,\n", plan)
    assert "line 4 or line 5" in twice[0]


def test_the_grid_takes_a_load_behind_what_was_done(plan: Plan, tmp_path: Path) -> None:
    text = blank_sheet(plan).replace("Ilka,,,", "Ilka,31.4,30.5 at 65 kg,12 @ 62.5 kg", 1)
    _, lifted = taken(text, plan, tmp_path / "home")
    assert lifted == {("Ilka", "squat"): (15, 5 * (60 + 65 + 62.5))}


@pytest.mark.parametrize("form", ["column", "names", "absent"])
def test_who_is_missing_of_a_team_leaves_the_others_as_they_were(form: str, plan: Plan, tmp_path: Path) -> None:
    """The plan makes Ilka + Odd + Sefa and Bram + Runa; Odd was not there."""
    assert "Ilka + Odd + Sefa" in blank_sheet(plan)
    if form == "column":
        text = HEAD + "1,1,squat,Ilka,30,,,,,\n3,,,Ilka,9+10,,Ilka + Sefa,,,\n3,,,Bram,8,,Bram + Runa,,,\n"
    else:
        text = blank_sheet(plan).replace("\r\nOdd,,,", "\r\nOdd,absent,,")
        written = "Ilka + Sefa,9+10" if form == "names" else "Ilka + Odd + Sefa,9+10,Odd absent"
        text = text.replace("Ilka + Odd + Sefa,", written, 1).replace("Bram + Runa,", "Bram + Runa,8", 1)
        text = text.replace("Ilka + Odd + Sefa,,,", "Ilka + Sefa,,,")
    state, _ = taken(text, plan, tmp_path / "home")
    assert "Odd" not in state.athletes
    assert {one.team: (one.rounds, one.reps or 0) for one in results(state)} == {
        ("Ilka", "Sefa"): (9, 10),
        ("Bram", "Runa"): (8, 0),
    }


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ("1,1,squat,Ilka,30,heavy,,,,", "load: `heavy` is no load (write it like 24 kg, 53 lb or 70 %)"),
        ("2,,,Ilka,,,,14,,,9", "11 fields, but the first line has 10"),
        ("1,,,Ilka,,,,14,,", "part: nothing is counted in it (leave the columns of the sets empty)"),
        ("3,,,Ilka,8,,Bram + Runa,,,", "team: Ilka is not in `Bram + Runa` (write all names of the team, parted by +)"),
        ("3,,,Ilka,8,70 kg,,,,", "load: `70 kg` may be of several moves"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(row: str, problem: str, plan: Plan) -> None:
    assert any(problem in one for one in problems(HEAD + row + "\n", plan))
