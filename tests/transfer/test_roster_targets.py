"""Targets put into a roster file: they come in, and nothing else changes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from floorclock.errors import InputProblems, WrongUsage
from floorclock.insight.targets import PlannedTarget
from floorclock.plan.work import Unit
from floorclock.transfer.roster_writing import WrittenTargets, write_targets

YAML = """\
# The regulars.
roster: Tuesday
athletes:
  # The first two share a row.
  - {name: Ilka, key: i, targets: {row: 180 m}}  # knee
  - Bram
  - name: Odd     # comes late
    level: 'new'

  # Back since May.
  - name: Runa
    targets:
      Swing: 9 reps  # was 12
      row: 150 m
"""


def planned(athlete: str, move: str, amount: int, unit: Unit = Unit.REPS, option: str = "") -> PlannedTarget:
    return PlannedTarget(
        name=athlete,
        part="A",
        station=move,
        move=move,
        planned=Fraction(20),
        target=Fraction(amount),
        unit=unit,
        option=option or None,
        because="",
        planned_words="",
        target_words="",
    )


def written(path: Path, text: str, *targets: PlannedTarget) -> tuple[str, WrittenTargets]:
    path.write_bytes(text.encode())
    made = write_targets(path, text.encode(), targets)
    return path.read_bytes().decode(), made


def test_targets_come_into_a_yaml_roster_and_everything_else_stays(tmp_path: Path) -> None:
    text, made = written(
        tmp_path / "who.yaml",
        YAML,
        planned("Ilka", "row", 170, Unit.METRES),
        planned("Bram", "swing", 8),
        planned("Odd", "plank", 45, Unit.SECONDS),
        planned("Runa", "swing", 8),
    )
    assert text == (
        YAML.replace("row: 180 m", "row: 170 m")
        .replace("- Bram", "- {name: Bram, targets: {swing: 8 reps}}")
        .replace("    level: 'new'", "    targets: {plank: 0:45}\n    level: 'new'")
        .replace("Swing: 9 reps", "Swing: 8 reps")
    )
    assert made.changed == (
        "Ilka, row: 170 m (was 180 m)",
        "Bram, swing: 8 reps",
        "Odd, plank: 0:45",
        "Runa, swing: 8 reps (was 9)",
    )
    again, unchanged = written(tmp_path / "who.yaml", text, planned("Bram", "swing", 8))
    assert (again, unchanged.changed) == (text, ())


def test_a_target_of_two_sides_is_written_as_of_each(tmp_path: Path) -> None:
    text, made = written(tmp_path / "who.yaml", "athletes: [{name: Ilka}]\n", replace(planned("Ilka", "lunge", 18), sides=2))
    assert "lunge: 9 reps each side" in text
    assert made.changed == ("Ilka, lunge: 9 reps each side",)


def test_a_list_of_rounds_is_left_to_the_coach(tmp_path: Path) -> None:
    """One number in its place would make all rounds alike."""
    listed = replace(planned("Ilka", "squat", 6), by_round=True, target_words="6-9-12")
    text, made = written(tmp_path / "who.yaml", "athletes: [{name: Ilka}]\n", listed)
    assert "squat" not in text
    assert made.left == ("Ilka, squat: 6-9-12 is a list of rounds, for you to write",)


def test_line_ends_and_the_byte_order_mark_stay(tmp_path: Path) -> None:
    text, _ = written(tmp_path / "who.yaml", "\ufeffathletes:\r\n- Ilka\r\n- Bram\r\n", planned("Ilka", "row", 8))
    assert text == "\ufeffathletes:\r\n- {name: Ilka, targets: {row: 8 reps}}\r\n- Bram\r\n"


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (
            'name,targets,key\nIlka,"row=180 m; swing=9 reps",i\n"Bram",,b\n',
            'name,targets,key\nIlka,row=180 m; swing=8 reps,i\n"Bram",,b\n',
        ),
        ("name;key\nIlka;i\nBram;b\n", "name;key;targets\nIlka;i;swing=8 reps\nBram;b\n"),
        ("name,key\r\nIlka,i\r\n", "name,key,targets\r\nIlka,i,swing=8 reps\r\n"),
    ],
)
def test_in_a_csv_roster_the_column_of_targets_is_made_anew(before: str, after: str, tmp_path: Path) -> None:
    assert written(tmp_path / "who.csv", before, planned("Ilka", "swing", 8))[0] == after


def test_of_two_targets_for_a_move_the_smaller_is_written_and_options_are_left(tmp_path: Path) -> None:
    text, made = written(
        tmp_path / "who.yaml",
        "athletes: [Ilka]\n",
        planned("Ilka", "row", 12),
        planned("Ilka", "row", 10),
        planned("Ilka", "box jump", 6, option="step-up"),
    )
    assert text == "athletes: [{name: Ilka, targets: {row: 10 reps}}]\n"
    assert made.left == ("Ilka, box jump: the option step-up is for you to decide",)


def test_a_file_that_changed_meanwhile_or_has_problems_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "who.yaml"
    path.write_text("athletes: [Ilka, Bram]\n", encoding="utf-8")
    with pytest.raises(WrongUsage, match="changed meanwhile"):
        write_targets(path, b"athletes: [Ilka]\n", [planned("Ilka", "row", 8)])
    with pytest.raises(InputProblems):
        write_targets(path, b"athletes: [Ilka, ilka]\n", [planned("Ilka", "row", 8)])
    assert path.read_text(encoding="utf-8") == "athletes: [Ilka, Bram]\n"
