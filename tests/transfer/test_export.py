"""Everything out as tables that other readers read as meant."""

from __future__ import annotations

import csv
import errno
import json
import os
import re
import shutil
import sqlite3
import subprocess
from datetime import datetime
from pathlib import Path

import pandas as pd  # type: ignore[import-untyped]
import pytest

from floorclock.clock.tally import splits
from floorclock.errors import NotFound, ResourceError, WrongUsage
from floorclock.journal.lock import ClassLock
from floorclock.journal.reading import read_bytes
from floorclock.journal.replay import replay
from floorclock.transfer import back_up, export
from floorclock.transfer.cells import FORMULA_STARTS
from tests.journal.failing_disk import refusal
from tests.transfer.records import NASTY, PLAIN, TORN, journals

TABLES = ("classes", "splits", "lifts", "results", "efforts", "people", "events")


@pytest.fixture
def folder(records: Path, tmp_path: Path) -> Path:
    export(records, tmp_path / "out")
    return tmp_path / "out"


def rows(folder: Path, table: str) -> list[dict[str, str]]:
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text, strict=True))


def test_the_folder_is_whole_and_its_owners_alone(records: Path, folder: Path) -> None:
    assert {path.name for path in folder.iterdir()} == {f"{table}.csv" for table in TABLES}
    assert folder.stat().st_mode & 0o777 == 0o700
    assert all(path.stat().st_mode & 0o777 == 0o600 for path in folder.iterdir())
    with pytest.raises(WrongUsage, match="is there already"):
        export(records, folder)
    with pytest.raises(WrongUsage, match="there is no folder"):
        export(records, folder / "a" / "b")
    assert not [path for path in folder.parent.iterdir() if path.name.endswith(".new")]


def test_a_journal_that_cannot_be_read_costs_itself_and_is_named(records: Path, tmp_path: Path) -> None:
    path = records / "classes" / f"{PLAIN}.jsonl"
    path.unlink()
    path.mkdir()
    done = export(records, tmp_path / "out")
    assert ": 5 classes, " in done
    assert f"1 class that cannot be read: class {PLAIN}: that is a folder" in done
    assert PLAIN not in {row["class"] for row in rows(tmp_path / "out", "classes")}


def test_one_class_is_counted_as_one(records: Path, tmp_path: Path) -> None:
    for path in (records / "classes").glob("*.jsonl"):
        if path.stem != PLAIN:
            path.unlink()
    assert ": 1 class, " in export(records, tmp_path / "out")
    assert ": 1 class, " in back_up(records, tmp_path / "all.tar.gz")


