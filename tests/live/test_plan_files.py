"""The files that a coach names: read whole, or refused in words with a place; read ahead with the same answer."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from floorclock.ahead import ahead
from floorclock.errors import InputProblems
from floorclock.plan_files import MOST_READ, Plan, read_bytes, read_files, read_plan
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
    assert told == [f"{tmp_path / name}: no such file or directory (name a file that is there)" for name in ("a.yaml", "b.yaml")]


def test_a_folder_is_no_plan(tmp_path: Path) -> None:
    (line,) = problems_of(tmp_path, None)
    assert line == f"{tmp_path}: is a directory (name a file that is there)"


def test_a_file_without_an_end_is_refused_before_it_fills_the_memory() -> None:
    (line,) = problems_of(Path("/dev/zero"), None)
    assert line.startswith("/dev/zero: the file is too large")


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


def test_work_done_ahead_is_done_elsewhere_and_answers_here() -> None:
    # In a process of its own: whoever runs the tests may have threads, and beside threads nothing is forked.
    code = "import os; from floorclock.ahead import ahead; print(ahead(os.getpid)() != os.getpid())"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == "True"


def test_an_error_of_work_done_ahead_is_raised_at_the_wait() -> None:
    def fails() -> Plan:
        raise InputProblems([])

    waiting = ahead(fails)
    with pytest.raises(InputProblems):
        waiting()


def test_work_that_dies_elsewhere_is_done_here() -> None:
    here = os.getpid()

    def dies_elsewhere() -> int:
        if os.getpid() != here:
            os._exit(9)
        return 7

    assert ahead(dies_elsewhere)() == 7


def test_an_answer_that_cannot_be_sent_is_worked_out_here() -> None:
    assert ahead(lambda: lambda: 3)()() == 3


def test_nothing_is_forked_beside_other_threads() -> None:
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait)
    thread.start()
    try:
        assert ahead(os.getpid)() == os.getpid()
    finally:
        stop.set()
        thread.join()
