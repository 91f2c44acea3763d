"""The files that a coach names: read whole, or refused in words with a place; read ahead with the same answer."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from floorclock.errors import InputProblems
from floorclock.live.plan_files import MOST_READ, read_bytes, read_files, read_plan
from tests.opened_classes import SESSION, plan_at
from tests.plan.shipped import SESSIONS


def problems_of(session: Path, roster: Path | None) -> list[str]:
    with pytest.raises(InputProblems) as refusal:
        read_plan(session, roster)
    return [str(problem) for problem in refusal.value.problems]


def test_a_plan_holds_its_source_so_that_a_class_needs_no_other_file(tmp_path: Path) -> None:
    plan = plan_at(tmp_path)
    assert plan.text == SESSION
    assert plan.file == "plan.yaml"
    assert [athlete.name for athlete in plan.roster.athletes] == ["Ilka", "Bram", "Noor"]


def test_a_byte_order_mark_is_no_part_of_a_plan(tmp_path: Path) -> None:
    (tmp_path / "plan.yaml").write_bytes(b"\xef\xbb\xbf" + SESSION.encode())
    assert read_plan(tmp_path / "plan.yaml", None).text == SESSION


def test_without_a_roster_nobody_is_on_the_board() -> None:
    assert read_plan(SESSIONS / "harbour.yaml", None).roster.athletes == ()


def test_every_problem_of_both_files_is_told_at_once_with_the_names_as_typed(tmp_path: Path) -> None:
    session, roster = tmp_path / "plan.yaml", tmp_path / "who.yaml"
    session.write_text("session: x\nparts:\n  - {kind: opem}\n  - {kind: amrap, time: soon}\n", encoding="utf-8")
    roster.write_text("roster: x\nathletes:\n  - {name: Ilka, key: '?'}\n", encoding="utf-8")
    told = problems_of(session, roster)
    assert sum(line.startswith(f"{session}:3:") for line in told) >= 1
    assert sum(line.startswith(f"{session}:4:") for line in told) >= 1
    assert sum(line.startswith(f"{roster}:3:") for line in told) >= 1


def test_two_files_that_are_not_there_are_told_at_once(tmp_path: Path) -> None:
    told = problems_of(tmp_path / "a.yaml", tmp_path / "b.yaml")
    assert told == [f"{tmp_path / name}: there is no such file (name a file that is there)" for name in ("a.yaml", "b.yaml")]


def test_a_folder_is_no_plan(tmp_path: Path) -> None:
    (line,) = problems_of(tmp_path, None)
    assert line == f"{tmp_path}: that is a folder (name a file of text)"


def test_a_device_or_a_pipe_is_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "plan.yaml")
    for path in (Path("/dev/zero"), tmp_path / "plan.yaml"):
        (line,) = problems_of(path, None)
        assert line == f"{path}: that is a device or a pipe (name a file of text)"


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root reads everything")
    path = tmp_path / "plan.yaml"
    path.write_text(SESSION, encoding="utf-8")
    path.chmod(0)
    assert "permission denied" in problems_of(path, None)[0]


def test_bytes_come_as_they_are(tmp_path: Path) -> None:
    path = tmp_path / "odd [x].bin"
    path.write_bytes(bytes(range(256)) * 4)
    assert read_bytes(path) == bytes(range(256)) * 4
    assert read_files(path, None) == (path.read_bytes(), None)
    assert MOST_READ > 1024 * 1024


def test_a_warning_is_no_refusal_and_is_kept(tmp_path: Path) -> None:
    roster = "roster: x\nathletes:\n  - {name: Ilka, targets: {handstand walk: 5 m}}\n"
    plan = plan_at(tmp_path, roster=roster)
    assert [problem.severity for problem in plan.warnings] == ["warning"]
