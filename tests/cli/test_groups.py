"""`floorclock groups`: who starts where, put into the roster; where kit is short, what would be enough."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.commands import HARBOUR, HARBOUR_ROSTER, Shell, typed
from tests.plan.shipped import SESSIONS

PLAN = """\
session: Boxes
kit: {box: %d}
parts:
  - kind: rotation
    title: Up
    every: 1:00
    rounds: 2
    stations: [{move: step-up, kit: box}, {move: box jump, kit: box}, rest]
"""
YAML = """\
# The regulars.
roster: Tuesday
athletes:
  - {name: Ilka, level: strong, group: 1}   # knee
  - name: Bram
    with: [Ilka]

  # Back since May.
  - {name: Odd, level: new, group: 3, not_with: [Runa]}
  - Runa
"""
YAML_AFTER = YAML.replace("    with:", "    group: 1\n    with:").replace("- Runa", "- {name: Runa, group: 2}")
CSV = 'name,level,with,group\n"Ilka",strong,,1\nBram,,Ilka\nOdd,new,,3\nRuna,,,\n'
CSV_AFTER = CSV.replace("Bram,,Ilka", "Bram,,Ilka,1").replace("Runa,,,", "Runa,,,2")


@pytest.mark.parametrize(("name", "text", "after"), [("who.yaml", YAML, YAML_AFTER), ("who.csv", CSV, CSV_AFTER)])
def test_groups_come_into_the_roster_and_nothing_else_changes(
    shell: Shell, tmp_path: Path, name: str, text: str, after: str
) -> None:
    """By hand: four people in three groups; Bram goes where Ilka is, and Runa where nobody is."""
    plan, roster = tmp_path / "plan.yaml", tmp_path / name
    plan.write_text(PLAN % 4, "utf-8")
    roster.write_text(text, "utf-8")
    answer = shell("groups", str(plan), "--roster", str(roster), "--write")
    assert (answer.status, answer.err) == (0, "")
    assert "Nobody waits for kit." in answer.out
    assert answer.out.endswith("who" + name[3:] + ": 2 athletes changed\n")
    assert roster.read_text("utf-8") == after
    found = json.loads(shell("groups", str(plan), "--roster", str(roster), "--write", "--json").out)
    assert (found["possible"], found["proven"], found["changed"]) == (True, True, [])
    assert found["groups"][1] == {"group": 2, "begins": [{"part": "Up", "station": "box jump"}], "athletes": ["Runa"]}
    assert roster.read_text("utf-8") == after


def test_where_kit_is_short_the_changes_are_said_and_nothing_is_written(shell: Shell, tmp_path: Path) -> None:
    plan, roster = tmp_path / "plan.yaml", tmp_path / "who.yaml"
    plan.write_text(PLAN % 2, "utf-8")
    roster.write_text(YAML, "utf-8")
    answer = shell("groups", str(plan), "--roster", str(roster), "--write")
    assert answer.status == 1
    assert "No start groups keep everybody from waiting" in answer.out
    assert "Enough would be:\n  one more box" in answer.out
    assert roster.read_text("utf-8") == YAML
    found = json.loads(shell("groups", str(plan), "--roster", str(roster), "--json").out)
    assert (found["possible"], found["groups"], found["changes"][0]["kit"]) == (False, [], {"box": 1})
    crowded = tmp_path / "crowded.yaml"
    crowded.write_text("athletes: [A, B, C, D]\n", "utf-8")
    assert "floorclock groups SESSION --roster ROSTER" in shell("check", str(plan), "--roster", str(crowded)).out.replace(
        "\n", " "
    )


def test_kit_that_is_short_whatever_the_groups_keeps_nobody_from_a_group(shell: Shell) -> None:
    """The finisher of that plan wants a bell each for sixteen people, and has twelve."""
    answer = shell("groups", str(SESSIONS / "tide-ladder.yaml"), "--roster", HARBOUR_ROSTER)
    assert answer.status == 0
    assert "Nobody waits for kit.\nWhatever the groups, kit is short: 16 x kettlebell in Rising tide" in answer.out
    assert "four more kettlebells" in answer.out


def test_teams_come_into_the_roster_too(shell: Shell, tmp_path: Path) -> None:
    roster = tmp_path / "who.yaml"
    roster.write_text(
        "athletes:\n  - {name: A, level: new}\n  - {name: B, level: new}\n  - {name: C, level: strong}\n  - D\n", "utf-8"
    )
    answer = shell("groups", str(SESSIONS / "quarry-pairs.yaml"), "--roster", str(roster), "--write")
    assert "A + C" in answer.out
    roster.write_text(roster.read_text("utf-8").replace("- {name: D,", "- {name: D, with: [Bb],"), "utf-8")
    answer = shell("groups", str(SESSIONS / "quarry-pairs.yaml"), "--roster", str(roster))
    assert "athletes[3].with: nobody here is called `Bb` (did you mean B?)" in answer.err
    roster.write_text(roster.read_text("utf-8").replace(" with: [Bb],", ""), "utf-8")
    assert roster.read_text("utf-8").splitlines()[1:] == [
        "  - {name: A, level: new, team: 1}",
        "  - {name: B, level: new, team: 2}",
        "  - {name: C, level: strong, team: 1}",
        "  - {name: D, team: 2}",
    ]


def test_waves_that_outlast_the_class_are_no_good_answer(shell: Shell, tmp_path: Path) -> None:
    """By hand: one rower, three minutes a wave; the sixth of six begins at 15:00 and has ten minutes, of 20."""
    plan, roster = tmp_path / "plan.yaml", tmp_path / "who.yaml"
    part = (
        "{kind: for_time, title: Row, cap: 10:00, wave_every: 3:00, count_in: 0, work: [{move: row, target: 300 m, kit: rower}]}"
    )
    plan.write_text(f"session: Rowers\nclass_time: %d:00\nkit: {{rower: 1}}\nparts:\n  - {part}\n" % 20, "utf-8")
    roster.write_text("athletes: [A, B, C, D, E, F]\n", "utf-8")
    words = "the plan takes 25:00 with its count-ins, 5:00 longer than the class"
    answer = shell("groups", str(plan), "--roster", str(roster), "--write")
    assert f"But {words}" in " ".join(answer.out.split())
    assert words in " ".join(shell("check", str(plan), "--roster", str(roster)).out.split())
    assert words in json.loads(shell("groups", str(plan), "--roster", str(roster), "--json").out)["notes"]
    plan.write_text(plan.read_text("utf-8").replace("class_time: 20", "class_time: 30"), "utf-8")
    assert "longer" not in shell("groups", str(plan), "--roster", str(roster)).out


def test_a_plan_without_groups_and_teams_is_told_so(shell: Shell) -> None:
    answer = shell("groups", str(SESSIONS / "gull-shuttles.yaml"), "--roster", HARBOUR_ROSTER)
    assert (answer.status, answer.out) == (1, "")
    assert answer.err.startswith("floorclock: no part of this plan has start groups, waves or teams")


def test_the_solver_prints_nothing_of_its_own(home: Path) -> None:
    """Its banner would go to the file descriptor itself, past everything that Python could redirect."""
    done = typed("groups", HARBOUR, "--roster", HARBOUR_ROSTER, "--json", home=home)
    assert done.returncode == 0
    assert json.loads(done.stdout)["possible"] is True
    assert done.stderr == b""
