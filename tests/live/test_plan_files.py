"""The files that a coach names: read whole, or refused in words with a place."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from floorclock.errors import InputProblems
from floorclock.live.plan_files import read_plan
from tests.opened_classes import SESSION, plan_at


def problems_of(session: Path, roster: Path | None) -> list[str]:
    with pytest.raises(InputProblems) as refusal:
        read_plan(session, roster)
    return [str(problem) for problem in refusal.value.problems]


def test_a_plan_holds_its_source_so_that_a_class_needs_no_other_file(tmp_path: Path) -> None:
    plan = plan_at(tmp_path)
    assert plan.text == SESSION
    assert plan.file == "plan.yaml"
    assert [athlete.name for athlete in plan.roster.athletes] == ["Ilka", "Bram", "Noor"]
    (tmp_path / "plan.yaml").write_bytes(b"\xef\xbb\xbf" + SESSION.encode())
    alone = read_plan(tmp_path / "plan.yaml", None)
    assert (alone.text, alone.roster.athletes) == (SESSION, ())


def test_every_problem_of_both_files_is_told_at_once_with_the_names_as_typed(tmp_path: Path) -> None:
    session, roster = tmp_path / "plan.yaml", tmp_path / "who.yaml"
    session.write_text("session: x\nparts:\n  - {kind: opem}\n  - {kind: amrap, time: soon}\n", encoding="utf-8")
    roster.write_text("roster: x\nathletes:\n  - {name: Ilka, key: '?'}\n", encoding="utf-8")
    told = problems_of(session, roster)
    assert sum(line.startswith(f"{session}:3:") for line in told) >= 1
    assert sum(line.startswith(f"{session}:4:") for line in told) >= 1
    assert sum(line.startswith(f"{roster}:3:") for line in told) >= 1


def test_what_is_no_file_of_text_is_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "plan.yaml")
    device = "that is a device or a pipe"
    for path, words in ((tmp_path, "that is a folder"), (Path("/dev/zero"), device), (tmp_path / "plan.yaml", device)):
        assert problems_of(path, None) == [f"{path}: {words} (name a file of text)"]


def test_two_files_that_are_not_there_are_told_at_once(tmp_path: Path) -> None:
    told = problems_of(tmp_path / "a.yaml", tmp_path / "b.yaml")
    assert told == [f"{tmp_path / name}: there is no such file (name a file that is there)" for name in ("a.yaml", "b.yaml")]


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root reads everything")
    path = tmp_path / "plan.yaml"
    path.write_text(SESSION, encoding="utf-8")
    path.chmod(0)
    assert "permission denied" in problems_of(path, None)[0]


def test_a_warning_is_no_refusal_and_is_kept(tmp_path: Path) -> None:
    roster = "roster: x\nathletes:\n  - {name: Ilka, targets: {handstand walk: 5 m}}\n"
    plan = plan_at(tmp_path, roster=roster)
    assert [problem.severity for problem in plan.warnings] == ["note"]
