"""What comes in: all of it or nothing, every problem at once, nothing put over anything."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from floorclock.errors import InputProblems, NotFound, ResourceError
from floorclock.journal.lines import encode
from floorclock.people.register import canonical_names, keep_apart, merge
from floorclock.transfer import export, take_in
from floorclock.transfer.lossless import CarriedLine, ChangedLine, from_json, from_row, journal_lines, to_json, to_row
from tests.journal.failing_disk import RefusingDisk
from tests.journal.sample_class import journal_bytes
from tests.transfer.records import DAMAGED, OPEN_END, PLAIN, journals


@pytest.fixture
def folder(records: Path, tmp_path: Path) -> Path:
    export(records, tmp_path / "out")
    return tmp_path / "out"


def problems_of(home: Path, file: Path) -> list[str]:
    with pytest.raises(InputProblems) as refused:
        take_in(home, file)
    assert journals(home) == {}
    return [str(problem) for problem in refused.value.problems]


def test_all_problems_come_at_once_with_file_and_row_and_nothing_is_taken(folder: Path, home: Path) -> None:
    file = folder / "classes.jsonl"
    lines = file.read_bytes().splitlines(keepends=True)
    lines[1] = lines[1].replace(b'"at_ms":', b'"at_ms":1')
    lines[3] = b"{not json\n"
    lines[5] = lines[5].replace(b'"class":"2', b'"class":"../2')
    del lines[8]
    lines.append(lines[0])
    file.write_bytes(b"".join(lines))
    found = problems_of(home, folder)
    assert [problem.split(":")[1] for problem in found] == ["2", "4", "6", "9", str(len(lines))]
    assert all(problem.startswith("classes.jsonl:") for problem in found)
    assert "does not fit its check" in found[0]
    assert "no JSON" in found[1]
    assert "no id that could be one" in found[2]
    assert "stands where its line 9 should be" in found[3]
    assert "stood further up already" in found[4]


def test_problems_of_a_table_name_their_row_and_no_name(folder: Path, home: Path) -> None:
    file = folder / "events.csv"
    text = file.read_bytes()
    file.write_bytes(text.replace(b'""athlete"":""Ilka""', b'""athlete"":""Olga""'))
    found = problems_of(home, file)
    assert found
    assert not [problem for problem in found if "Olga" in problem or "Ilka" in problem]
    file.write_bytes(text.replace(b"class,line", b"what,line", 1))
    assert problems_of(home, file)[0].startswith("events.csv:1:1: the column `class` is missing")
    file.write_bytes(text + b'"never ended')
    assert "this is not CSV" in problems_of(home, file)[-1]
    file.write_bytes(b"")
    assert "the column `class` is missing" in problems_of(home, file)[0]


def test_a_class_with_another_content_is_left_and_said(folder: Path, home: Path) -> None:
    (home / "classes").mkdir(parents=True)
    path = home / "classes" / f"{PLAIN}.jsonl"
    path.write_bytes(journal_bytes(3))
    (home / "classes" / f"{OPEN_END}.jsonl").write_bytes(b"something else\n")
    done = take_in(home, folder)
    assert done.different == (PLAIN, OPEN_END)
    assert path.read_bytes() == journal_bytes(3)
    assert f"left as they are: {PLAIN}, {OPEN_END}" in done.words
    assert DAMAGED in done.taken


def test_decisions_here_are_not_overruled(folder: Path, home: Path) -> None:
    keep_apart(home, "Ilca", "Ilka")
    done = take_in(home, folder)
    assert (done.decisions.taken, done.decisions.left) == (0, 1)
    assert canonical_names(home) == {}
    merge(home, "Ilca", "Oda")
    assert take_in(home, folder).decisions.left == 1
    assert canonical_names(home) == {"Ilca": "Oda"}


def test_a_full_disk_leaves_each_class_whole_or_not_there(records: Path, folder: Path, home: Path) -> None:
    with pytest.raises(ResourceError, match="disk full"):
        take_in(home, folder, disk=RefusingDisk(errno.ENOSPC))
    assert journals(home) == {}
    assert list((home / "classes").iterdir()) == []
    take_in(home, folder)
    assert journals(home) == journals(records)


def test_what_is_not_there_or_empty_is_said(tmp_path: Path, home: Path) -> None:
    with pytest.raises(NotFound, match="there is no file"):
        take_in(home, tmp_path)
    (tmp_path / "classes.jsonl").write_bytes(b"\n")
    with pytest.raises(NotFound, match="no class"):
        take_in(home, tmp_path)


@pytest.mark.parametrize("name", ["..", "../x", "a/b", "", ".hidden", "a b", "x" * 90, "a.b", "C:\\x"])
def test_a_class_that_would_be_a_file_elsewhere_is_refused(name: str) -> None:
    with pytest.raises(ChangedLine, match="no id that could be one"):
        from_json(to_json(CarriedLine(name, 1, b"x")))


LINES = st.one_of(
    st.binary(max_size=40).filter(lambda data: b"\n" not in data),
    st.dictionaries(st.text(max_size=5), st.one_of(st.text(max_size=8), st.integers(0, 9), st.floats(0, 1)), max_size=3).map(
        lambda values: encode({key: value for key, value in values.items() if key not in ("v", "check")})[:-1]
    ),
    st.sampled_from([b"", b"\r", b"=1+1", b"+41", b"@x", b'"', b"{}", b"1e5", encode({"a": "\x7f"})[:-1] + b"\r"]),
)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(lines=st.lists(LINES, max_size=6), end=st.sampled_from([b"", b"\n"]))
def test_any_bytes_go_out_and_come_back(lines: list[bytes], end: bytes) -> None:
    data = b"\n".join(lines) + end
    carried = list(journal_lines("20261125-1831-7f3a", data))
    assert b"".join(line.data + (b"" if line.open else b"\n") for line in carried) == data
    assert [from_json(to_json(line)) for line in carried] == carried
    names = ("class", "line", "event", "at", "athlete", "wall", "form", "record")
    assert [from_row({n: str(v) for n, v in zip(names, to_row(line), strict=True)}) for line in carried] == carried
