"""A file of lines that only grows: whole lines count, whatever lies between them."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.errors import ResourceError
from floorclock.journal.kept_lines import append_lines, lines_of, read_lines
from floorclock.journal.lines import encode
from tests.journal.failing_disk import RefusingDisk

LINES = [encode({"n": number}) for number in range(4)]


@given(st.lists(st.one_of(st.sampled_from(LINES), st.binary(max_size=12).map(lambda data: data + b"\n")), max_size=8))
def test_every_whole_line_is_found_whatever_stands_between(pieces: list[bytes]) -> None:
    found = lines_of(b"".join(pieces))
    assert [encode({"n": line["n"]}) for line in found] == [piece for piece in pieces if piece in LINES]


def test_several_lines_are_added_together_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "a" / "kept.jsonl"
    append_lines(path, [{"n": 0}])
    append_lines(path, [{"n": 1}, {"n": 2}])
    assert path.read_bytes() == b"".join(LINES[:3])
    with pytest.raises(ResourceError, match="it was not kept: disk full"):
        append_lines(path, [{"n": 3}], RefusingDisk(errno.ENOSPC))
    assert path.read_bytes() == b"".join(LINES[:3])
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700


def test_a_file_that_is_not_there_holds_nothing_and_one_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    assert read_lines(tmp_path / "none.jsonl") == ()
    with pytest.raises(ResourceError, match="cannot be read"):
        read_lines(tmp_path)
