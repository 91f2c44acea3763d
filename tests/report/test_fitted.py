"""Rows under headings at any width."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from floorclock.report.terminal import fitted
from tests.report.printing import printed

HEADINGS = ("who", "count", "why")
ROWS = [("Ilka", "12", "a long reason that goes on and on"), ("[b]Liselotte Amaryllis", "3", "short")]


def test_with_room_it_is_a_table() -> None:
    lines = printed(lambda console: console.print(fitted(HEADINGS, ROWS, 80, right="count")), 80).splitlines()
    assert lines[0].split() == list(HEADINGS)
    assert lines[1].split()[:3] == ["Ilka", "12", "a"]
    assert lines[2].startswith("[b]Liselotte Amaryllis      3  short")


def test_what_may_be_folded_gives_way_first() -> None:
    lines = printed(lambda console: console.print(fitted(HEADINGS, ROWS, 50, folds="why")), 50).splitlines()
    assert max(map(cell_len, lines)) <= 50
    assert any(line.startswith("Ilka") and "12" in line for line in lines)


def test_without_room_it_is_stacked() -> None:
    lines = printed(lambda console: console.print(fitted(HEADINGS, ROWS, 30)), 30).splitlines()
    assert lines[0].rstrip() == "Ilka"
    assert lines[1].strip().startswith("count: 12   why: a long")
    assert "…" not in "".join(lines)


@pytest.mark.parametrize("room", range(5, 80, 5))
def test_every_cell_is_there_at_every_width(room: int) -> None:
    text = printed(lambda console: console.print(fitted(HEADINGS, ROWS, room, folds="why")), room)
    bare = "".join(text.split())
    assert "12" in bare
    assert max(map(cell_len, text.splitlines())) <= room
