"""The commands over all classes, typed as a coach types them, on a data folder of three classes from paper."""

from __future__ import annotations

import csv
import json
import os
import re
from pathlib import Path
from typing import Any

import pytest

from tests.commands import Answer, Shell, typed

PLAN = """\
session: Quay steps on Monday
rest_margin: 0:15
parts:
  - kind: rotation
    title: The quay
    every: 1:00
    rounds: 4
    stations:
      - {move: step-up, target: 12 reps}
      - {move: push-up, target: 10 reps}
"""
WHO = """\
roster: Monday
athletes:
  - {name: Ilka}
  - {name: Bram}
  - {name: Maartje Holm}
"""
LATER = WHO.replace("Maartje Holm", "Martje Holm")
"""The same three, one of them spelled another way."""
DAYS = ("2026-10-05", "2026-10-12", "2026-10-19")
SPLITS = {"Ilka": (34.0, 30.0), "Bram": (40.0, 28.0), "Maartje Holm": (37.0, 31.0), "Martje Holm": (36.0, 31.0)}


@pytest.fixture
def ids(shell: Shell, tmp_path: Path) -> list[str]:
    """Three classes of one session, each a little faster; Bram loses two seconds with every round. The oldest first."""
    (tmp_path / "plan.yaml").write_text(PLAN, encoding="utf-8")
    found = []
    for week, day in enumerate(DAYS):
        people = WHO if week < 2 else LATER
        (tmp_path / "who.yaml").write_text(people, encoding="utf-8")
        names = [name for name in SPLITS if name in people]
        rows = ["part,round,station,athlete,split"]
        for round_number in range(1, 5):
            for name in names:
                for station, split in zip(("step-up", "push-up"), SPLITS[name], strict=True):
                    taken = split * 0.95**week + (2.0 * round_number if name == "Bram" else 0.1 * (round_number % 2))
                    rows.append(f"1,{round_number},{station},{name},{taken:.1f}")
        (tmp_path / "splits.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
        answer = shell("intake", str(tmp_path / "splits.csv"), *plan_at(tmp_path), "--started", f"{day}T19:00", "--json")
        assert answer.status == 0, answer.err
        found.append(json.loads(answer.out)["class"])
    return found


def plan_at(folder: Path) -> tuple[str, ...]:
    return ("--session", str(folder / "plan.yaml"), "--roster", str(folder / "who.yaml"))


def said(answer: Answer) -> str:
    """What was printed, its lines joined: a table may break one anywhere."""
    assert answer.status == 0, answer.err
    return " ".join(answer.out.split())


def test_an_athlete_s_page_has_every_class_and_move(shell: Shell, ids: list[str]) -> None:
    words = said(shell("athlete", "ilka"))
    assert "3 classes since 2026-10-05, last seen 2026-10-19" in words
    page = json.loads(shell("athlete", "Ilka", "--json").out)
    assert [one["id"] for one in page["classes"]] in (ids, ids[::-1])
    moves = {one["move"]: one for one in page["moves"]}
    assert set(moves) == {"step-up", "push-up"}
    by_day = sorted(moves["step-up"]["points"], key=lambda point: point["started"])
    assert [point["median_split_s"] for point in by_day] == pytest.approx([34.05, 32.35, 30.75], abs=0.06)
    assert by_day[0]["s_per_unit"] == pytest.approx(34 / 12, rel=0.02)


def test_who_is_not_in_the_records_is_told_who_is(shell: Shell, ids: list[str]) -> None:
    answer = shell("athlete", "Ilca")
    assert answer.status == 1
    assert "Ilka" in answer.err


def test_two_classes_are_compared(shell: Shell, ids: list[str]) -> None:
    assert "faster" in said(shell("compare", ids[0], ids[2]))
    answer = json.loads(shell("compare", ids[0], ids[2], "--json").out)
    assert "Ilka" in json.dumps(answer)
    assert shell("compare", ids[0], "2031").status == 1


def test_trends_say_how_many_classes_they_rest_on(shell: Shell, ids: list[str]) -> None:
    assert "3 classes" in said(shell("trends", "--since", DAYS[0], "--until", DAYS[2]))
    assert "2 classes" in said(shell("trends", "--since", DAYS[0], "--until", "2026-10-18"))
    assert "1 class," in said(shell("trends", "--since", "2026-10-13", "--until", DAYS[2]))
    assert isinstance(json.loads(shell("trends", "--until", DAYS[2], "--json").out), dict)


def test_two_spellings_are_offered_merged_and_parted(shell: Shell, ids: list[str]) -> None:
    offered = json.loads(shell("people", "--json").out)["doubles"]
    assert [{one["name"], one["other"]} for one in offered] == [{"Maartje Holm", "Martje Holm"}]
    assert "3 classes" not in shell("athlete", "Maartje Holm").out
    assert shell("people", "Martje Holm", "--is", "Maartje Holm").status == 0
    assert "3 classes" in said(shell("athlete", "Martje Holm"))
    assert shell("people").status == 1
    assert shell("people", "Martje Holm", "--undo").status == 0
    assert "2 classes" in said(shell("athlete", "Maartje Holm"))


def test_two_people_who_were_told_apart_are_not_offered_again(shell: Shell, ids: list[str]) -> None:
    assert shell("people", "Martje Holm", "--is-not", "Maartje Holm").status == 0
    assert json.loads(shell("people", "--json").out) == {"doubles": []}


def test_nobody_is_merged_with_somebody_who_is_not_there(shell: Shell, ids: list[str]) -> None:
    answer = shell("people", "Ilka", "--is", "Brom")
    assert answer.status == 1
    assert "Bram" in answer.err


def _without_next(page: dict[str, Any]) -> dict[str, Any]:
    """A page without what comes next: that is drawn from what is usual among all who were there."""
    for move in page["moves"]:
        del move["next_target"]
    return page


def test_forgetting_asks_first_and_leaves_no_trace(shell: Shell, ids: list[str], home: Path) -> None:
    assert "Bram is in 3 classes" in said(shell("forget", "Bram", "--dry-run"))
    assert "3 classes" in said(shell("athlete", "Bram"))
    assert shell("forget", "Bram").status == 2, "nobody can answer in a test"
    before = _without_next(json.loads(shell("athlete", "Ilka", "--json").out))
    assert "was taken out of 3 classes" in said(shell("forget", "Bram", "--yes"))
    assert shell("athlete", "Bram").status == 1
    assert _without_next(json.loads(shell("athlete", "Ilka", "--json").out)) == before
    kept = [path for path in home.rglob("*") if path.is_file()]
    assert any(path.name == "store.sqlite3" for path in kept)
    assert [path.name for path in kept if b"Bram" in path.read_bytes()] == []


def test_tables_go_out_and_a_backup_comes_back_to_the_byte(
    shell: Shell, ids: list[str], home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert shell("export", str(tmp_path / "out")).status == 0
    with (tmp_path / "out" / "splits.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) == 3 * 3 * 8
    assert shell("backup", str(tmp_path / "all.tar.gz")).status == 0
    elsewhere = tmp_path / "elsewhere"
    monkeypatch.setenv("FLOORCLOCK_HOME", str(elsewhere))
    assert shell("restore", str(tmp_path / "all.tar.gz")).status == 0
    for class_id in ids:
        name = f"{class_id}.jsonl"
        assert (elsewhere / "classes" / name).read_bytes() == (home / "classes" / name).read_bytes()


def test_the_index_may_be_thrown_away(shell: Shell, ids: list[str], home: Path) -> None:
    before = shell("athlete", "Ilka", "--json").out
    for path in home.glob("store.sqlite3*"):
        path.unlink()
    assert "3 classes added" in said(shell("index", "--rebuild"))
    assert shell("athlete", "Ilka", "--json").out == before
    assert "0 classes added, 0 changed" in said(shell("index"))


def test_one_class_is_no_classes(shell: Shell, ids: list[str], home: Path, tmp_path: Path) -> None:
    for class_id in ids[1:]:
        (home / "classes" / f"{class_id}.jsonl").unlink()
    for command in (("export", str(tmp_path / "out")), ("backup", str(tmp_path / "all.tar.gz")), ("index", "--rebuild")):
        words = said(shell(*command))
        assert ": 1 class" in words
        assert "1 classes" not in words


def test_a_damaged_index_is_told_of_and_made_anew_on_request(shell: Shell, ids: list[str], home: Path, tmp_path: Path) -> None:
    before = shell("athlete", "Ilka", "--json").out
    for path in home.glob("store.sqlite3*"):
        path.write_bytes(b"no database at all" * 500)
    for command in (("athlete", "Ilka"), ("index",)):
        answer = shell(*command)
        assert answer.status == 3
        assert "index --rebuild makes it anew" in answer.err
    answer = shell("index", "--rebuild")
    assert "3 classes added" in said(answer)
    assert answer.err == "", "no bar where there is no terminal"
    assert shell("athlete", "Ilka", "--json").out == before
    elsewhere = tmp_path / "other.sqlite3"
    elsewhere.write_bytes(b"a letter, not a store" * 500)
    assert shell("index", "--rebuild", "--store", f"sqlite:///{elsewhere}").status == 3
    assert elsewhere.read_bytes() == b"a letter, not a store" * 500


def test_targets_rest_on_the_index_and_say_when_there_is_none(shell: Shell, ids: list[str], home: Path, tmp_path: Path) -> None:
    tight = tmp_path / "tight.yaml"
    tight.write_text(PLAN.replace("rest_margin: 0:15", "rest_margin: 0:25"), encoding="utf-8")
    words = said(shell("targets", str(tight), "--roster", str(tmp_path / "who.yaml")))
    assert "athlete station plan would hold because" in words
    assert "Bram step-up 12" in words
    found = json.loads(shell("targets", str(tight), "--roster", str(tmp_path / "who.yaml"), "--json").out)
    assert {target["name"] for target in found["targets"]} >= {"Bram"}
    assert found["targets"][0].keys() >= {"name", "part", "station", "planned", "target", "unit", "option", "because"}
    for path in home.glob("store.sqlite3*"):
        path.write_bytes(b"no database at all" * 500)
    assert shell("targets", str(tight), "--roster", str(tmp_path / "who.yaml")).status == 3


def test_another_store_and_site_can_be_named(
    shell: Shell, ids: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = f"sqlite:///{tmp_path / 'other.sqlite3'}"
    assert "3 classes" in said(shell("athlete", "Ilka", "--store", url))
    assert (tmp_path / "other.sqlite3").exists()
    monkeypatch.setenv("FLOORCLOCK_STORE", "nonsense")
    answer = shell("athlete", "Ilka")
    assert answer.status == 2
    assert "sqlite:" in answer.err


def test_a_store_that_is_locked_is_told_in_words(shell: Shell, ids: list[str], home: Path) -> None:
    import sqlite3

    assert shell("index").status == 0
    holder = sqlite3.connect(home / "store.sqlite3", isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    try:
        answer = shell("index", "--rebuild")
    finally:
        holder.close()
    assert answer.status == 3
    assert "Traceback" not in answer.err
    assert len(answer.err_lines) <= 3


def test_names_in_a_table_are_data(shell: Shell, tmp_path: Path) -> None:
    (tmp_path / "plan.yaml").write_text(PLAN, encoding="utf-8")
    (tmp_path / "who.yaml").write_text(WHO.replace("Ilka", "'[/]red[b]'"), encoding="utf-8")
    blank = shell("intake", "--blank", *plan_at(tmp_path)).out
    filled = re.sub(r"(?m)^((?!session|minutes|part|round|station|,)[^,]+),,", r"\1,30,", blank)
    (tmp_path / "splits.csv").write_text(filled, encoding="utf-8")
    assert shell("intake", str(tmp_path / "splits.csv"), *plan_at(tmp_path), "--started", "2026-10-05T19:00").status == 0
    assert "[/]red[b]" in said(shell("athlete", "[/]red[b]"))


def test_in_a_pipe_the_doubles_are_listed_and_nobody_is_asked(shell: Shell, ids: list[str], home: Path, tmp_path: Path) -> None:
    ran = typed("people", home=home, PATH=os.environ["PATH"])
    assert ran.returncode == 0
    assert b"Maartje Holm" in ran.stdout
    assert b"--is" in ran.stdout
