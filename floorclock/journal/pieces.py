"""The bytes of a journal as the pieces they are made of, for whoever must change some and keep all others as they are.

Invariant: the pieces put together again are the bytes, whatever they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from floorclock.journal.lines import find_records, is_whole


@dataclass(frozen=True, slots=True)
class Piece:
    """A whole record, or what lies between records. `line` counts from 1; `ends` is true for the end of a line, and nothing else.

    `torn`: behind the last line end, and not whole.
    """

    line: int
    data: bytes
    whole: bool = False
    ends: bool = False
    torn: bool = False


def pieces(data: bytes) -> Iterator[Piece]:
    """The pieces of a journal, in their order."""
    start, number = 0, 0
    while (end := data.find(b"\n", start)) >= 0:
        number += 1
        line = data[start:end]
        bare = line.rstrip(b"\r")
        yield from _inside(number, bare, torn=False)
        yield Piece(number, data[start + len(bare) : end + 1], ends=True)
        start = end + 1
    yield from _inside(number + 1, data[start:], torn=True)


def _inside(number: int, line: bytes, *, torn: bool) -> Iterator[Piece]:
    if is_whole(line):
        yield Piece(number, line, whole=True)
        return
    at = 0
    for start, end in find_records(line):
        if start > at:
            yield Piece(number, line[at:start], torn=torn)
        yield Piece(number, line[start:end], whole=True)
        at = end
    if line[at:]:
        yield Piece(number, line[at:], torn=torn)
