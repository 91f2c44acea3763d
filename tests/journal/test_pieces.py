"""The pieces of a journal: put together again, they are the journal, whatever it is."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from floorclock.journal.lines import encode, pieces
from floorclock.journal.reading import read_bytes
from tests.journal.sample_class import journal_bytes

SOME = journal_bytes(4)
BITS = st.sampled_from([*SOME.splitlines(keepends=True), b"\n", b"\r\n", b"", b"junk", SOME[:50], encode({"seq": 9})[:-1]])


@given(st.one_of(st.binary(max_size=200), st.lists(BITS, max_size=8).map(b"".join)))
def test_pieces_put_together_are_the_bytes(data: bytes) -> None:
    found = list(pieces(data))
    assert b"".join(piece.data for piece in found) == data
    assert all(piece.data.endswith(b"\n") for piece in found if piece.ends)


def test_whole_records_are_found_as_the_reader_finds_them() -> None:
    header, first, *rest = SOME.splitlines(keepends=True)
    data = header + b"torn" + first + first[:-1] + b"x" + rest[0] + rest[1][:-1]
    whole = [piece.data for piece in pieces(data) if piece.whole]
    assert whole == [header[:-1], first[:-1], first[:-1], rest[0][:-1], rest[1][:-1]]
    assert len(read_bytes(data).events) == 3
    assert [piece.torn for piece in pieces(data + b"ab")][-1]
