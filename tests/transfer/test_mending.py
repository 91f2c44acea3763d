"""What has one right answer, written into the coach's own files, and nothing else changed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from floorclock.errors import WrongUsage
from floorclock.plan.check import PlanCheck, check_files
from floorclock.transfer import mending
from floorclock.transfer.kept_yaml import text_changed
from floorclock.transfer.mending import mend

SESSION = """\
# Our Tuesday class.
session: Tuesday
clas_time: 30:00          # the room is ours
kit: {kettlebell: 8, box: 4}
parts:
  - kind: rotaton
    title: Round
    every: 1:00
    rounds: 5
    stations:
      - move: kettlebell swing   # two hands

        target: 14 reps
        kit: ketlebell
      # Then the jump.
      - move: box jump
        target: 10 reps
        options:                 # for who steps
          - {name: low, move: box step-up, kit: box}
      - {move: push-up, target: 10 reps}   # last
# The end.
"""
MENDED = """\
# Our Tuesday class.
session: Tuesday
class_time: 30:00         # the room is ours
kit: {kettlebell: 8, box: 4}
parts:
  - kind: rotation
    title: Round
    every: 1:00
    rounds: 5
    stations:
      - move: kettlebell swing   # two hands

        target: 14 reps
        kit: kettlebell
      # Then the jump.
      - move: box jump
        guarded: true
        kit: box
        target: 10 reps
        options:                 # for who steps
          - {name: low, move: box step-up, kit: box}
      - {move: push-up, target: 10 reps}   # last
# The end.
"""
ROSTER = "athletes:\n  - {name: Ilka, options: {box jump: lo}}   # steps\n  - Bram\n"


def mended(session: Path, roster: Path | None = None) -> tuple[PlanCheck, tuple[str, ...]]:
    def check() -> PlanCheck:
        people = (roster.read_bytes(), str(roster)) if roster else (None, None)
        return check_files(session.read_bytes(), str(session), *people)

    return mend(check(), check, [session, *([roster] if roster else [])])


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_what_has_one_answer_is_written_and_everything_else_stays(tmp_path: Path, end: str) -> None:
    session, roster = tmp_path / "plan.yaml", tmp_path / "who.yaml"
    session.write_bytes(SESSION.replace("\n", end).encode())
    roster.write_text(ROSTER)
    checked, told = mended(session, roster)
    assert session.read_bytes().decode() == MENDED.replace("\n", end)
    assert roster.read_text() == ROSTER.replace("jump: lo}}   #", "jump: low}}  #")
    assert not checked.has_errors
    assert not [problem for problem in checked.problems if problem.fix]
    assert [line.partition(":")[2].partition(" (")[0] for line in told] == [
        "3: clas_time is now class_time",
        "6: kind: rotation",
        "11: kit: kettlebell",
        "16: kit: box",
        "2: box jump: low",
        "16: guarded: true",
    ]


def test_a_plan_with_nothing_to_mend_is_not_touched(tmp_path: Path) -> None:
    session = tmp_path / "plan.yaml"
    session.write_text(MENDED)
    before = session.stat().st_mtime_ns
    assert mended(session)[1] == ()
    assert session.stat().st_mtime_ns == before


@pytest.mark.parametrize(
    "session",
    [
        "session: x\nclass_time: 9:00\nclas_time: 9:00\nparts: [{kind: open}]\n",
        "session: x\nparts: [{kind: opens nothing like it}]\n",
        "session: x\nparts: [{kind: open, tme: 9:00}\n",
    ],
)
def test_where_there_is_no_one_answer_nothing_is_written(tmp_path: Path, session: str) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text(session)
    assert mended(path)[1] == ()
    assert path.read_text() == session


def test_a_file_that_another_hand_changed_meanwhile_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    session = tmp_path / "plan.yaml"
    session.write_text(SESSION)

    def while_they_write(before: bytes, change: Callable[[str], str]) -> bytes:
        session.write_text(SESSION + "# mine\n")
        return text_changed(before, change)

    monkeypatch.setattr(mending, "text_changed", while_they_write)
    with pytest.raises(WrongUsage, match="changed meanwhile"):
        mended(session)
    assert session.read_text() == SESSION + "# mine\n"
