"""One line of a journal: its check, and finding whole lines in damaged ones."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.journal.lines import decode, encode, find_records, is_whole

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
def test_any_changed_bit_shows(record: dict[str, Any], data: st.DataObject) -> None:
    line = bytearray(encode(record)[:-1])
    bit = data.draw(st.integers(0, len(line) * 8 - 1))
    line[bit // 8] ^= 1 << bit % 8
    assert not is_whole(bytes(line))


@given(values, st.data())
def test_no_part_of_a_line_is_taken_for_the_line(record: dict[str, Any], data: st.DataObject) -> None:
    line = encode(record)[:-1]
    assert not is_whole(line[: data.draw(st.integers(0, len(line) - 1))])


@given(st.lists(values, max_size=4), st.lists(st.binary(max_size=20), min_size=5, max_size=5))
def test_whole_lines_are_found_between_rubbish(records: list[dict[str, Any]], rubbish: list[bytes]) -> None:
    damaged = rubbish[0] + b"".join(encode(record)[:-1] + after for record, after in zip(records, rubbish[1:], strict=False))
    found = [decode(damaged[start:end]) for start, end in find_records(damaged)]
    assert found == [{"v": 1, **record} for record in records]


def test_a_torn_start_does_not_hide_the_line_that_follows_it() -> None:
    whole = encode({"seq": 2})[:-1]
    assert find_records(encode({"seq": 1, "athlete": "Ilka"})[:20] + whole) == [(20, 20 + len(whole))]


def test_a_very_long_line_of_half_records_is_searched_in_no_time() -> None:
    damaged = (b'{"v":1' * 50 + b',"check":"00000000"}') * 2_000
    assert find_records(damaged) == []


@pytest.mark.parametrize("text", [b"[1]", b"1", b"", b"{", b"[" * 100_000])
def test_what_is_no_object_is_refused_with_a_value_error(text: bytes) -> None:
    with pytest.raises(ValueError, match=r".+"):
        decode(text)


def test_a_number_that_is_none_is_not_written() -> None:
    with pytest.raises(ValueError, match="JSON"):
        encode({"speed": float("nan")})
