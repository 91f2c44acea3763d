"""Contrast by the formula of WCAG 2.2, signs without colour, figures that nobody has.

`tests/tui/base/test_palette.py` checks the formula and the hues against published values.
"""

from __future__ import annotations

import pytest
from rich.style import Style

from floorclock.digest.rest_grid import Cell, Kind
from floorclock.tui.review.rests import rest_cell
from floorclock.tui.review.view import ALL_STYLES, rest_seconds, seconds, slope_figure
from tests.tui.base.test_palette import TEXT_CONTRAST, contrast


@pytest.mark.parametrize("style", ALL_STYLES, ids=str)
def test_every_text_stands_out_from_its_ground(style: Style) -> None:
    assert style.color is not None
    assert style.bgcolor is not None
    assert contrast(style.color.name, style.bgcolor.name) >= TEXT_CONTRAST


@pytest.mark.parametrize("width", [4, 5, 9, 14, 24, 34])
def test_the_four_kinds_of_cell_differ_without_colour(width: int) -> None:
    cells = [
        Cell(Kind.KEPT, 12_000, 9_000, 60_000),
        Cell(Kind.SHORT, 12_000, 15_000, 60_000),
        Cell(Kind.NOT_FINISHED),
        Cell(Kind.UNTAPPED),
    ]
    drawn = [rest_cell(cell, width).plain for cell in cells]
    assert len(set(drawn)) == 4
    assert max(map(len, drawn)) <= width
    assert "!12" in drawn[1]
    assert "12" in drawn[0]
    assert "!" not in drawn[0]
    assert "/" in drawn[2]


@pytest.mark.parametrize(
    ("ms", "words"), [(None, "-"), (44_290, "44.2"), (64_290, "1:04.2"), (600_000, "10:00.0"), (3_725_990, "62:05.9")]
)
def test_a_split_is_cut_off_as_a_stopwatch_does(ms: float | None, words: str) -> None:
    assert seconds(ms) == words


def test_a_figure_that_nobody_has_is_a_dash() -> None:
    assert (rest_seconds(None), slope_figure(None)) == ("-", "-")
    assert (rest_seconds(99_990), slope_figure(1_240), slope_figure(-10)) == ("99", "+1.2", "+0.0")
