"""Lines: cut by cells, never by characters; what differs is found to the cell."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style

from floorclock.tui.base.lines import changed_span, cut, fit, fit_right, padded, plain, shielded, width_of, wrapped
from floorclock.tui.base.palette import STRONG, TEXT
from tests.odd_names import ODD_NAMES

names = st.one_of(st.sampled_from(ODD_NAMES), st.text(max_size=40))


@given(names, st.integers(0, 30))
def test_a_fitted_text_takes_exactly_its_cells(name: str, width: int) -> None:
    assert cell_len(fit(name, width)) == width
    assert cell_len(fit_right(name, width)) == width
    assert cell_len(cut(name, width)) <= width


@given(st.lists(names, max_size=5), st.integers(0, 60))
def test_a_padded_line_takes_exactly_its_cells(texts: list[str], width: int) -> None:
    assert width_of(padded([Segment(plain(text), TEXT) for text in texts], width)) == width


@given(st.text(max_size=80), st.integers(1, 30), st.integers(1, 4))
def test_wrapped_lines_stay_in_their_box(text: str, width: int, rows: int) -> None:
    lines = wrapped(text, width, rows)
    assert 1 <= len(lines) <= rows
    assert all(cell_len(line) <= width for line in lines)


def test_wrapping_says_when_something_is_left_out() -> None:
    assert wrapped("one two three four", 9, 2) == ["one two", "three fo…"]


def test_control_characters_never_reach_a_line() -> None:
    assert plain("a\x1b[31mb\x07\n") == "a�[31mb��"


def test_a_name_from_right_to_left_is_closed_by_a_mark_without_width() -> None:
    assert shielded("נועה").endswith("\u200e")
    assert cell_len(shielded("נועה")) == cell_len("נועה")
    assert shielded("Ilka") == "Ilka"


@pytest.mark.parametrize(
    ("old", "new", "span"),
    [
        (["abc", "def"], ["abc", "def"], None),
        (["abc", "def"], ["abc", "dxf"], (4, 5)),
        (["abc", "dëf"], ["abc", "dxf"], (3, 6)),
        (["ab", "cd", "ef"], ["ab", "xx", "ef"], (2, 4)),
        (["李", "ab"], ["李", "cd"], (2, 4)),
    ],
)
def test_the_changed_span_covers_what_differs(old: list[str], new: list[str], span: tuple[int, int] | None) -> None:
    before, after = (tuple(Segment(text, STRONG) for text in texts) for texts in (old, new))
    assert changed_span(before, after) == span


pieces = st.lists(
    st.tuples(st.text(alphabet="ab ", min_size=1, max_size=5), st.sampled_from([TEXT, STRONG])), min_size=1, max_size=6
)


@given(pieces, pieces)
def test_outside_of_the_changed_span_every_cell_is_the_same(old: list[tuple[str, Style]], new: list[tuple[str, Style]]) -> None:
    before, after = (padded([Segment(text, style) for text, style in line], 16) for line in (old, new))
    span = changed_span(before, after)
    cells = [[(char, segment.style) for segment in line for char in segment.text] for line in (before, after)]
    changed = [x for x in range(16) if cells[0][x] != cells[1][x]]
    assert not changed or (span is not None and span[0] <= changed[0] and changed[-1] < span[1])
    assert span is None or 0 <= span[0] < span[1] <= 16
