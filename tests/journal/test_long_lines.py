"""Journals that are long in a way that no class is: the work grows with their length and no faster."""

from __future__ import annotations

import zlib

import pytest

from floorclock.journal import lines, reading
from floorclock.journal.kept_lines import lines_of
from floorclock.journal.lines import encode, find_records, pieces
from floorclock.journal.reading import read_bytes
from tests.journal.sample_class import journal_bytes

SUMMED_AT_MOST = 10
"""Each byte is summed for the last eight starts before a check; once more for the line itself."""


@pytest.mark.parametrize(
    "junk",
    [
        b',"check":"00000000"}' * 20_000,
        b'{"v":,"check":"00000000"}' * 20_000,
        b'{"v":' * 80_000,
        b'{"v":1' + b',"check":"00000000"}' * 20_000,
    ],
    ids=["checks", "starts and checks", "starts", "one start and checks"],
)
def test_a_line_of_repeated_checks_is_read_in_one_pass_and_what_is_whole_in_it_is_found(
    junk: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    summed = 0

    def counted(data: bytes, start: int = 0) -> int:
        nonlocal summed
        summed += len(data)
        return zlib.crc32(data, start)

    monkeypatch.setattr(lines, "crc32", counted)
    whole = encode({"seq": 1, "athlete": "Ilka"})[:-1]
    damaged = junk + whole + junk
    summed = 0
    assert find_records(damaged) == [(len(junk), len(junk) + len(whole))]
    assert summed <= SUMMED_AT_MOST * len(damaged)


def test_empty_lines_are_passed_over_together(monkeypatch: pytest.MonkeyPatch) -> None:
    taken: list[int] = []
    monkeypatch.setattr(reading._Found, "take_line", lambda self, number, line: taken.append(number))
    blank = b"\n" * 3_000_000 + b" \r\n" * 300_000
    read_bytes(blank + b"x\n" + blank + b"y\n")
    assert taken == [3_300_001, 6_600_002]


def test_empty_lines_count_as_lines_and_cost_nothing_else() -> None:
    header, first, *_ = journal_bytes(3).splitlines(keepends=True)
    data = header + b"\n \n\r\n" + first + b"junk\n"
    assert [str(one) for one in read_bytes(data).damage] == ["line 6: does not fit its check"]
    assert [piece.line for piece in pieces(data) if not piece.ends] == [1, 5, 6]
    assert lines_of(b"\n" * 3_000_000 + b"junk\n" + first).damaged == (3_000_001,)
