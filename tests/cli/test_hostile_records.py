"""The commands over the records, where a file is not what it should be: it costs itself, in words, and the rest goes on."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from floorclock.journal.lines import decode, encode
from floorclock.people.forget import FILE
from floorclock.people.register import people_path
from tests.commands import Shell
from tests.journal.sample_class import journal_at

GOOD, WRONG = "20261125-1831-7f3a", "20261126-1831-AbCd"


@pytest.fixture
def records(home: Path) -> Path:
    """One class that is right, and one with a wrong value in a header whose check fits."""
    journal_at(home / "classes" / f"{GOOD}.jsonl", 40)
    wrong = journal_at(home / "classes" / f"{WRONG}.jsonl", 40)
    header, *rest = wrong.read_bytes().splitlines(keepends=True)
    values = decode(header[:-1])
    values.pop("v")
    values["roster"]["athletes"][0]["name"] = "Ilka\x1b[2J"
    wrong.write_bytes(b"".join([encode(values), *rest]))
    return home


def test_classes_names_what_cannot_be_read_and_says_what_to_do(shell: Shell, records: Path) -> None:
    os.mkfifo(records / "classes" / "20261127-1831-0000.jsonl")
    answer = shell("classes")
    assert answer.status == 0
    assert "2 classes can't be read:" in answer.err
    assert f"{WRONG}: line 1: the header cannot be read" in answer.err
    assert "20261127-1831-0000: that is a device or a pipe" in answer.err
    assert "floorclock restore FILE" in answer.err
    assert "\x1b" not in answer.out + answer.err
    unread = {entry["id"]: entry["unread"] for entry in json.loads(shell("classes", "--json").out)["classes"]}
    assert unread[GOOD] == ""


def test_everything_else_goes_on_without_it(shell: Shell, records: Path, tmp_path: Path) -> None:
    (records / "classes" / "20261127-1831-0000.jsonl").mkdir()
    for number, command in enumerate(("export", "backup")):
        answer = shell(command, str(tmp_path / f"out{number}"))
        assert answer.status == 0
        assert "1 class that cannot be read: class 20261127-1831-0000: that is a folder" in answer.out
    assert shell("forget", "Ilka", "--dry-run").status == 0
    assert shell("people", "--json").status == 0


def test_an_id_in_capitals_is_found_as_it_is_written_and_in_small_letters(shell: Shell, home: Path) -> None:
    journal_at(home / "classes" / f"{WRONG}.jsonl", 40)
    for written in (WRONG, WRONG.lower(), WRONG.upper()):
        assert "there is no class" not in shell("review", written, "--json").err


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_the_first_and_the_last_day_of_the_calendar_are_answered_in_words(
    shell: Shell, home: Path, tmp_path: Path, day: str
) -> None:
    for option in ("--since", "--until"):
        answer = shell("trends", option, day)
        assert (answer.status, "no class is of the year" in answer.err) == (2, True)
    session, roster = tmp_path / "plan.yaml", tmp_path / "who.yaml"
    session.write_text(
        "session: x\nparts:\n  - {kind: rotation, title: A, every: 1:00, rounds: 1, stations: [{move: row, target: 10 m}]}\n"
    )
    roster.write_text("roster: x\nathletes: [{name: Ilka}]\n")
    (tmp_path / "splits.csv").write_text("part,round,station,athlete,split\n1,1,row,Ilka,31.4\n")
    files = ("--session", str(session), "--roster", str(roster))
    answer = shell("intake", str(tmp_path / "splits.csv"), *files, "--started", f"{day}T00:00")
    assert answer.status == 2
    assert "defect" not in answer.err


@pytest.mark.parametrize(
    "text", ["[" * 100_000, '{"sound\x1b[2Joutput": 1}', '{"sounds": "a\\u001b[2J"}', '{"sounds": "a\\u0000"}']
)
def test_settings_of_any_kind_cost_a_warning_without_a_command_in_it(shell: Shell, home: Path, text: str) -> None:
    home.mkdir(exist_ok=True)
    (home / "settings.json").write_text(text)
    answer = shell("cues", "--sound", "none")
    assert "settings.json" in answer.err
    assert "\x1b" not in answer.err
    assert "defect" not in answer.err


def test_names_of_people_with_a_command_in_them_are_passed_over(shell: Shell, records: Path) -> None:
    people_path(records).write_bytes(
        encode({"at": "2026-11-24T00:00:00Z", "event": "same person", "name": "Ilka", "is": "Il\x1b[2Jka"})
    )
    answer = shell("forget", "Ilka", "--dry-run")
    assert answer.status == 0
    assert "\x1b" not in answer.out


def test_a_forgetting_that_was_begun_is_finished_by_the_next_command(shell: Shell, home: Path) -> None:
    journal_at(home / "classes" / f"{GOOD}.jsonl", 40)
    (home / FILE).write_bytes(encode({"at": "2026-11-24T00:00:00Z", "names": ["Olga"], "classes": [], "index": ""}))
    answer = shell("classes")
    assert "taking Olga out of the records was not finished; it is now" in answer.err
    assert not (home / FILE).exists()
    assert shell("classes").err == ""