def test_an_export_that_fails_leaves_nothing(records: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(folder: Path) -> None:
        raise refusal(errno.ENOSPC)

    monkeypatch.setattr("floorclock.platform.system.sync_folder", refuse)
    with pytest.raises(ResourceError, match="disk full"):
        export(records, tmp_path / "out")
    assert not [found for found in tmp_path.iterdir() if found.name.startswith((".out", "out"))]
    with pytest.raises(NotFound):
        export(tmp_path / "nowhere", tmp_path / "out")


@pytest.mark.parametrize("table", TABLES)
def test_every_table_follows_rfc_4180_and_holds_no_formula(folder: Path, table: str) -> None:
    """RFC 4180 section 2: CRLF after each record, as many fields in each (rules 1, 4); OWASP ASVS 5, 1.2.10."""
    raw = (folder / f"{table}.csv").read_bytes()
    assert raw.endswith(b"\r\n")
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as text:
        found = list(csv.reader(text, strict=True))
    assert len({len(row) for row in found}) == 1
    for field in (field for row in found for field in row):
        # A negative number is no formula.
        assert not field.startswith(FORMULA_STARTS) or re.fullmatch(r"-\d+(\.\d+)?", field)


def test_a_second_reader_sees_the_same_tables(folder: Path) -> None:
    """pandas, with a parser of its own in C."""
    for table in TABLES:
        frame = pd.read_csv(folder / f"{table}.csv", dtype=str, keep_default_na=False)
        assert frame.to_dict("records") == rows(folder, table)
    frame = pd.read_csv(folder / "splits.csv")
    done = frame[frame.status == "done"]
    assert len(done) > 10
    assert ((done.window - done.split - done.rest).abs() < 1e-6).all()
    assert set(frame[frame.athlete.str.contains("HYPER")].athlete) == {"'" + NASTY}


@pytest.mark.skipif(shutil.which("sqlite3") is None, reason="the sqlite3 program is not installed")
def test_a_third_reader_counts_the_same_rows(folder: Path) -> None:
    for table in TABLES:
        command = f'.mode csv\n.import "{folder / f"{table}.csv"}" t\nselect count(*) from t;\n'
        done = subprocess.run(["sqlite3", ":memory:"], input=command, capture_output=True, text=True, check=True, timeout=60)
        assert done.stderr == ""
        assert int(done.stdout) == len(rows(folder, table))


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
def test_a_spreadsheet_opens_the_tables_as_meant(folder: Path, tmp_path: Path) -> None:
    home = f"-env:UserInstallation=file://{tmp_path / 'office'}"
    command = ["soffice", home, "--headless", "--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76", "--outdir"]
    subprocess.run([*command, str(tmp_path / "saved"), str(folder / "results.csv")], check=True, timeout=120, capture_output=True)
    with (tmp_path / "saved" / "results.csv").open(encoding="utf-8", newline="") as text:
        saved = list(csv.DictReader(text))
    assert [row["athlete"] for row in saved] == [row["athlete"] for row in rows(folder, "results")]


def test_instants_are_rfc_3339_and_people_have_their_own_row(folder: Path) -> None:
    for row in rows(folder, "classes"):
        assert not row["started"] or datetime.fromisoformat(row["started"]).tzinfo is not None
    (ilka,) = [row for row in rows(folder, "people") if row["name"] == "Ilka"]
    assert (ilka["person"], int(ilka["classes"])) == ("Ilka", 4)
    assert {row["rehearsal"] for row in rows(folder, "classes")} == {"yes", "no"}
    assert {row["part_title"] for row in rows(folder, "results")} == {"Last"}


def test_the_events_are_those_of_the_journals_in_their_order(records: Path, folder: Path) -> None:
    found = rows(folder, "events")
    for class_id, data in journals(records).items():
        reading = read_bytes(data)
        here = [row for row in found if row["class"] == class_id]
        assert [row["event"] for row in here] == [event.name for event in reading.events]
        assert [float(row["at"]) for row in here] == [event.at_ms / 1000 for event in reading.events]
    begun = next(row for row in found if row["event"] == "part begun")
    assert set(json.loads(begun["more"])) == {"part", "groups"}
    assert {row["athlete"] for row in found if row["event"] == "tap"} >= {"Ilka"}


def test_a_class_that_runs_goes_out_up_to_its_last_whole_line(records: Path, tmp_path: Path) -> None:
    path = records / "classes" / f"{TORN}.jsonl"
    lock = ClassLock.take(path)
    done = export(records, tmp_path / "out")
    lock.release()
    assert f"Still running, so as far as it was: {TORN}." in done
    whole = path.read_bytes()
    expected = read_bytes(whole[: whole.rfind(b"\n") + 1]).seqs
    assert [int(row["number"]) for row in rows(tmp_path / "out", "events") if row["class"] == TORN] == list(expected)


def test_splits_in_a_table_are_those_of_the_class(records: Path, folder: Path) -> None:
    """Read by SQL from the table, and folded from the journals."""
    expected = 0.0
    for data in journals(records).values():
        reading = read_bytes(data)
        if reading.header is None or not reading.header.rehearsal:
            continue
        expected += sum(one.split_ms or 0 for one in splits(replay(reading.header, reading.events))) / 1000
    frame = pd.read_csv(folder / "splits.csv")
    with sqlite3.connect(":memory:") as store:
        store.execute("create table splits (split real)")
        store.executemany("insert into splits values (?)", [(None if pd.isna(one) else float(one),) for one in frame.split])
        (total,) = store.execute("select sum(split) from splits").fetchone()
    store.close()
    assert total == pytest.approx(expected)
    assert expected > 100


def test_nothing_beside_the_folder_is_touched(records: Path, tmp_path: Path) -> None:
    before = {path: path.read_bytes() for path in records.rglob("*") if path.is_file()}
    export(records, tmp_path / "out")
    assert {path: path.read_bytes() for path in records.rglob("*") if path.is_file()} == before
    assert os.listdir(tmp_path).count("out") == 1
