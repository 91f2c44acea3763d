"""One line of a journal: its check, finding whole lines in damaged ones, and the pieces of a whole journal."""

from __future__ import annotations

import json
import zlib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.journal import lines
from floorclock.journal.lines import decode, encode, find_records, is_whole, pieces
from floorclock.journal.reading import read_bytes
from tests.journal.sample_class import journal_bytes

texts = st.text(st.characters(codec=None))
values = st.dictionaries(
    texts.filter(lambda key: key not in ("v", "check")), st.integers() | texts | st.none() | st.booleans(), max_size=5
)


def crc_32(data: bytes) -> int:
    """CRC-32 bit by bit, as ISO 3309 and RFC 1952 section 8 define it: reflected polynomial EDB88320, all ones in and out."""
    register = 0xFFFFFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = (register >> 1) ^ (0xEDB88320 if register & 1 else 0)
    return register ^ 0xFFFFFFFF


def test_the_bitwise_check_gives_the_published_check_value() -> None:
    # The catalogue's check value of CRC-32 for the nine digits (from memory, sure).
    assert crc_32(b"123456789") == 0xCBF43926


@given(values)
def test_a_line_carries_the_crc_32_of_itself_without_the_check(record: dict[str, Any]) -> None:
    line = encode(record)
    body, check = line.rstrip(b"\n").rsplit(b',"check":', 1)
    assert json.loads(check[:-1]) == f"{crc_32(body + b'}'):08x}"


@given(values)
def test_a_line_reads_back_as_it_was_whatever_the_text(record: dict[str, Any]) -> None:
    line = encode(record)
    assert line.count(b"\n") == 1
    assert is_whole(line[:-1])
    assert decode(line[:-1]) == {"v": 1, **record}


@given(values, st.data())
def test_neither_a_part_of_a_line_nor_one_with_a_changed_bit_is_taken_for_it(record: dict[str, Any], data: st.DataObject) -> None:
    line = bytearray(encode(record)[:-1])
    assert not is_whole(bytes(line[: data.draw(st.integers(0, len(line) - 1))]))
    bit = data.draw(st.integers(0, len(line) * 8 - 1))
    line[bit // 8] ^= 1 << bit % 8
    assert not is_whole(bytes(line))


@given(st.lists(values, max_size=4), st.lists(st.binary(max_size=20), min_size=5, max_size=5))
def test_whole_lines_are_found_between_rubbish(records: list[dict[str, Any]], rubbish: list[bytes]) -> None:
    damaged = rubbish[0] + b"".join(encode(record)[:-1] + after for record, after in zip(records, rubbish[1:], strict=False))
    found = [decode(damaged[start:end]) for start, end in find_records(damaged)]
    assert found == [{"v": 1, **record} for record in records]


def test_a_torn_start_does_not_hide_the_line_that_follows_it() -> None:
    whole = encode({"seq": 2})[:-1]
    assert find_records(encode({"seq": 1, "athlete": "Ilka"})[:20] + whole) == [(20, 20 + len(whole))]


def test_what_is_no_object_is_refused_with_a_value_error() -> None:
    for text in (b"[1]", b"1", b"", b"{", b"[" * 100_000):
        with pytest.raises(ValueError, match=r".+"):
            decode(text)


def test_a_number_that_is_none_is_neither_written_nor_read() -> None:
    """RFC 8259, section 6: numeric values that cannot be represented in its grammar (Infinity, NaN) are not permitted."""
    with pytest.raises(ValueError, match="JSON"):
        encode({"speed": float("nan")})
    for written in (b"NaN", b"-Infinity", b"1e999"):
        with pytest.raises(ValueError, match="JSON"):
            decode(b'{"speed": ' + written + b"}")


SOME = journal_bytes(4)
BITS = st.sampled_from([*SOME.splitlines(keepends=True), b"\n", b"\r\n", b"", b"junk", SOME[:50], encode({"seq": 9})[:-1]])


@given(st.one_of(st.binary(max_size=200), st.lists(BITS, max_size=8).map(b"".join)))
def test_pieces_put_together_are_the_bytes(data: bytes) -> None:
    found = list(pieces(data))
    assert b"".join(piece.data for piece in found) == data
    assert all(piece.data.endswith(b"\n") for piece in found if piece.ends)


def test_whole_records_are_found_among_damage() -> None:
    header, first, *rest = SOME.splitlines(keepends=True)
    data = header + b"torn" + first + first[:-1] + b"x" + rest[0] + rest[1][:-1]
    whole = [piece.data for piece in pieces(data) if piece.whole]
    assert whole == [header[:-1], first[:-1], first[:-1], rest[0][:-1], rest[1][:-1]]
    assert [piece.torn for piece in pieces(data + b"ab")][-1]


SUMMED_AT_MOST = 10
"""Each byte is summed for the last eight starts before a check; once more for the line itself."""


@pytest.mark.parametrize(
    "junk",
    [
        b',"check":"00000000"}' * 5_000,
        b'{"v":,"check":"00000000"}' * 5_000,
        b'{"v":' * 20_000,
        b'{"v":1' + b',"check":"00000000"}' * 5_000,
    ],
    ids=["checks", "starts and checks", "starts", "one start and checks"],
)
def test_the_work_grows_with_the_length_of_a_line_alone(junk: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
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


def test_empty_lines_count_as_lines_and_are_passed_over_together() -> None:
    header, first, *_ = SOME.splitlines(keepends=True)
    data = header + b"\n \n\r\n" + first + b"junk\n"
    assert [str(damage) for damage in read_bytes(data).damage] == ["line 6: does not fit its check"]
    assert [piece.line for piece in pieces(data) if not piece.ends] == [1, 5, 6]
    many = b"\n" * 300_000 + b" \r\n" * 30_000
    assert len(list(pieces(many))) == 1
    assert [piece.line for piece in pieces(many + b"junk\n") if not piece.ends] == [330_001]
