"""What a coach is warned of in a roster: each once, at its place, with what to write instead."""

from __future__ import annotations

import pytest

from floorclock.errors import Problem
from floorclock.plan.check import check_files
from floorclock.plan.read_roster import read_roster
from floorclock.plan.session import Session
from tests.plan.shipped import session, session_of, source

PLAN = """
  - kind: rotation
    title: The quay
    every: 1:00
    rounds: 3
    stations:
      - {move: swing, target: 14 reps, least: 8, options: [{name: lighter, move: deadlift, target: 12 reps}]}
      - {move: row, target: 200 m}
      - {move: plank, target: 0:30}
      - rest
  - {kind: intervals, title: Fast, work: 0:40, rest: 0:20, sets: 4, stations: [{move: burpee, target: 8}, {move: jog}]}
""".lstrip("\n")
QUAY = session_of(PLAN)


def warnings(text: str, file: str = "r.yaml", plan: Session | None = QUAY) -> list[Problem]:
    made, problems = read_roster(text, file, plan)
    assert made is not None
    assert all(problem.severity == "warning" and problem.hint and str(problem).isprintable() for problem in problems)
    return list(problems)


ONE = "athletes:\n  - {name: Ilka, %s}\n"
OF_ONE = [
    (
        "targets: {swing: 12 cal}",
        "35 targets.swing",
        "do 12 cal of `swing`, and the plan counts it in reps",
        "write it like 14 reps",
    ),
    ("targets: {row: 20}", "33 targets.row", "do 20 reps of `row`, and the plan counts it in m", "write it like 200 m"),
    (
        "targets: {swing: 7 reps}",
        "35 targets.swing",
        "7 reps of `swing`, under the least of 8 reps",
        "a smaller `least` at swing",
    ),
    (
        "options: {swing: lighter}, targets: {deadlift: 1}",
        "65 targets.deadlift",
        "1 rep of `deadlift`, under the least",
        "8 reps or",
    ),
    ("rest_margin: 0:40", "31 rest_margin", "Ilka's rest margin of 0:40 leaves no time to work in 0:40 (Fast)", "less than 0:40"),
    ("group: 6", "25 group", "start group 6 begins with group 2, at row: The quay has 4 stations", "write a group from 1 to 4"),
    ("with: [Ilke]", "24 with", "nobody here is called `Ilke`", "did you mean Ilka?"),
    ("not_with: Yrsa", "28 not_with", "nobody here is called `Yrsa`", "leave it where they come another day"),
    ("with: ilka", "24 with", "this is the name of Ilka themselves", "name somebody else"),
]
CONCERNS = [
    *((ONE % field, f"2:{place.replace(' ', ' athletes[0].')}", message, hint) for field, place, message, hint in OF_ONE),
    (
        "athletes: [{name: Ilka, key: x}, {name: Bram, key: X}]\n",
        "1:52 athletes[1].key",
        "Bram taps with X and Ilka with x: with caps lock on the two change places",
        "keep caps lock off",
    ),
    ("name,targets\nIlka,swing=12 cal\n", "2:2 athletes[0].targets.swing", "the plan counts it in reps", "14 reps"),
    ("name,rest_margin\nIlka,5:00\n", "2:2 athletes[0].rest_margin", "leaves no time to work in 0:40", "less than 0:40"),
    (
        "athletes: [{name: A, not_with: b}, {name: B, with: C}, {name: C, with: a}]\n",
        "1:32 athletes[0].not_with",
        "A is to be with B and C, and not with B",
        "take one of the two out",
    ),
    ("name,not_with,with\nA,,B; C\nB,,\nC,B,\n", "4:2 athletes[2].not_with", "C is to be with A and B, and not with B", "take"),
    ("name,group\nIlka,5\n", "2:2 athletes[0].group", "begins with group 1, at swing", "1 to 4"),
]


@pytest.mark.parametrize(("text", "place", "message", "hint"), CONCERNS, ids=[case[2] for case in CONCERNS])
def test_a_concern_is_one_warning_with_its_place_and_a_way_out(text: str, place: str, message: str, hint: str) -> None:
    (found,) = warnings(text, "r.csv" if text.startswith("name") else "r.yaml")
    assert f"{found.line}:{found.column} {found.path}" == place
    assert message in found.message
    assert hint in found.hint


@pytest.mark.parametrize(
    "field",
    [
        "targets: {swing: 8 reps, row: 150 m, plank: 0:20, deadlift: 8}",
        "targets: {jog: 100 m}",  # The plan gives a jog no target, so any unit will do.
        "targets: {deadlift: 2}",  # Nobody swings lighter here: the target is not in force.
        "rest_margin: 0:39",
        "group: 4",
        "with: [], not_with: []",
    ],
)
def test_what_is_as_it_should_be_is_not_spoken_of(field: str) -> None:
    assert warnings(ONE % field) == []


def test_groups_without_a_station_are_spoken_of_once_for_the_whole_roster() -> None:
    people = ", ".join(f"{{name: P{place}, group: {group}}}" for place, group in enumerate((1, 2, 4, 7, 5, 5, 9)))
    (found,) = warnings(f"athletes: [{people}]\n")
    assert found.path == "athletes[3].group"
    assert found.message.startswith("start group 7 begins with group 3, at plank")
    assert found.message.endswith("; so do 2 more groups with others")


@pytest.mark.parametrize(
    "parts",
    [
        "  - {kind: intervals, work: 20, rest: 10, sets: 8, stations: [{move: squat}]}\n",
        "  - {kind: for_time, cap: 9:00, wave_every: 1:00, work: [{move: carry}]}\n" + PLAN,
        "  - {kind: for_time, cap: 9:00, work: [{move: carry}]}\n",
    ],
    ids=["one station", "waves", "no stations in turn"],
)
def test_groups_that_are_no_places_of_a_rotation_may_have_any_number(parts: str) -> None:
    assert warnings(ONE % "group: 9", plan=session_of(parts)) == []


def test_forty_people_have_keys_that_differ_by_more_than_case() -> None:
    assert warnings("name\n" + "".join(f"{number:02}\n" for number in range(40)), "r.csv", None) == []


def test_keys_that_differ_by_case_alone_are_said_once() -> None:
    (found,) = warnings("athletes: [{name: Žofie, key: ž}, {name: Zoë, key: Ž}, {name: Ilka, key: i}, {name: Ingo, key: I}]\n")
    assert found.path == "athletes[1].key"
    assert found.message.startswith("Zoë taps with Ž and Žofie with ž")
    assert found.message.endswith("; 1 more pair is like that")


def test_a_margin_without_time_to_work_is_not_said_again_at_every_station() -> None:
    plan = f"session: x\nparts:\n{PLAN}".encode()
    check = check_files(
        plan, "plan.yaml", b"athletes: [{name: Ilka, rest_margin: 1:00}, {name: Bram, rest_margin: 0:35}]\n", "r.yaml"
    )
    assert [problem.file for problem in check.problems if "Ilka" in problem.message] == ["r.yaml"]
    assert any("Bram: 0:30 of plank leaves 0:30 of 1:00" in problem.message for problem in check.problems)


def test_the_shipped_full_house_is_told_of_its_groups_and_the_demo_of_nothing() -> None:
    found = warnings(source("full-house.csv").decode(), "full-house.csv", session("harbour.yaml"))
    assert [problem.path for problem in found] == ["athletes[20].group"]
    assert warnings(source("harbour-roster.yaml").decode(), "harbour-roster.yaml", session("harbour.yaml")) == []
