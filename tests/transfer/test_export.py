"""Everything out and back: the same to the byte; tables that other readers read as meant."""

from __future__ import annotations

import csv
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
from floorclock.people.register import canonical_names
from floorclock.transfer import export, take_in
from floorclock.transfer.cells import FORMULA_STARTS
from tests.transfer.records import NASTY, PLAIN, TORN, journals

TABLES = ("classes", "splits", "results", "efforts", "people", "events")


@pytest.fixture
def folder(records: Path, tmp_path: Path) -> Path:
    export(records, tmp_path / "out")
    return tmp_path / "out"


def rows(folder: Path, table: str) -> list[dict[str, str]]:
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text, strict=True))


@pytest.mark.parametrize("form", ["", "classes.jsonl", "events.csv"])
def test_what_went_out_comes_back_to_the_byte(records: Path, folder: Path, home: Path, form: str) -> None:
    done = take_in(home, folder / form)
    assert journals(home) == journals(records)
    assert set(done.taken) == set(journals(records))
    assert all(path.stat().st_mode & 0o777 == 0o600 for path in (home / "classes").iterdir())
    assert canonical_names(home) == ({} if form else {"Ilca": "Ilka"})
    again = take_in(home, folder / form)
    assert (again.taken, set(again.same)) == ((), set(journals(records)))


def test_the_folder_is_whole_and_its_owners_alone(records: Path, folder: Path) -> None:
    assert {path.name for path in folder.iterdir()} == {"classes.jsonl", "people.jsonl", *(f"{table}.csv" for table in TABLES)}
    assert folder.stat().st_mode & 0o777 == 0o700
    assert all(path.stat().st_mode & 0o777 == 0o600 for path in folder.iterdir())
    with pytest.raises(WrongUsage, match="is there already"):
        export(records, folder)
    with pytest.raises(WrongUsage, match="there is no folder"):
        export(records, folder / "a" / "b")
    assert not [path for path in folder.parent.iterdir() if path.name.endswith(".new")]


def test_an_export_that_fails_leaves_nothing(records: Path, tmp_path: Path) -> None:
    path = records / "classes" / f"{PLAIN}.jsonl"
    path.unlink()
    path.mkdir()
    with pytest.raises(ResourceError, match="cannot be read"):
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


def test_every_line_of_the_lossless_file_is_json_that_names_its_class(records: Path, folder: Path) -> None:
    """JSON Lines: one JSON value a line, UTF-8, `\\n` after each."""
    raw = (folder / "classes.jsonl").read_bytes()
    values = [json.loads(line) for line in raw.decode("utf-8").split("\n")[:-1]]
    assert raw.endswith(b"\n")
    assert {value["class"] for value in values} == set(journals(records))
    assert [value["record"]["event"] for value in values if value["class"] == PLAIN][:2] == ["opened", "part begun"]


@pytest.mark.skipif(shutil.which("jq") is None, reason="jq is not installed")
def test_json_that_another_program_wrote_again_is_taken_too(records: Path, folder: Path, home: Path) -> None:
    done = subprocess.run(["jq", "-c", ".", str(folder / "classes.jsonl")], capture_output=True, check=True, timeout=60)
    (folder / "classes.jsonl").write_bytes(done.stdout)
    take_in(home, folder)
    assert journals(home) == journals(records)


def test_json_written_with_other_spaces_and_escapes_is_taken_too(records: Path, folder: Path, home: Path) -> None:
    lines = (folder / "classes.jsonl").read_bytes().splitlines()
    (folder / "classes.jsonl").write_text("".join(json.dumps(json.loads(line), indent=None) + "\r\n" for line in lines))
    take_in(home, folder / "classes.jsonl")
    assert journals(home) == journals(records)


def test_rows_that_a_spreadsheet_wrote_again_are_taken_too(records: Path, folder: Path, home: Path) -> None:
    found = rows(folder, "events")
    with (folder / "events.csv").open("w", encoding="utf-8-sig", newline="") as text:
        writer = csv.DictWriter(
            text, ["record", *(name for name in found[0] if name != "record")], delimiter=";", quoting=csv.QUOTE_ALL
        )
        writer.writeheader()
        writer.writerows(found)
    take_in(home, folder / "events.csv")
    assert journals(home) == journals(records)


def test_a_class_that_runs_goes_out_up_to_its_last_whole_line(records: Path, tmp_path: Path, home: Path) -> None:
    path = records / "classes" / f"{TORN}.jsonl"
    lock = ClassLock.take(path)
    done = export(records, tmp_path / "out")
    lock.release()
    assert done.running == (TORN,)
    assert TORN in done.words
    whole = path.read_bytes()
    take_in(home, tmp_path / "out")
    assert journals(home)[TORN] == whole[: whole.rfind(b"\n") + 1]
    shutil.copy(path, home / "classes" / path.name)
    assert take_in(home, tmp_path / "out").older == (TORN,)


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
