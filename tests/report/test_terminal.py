"""Rows under headings at any width, and lines of signs."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from floorclock.report.terminal import fitted, line_of, span_of
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


def test_the_smallest_and_the_largest_have_the_ends() -> None:
    assert line_of([0.0, 4.0, 8.0], 10, low=0, high=8) == "▁▄█"
    assert line_of([0.0, 4.0, 8.0], 10, low=0, high=8, plain=True) == "148"


def test_a_hole_is_unknown_and_what_lies_beyond_is_drawn_at_the_end() -> None:
    assert line_of([None, -5.0, 50.0], 10, low=0, high=8) == "·▁█"
    assert line_of([None], 10, low=0, high=8, plain=True) == "?"


def test_neighbours_share_a_sign_where_there_are_too_many() -> None:
    assert line_of([1.0, 3.0, None, 8.0, None, None], 3, low=0, high=8) == "▂█·"
    for count in range(40, 200, 7):
        assert len(line_of([1.0] * count, 32, low=0, high=1)) == 32


def test_equal_values_are_all_tall_where_there_is_no_span() -> None:
    assert line_of([2.0, 2.0], 5, low=2, high=2) == "██"


@pytest.mark.parametrize(("values", "span"), [([1.0, 1.0], (0.5, 1.5)), ([0.0, 4.0], (0.0, 4.0)), ([3.0, 3.5], (2.75, 3.75))])
def test_noise_alone_fills_no_picture(values: list[float], span: tuple[float, float]) -> None:
    assert span_of(values, 1.0) == span
