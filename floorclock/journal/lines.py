"""One record of a journal: a JSON object on a line of its own that carries its own check.

Invariant: a record is taken only if its check fits its bytes, so that a changed byte is never mistaken for what was written.
The check is the CRC-32 (as in zlib) of the line as it is without the check, in eight hexadecimal digits.
"""

from __future__ import annotations

import json
import math
import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple
from zlib import crc32

VERSION = 1
"""The version of the journal's format that this floorclock writes."""

_STARTS = re.compile(rb'\{"v":')
_CHECK = re.compile(rb',"check":"([0-9a-f]{8})"\}')
_CHECK_LENGTH = len(',"check":"00000000"}')
_STARTS_TRIED = 8
_BLANK_LINES = re.compile(rb"(?:[ \t\r]*\n)+")


def encode(values: Mapping[str, Any]) -> bytes:
    """The line for some JSON-ready values, with its version first, its check last and its line end.

    Raises:
        TypeError, ValueError: a value has no place in JSON.
    """
    values = {"v": VERSION, **values}
    try:
        body = json.dumps(values, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
    except UnicodeEncodeError:
        # Half a surrogate pair has no UTF-8; escaped, it is kept as it is.
        body = json.dumps(values, allow_nan=False, separators=(",", ":")).encode("ascii")
    return body[:-1] + b',"check":"%08x"}\n' % crc32(body)


def is_whole(record: bytes) -> bool:
    """Whether a line (without its line end) is as it was written."""
    found = _CHECK.fullmatch(record, max(0, len(record) - _CHECK_LENGTH))
    return found is not None and crc32(b"}", crc32(record[:-_CHECK_LENGTH])) == int(found[1], 16)


def find_records(damaged: bytes) -> list[tuple[int, int]]:
    """Where whole records stand inside a damaged line: one whose line end was lost, or that follows a torn one.

    The last few starts before each check are tried, and the sum of each is carried on from check to check, so that the work
    grows with the length of the line alone, whatever is in it.
    """
    starts = [found.start() for found in _STARTS.finditer(damaged)]
    view = memoryview(damaged)
    found: list[tuple[int, int]] = []
    sums: dict[int, tuple[int, int]] = {}
    after = 0
    for check in _CHECK.finditer(damaged):
        before = bisect_left(starts, check.start())
        tried = starts[max(bisect_left(starts, after), before - _STARTS_TRIED) : before]
        carried: dict[int, tuple[int, int]] = {}
        for start in reversed(tried):
            summed_to, total = sums.get(start, (start, 0))
            total = crc32(view[summed_to : check.start()], total)
            carried[start] = check.start(), total
            if crc32(b"}", total) == int(check[1], 16):
                found.append((start, check.end()))
                after, carried = check.end(), {}
                break
        sums = carried
    return found


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"{text} is no number of JSON")
    return number


_DECODER = json.JSONDecoder(parse_float=_finite, parse_constant=_finite)


def decode(record: bytes) -> dict[str, Any]:
    """The values of a record, without its check.

    Raises:
        ValueError: it is no JSON object, or holds a number that JSON does not have (RFC 8259, section 6).
    """
    try:
        values = _DECODER.decode(record.decode("utf-8", "surrogatepass"))
    except RecursionError:
        raise ValueError("nested too deep") from None
    if not isinstance(values, dict):
        raise ValueError("not a JSON object")
    values.pop("check", None)
    return values


class Fragment(NamedTuple):
    """A whole record of a journal, or what lies between records.

    `line` counts from 1; `ends` is true for the end of a line, with blank lines as a piece of their own, and nothing else.
    `torn`: behind the last line end, and not whole.
    """

    line: int
    data: bytes
    whole: bool = False
    ends: bool = False
    torn: bool = False


def pieces(data: bytes) -> Iterator[Fragment]:
    """The pieces of a journal in their order; put together again they are its bytes, whatever those are."""
    start, number = 0, 0
    while (end := data.find(b"\n", start)) >= 0:
        if blank := _BLANK_LINES.match(data, start):
            yield Fragment(number + 1, blank[0], ends=True)
            number, start = number + blank[0].count(b"\n"), blank.end()
            continue
        number += 1
        line = data[start:end]
        bare = line.rstrip(b"\r")
        yield from _inside(number, bare, torn=False)
        yield Fragment(number, data[start + len(bare) : end + 1], ends=True)
        start = end + 1
    yield from _inside(number + 1, data[start:], torn=True)


def good_end(found: Iterable[Fragment]) -> tuple[int, bool]:
    """How many bytes of a journal can be read, and whether its last record lacks its line end."""
    at, good, ends_open = 0, 0, False
    for piece in found:
        at += len(piece.data)
        if piece.whole or piece.ends:
            good, ends_open = at, piece.whole
    return good, ends_open


def _inside(number: int, line: bytes, *, torn: bool) -> Iterator[Fragment]:
    if is_whole(line):
        yield Fragment(number, line, whole=True)
        return
    at = 0
    for start, end in find_records(line):
        if start > at:
            yield Fragment(number, line[at:start], torn=torn)
        yield Fragment(number, line[start:end], whole=True)
        at = end
    if line[at:]:
        yield Fragment(number, line[at:], torn=torn)
