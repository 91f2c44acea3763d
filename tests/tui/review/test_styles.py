"""Contrast by the formula of WCAG 2.2, hues of Okabe and Ito.

`tests/floor/test_palette.py` checks the formula and the hues against published values.
"""

from __future__ import annotations

import pytest
from rich.style import Style

from floorclock.digest.rest_grid import Cell, Kind
from floorclock.tui.base.palette import DIM, GROUND, INK, ORANGE, REDDISH_PURPLE, SKY_BLUE, VERMILLION
from floorclock.tui.review.pace_plot import COMING, MARGIN, REACH, TAKEN, station_chart, station_points
from floorclock.tui.review.rest_grid import cell_segments
from floorclock.tui.review.styles import ALL_STYLES, FLAG_STYLE, MISSED_SIGN, SHORT_SIGN
from tests.tui.base.test_palette import TEXT_CONTRAST, contrast, rows_of
from tests.tui.review.sample_reviews import big_class

PLOTTED = {SKY_BLUE, VERMILLION, ORANGE, REDDISH_PURPLE}


@pytest.mark.parametrize("style", [*ALL_STYLES, *FLAG_STYLE.values()], ids=str)
def test_every_text_stands_out_from_its_ground(style: Style) -> None:
    assert style.color is not None
    assert style.bgcolor is not None
    assert contrast(style.color.name, style.bgcolor.name) >= TEXT_CONTRAST


@pytest.mark.parametrize("colour", sorted({*PLOTTED, DIM, INK}))
def test_every_point_of_a_plot_stands_out_from_the_ground(colour: str) -> None:
    assert contrast(colour, GROUND) >= TEXT_CONTRAST


def test_the_plots_use_the_hues_of_okabe_and_ito() -> None:
    assert {row["hex"] for row in rows_of("okabe_ito.csv")} >= PLOTTED


@pytest.mark.parametrize("width", [4, 5, 9, 14, 24, 34])
def test_the_four_kinds_of_cell_differ_without_colour(width: int) -> None:
    cells = [
        Cell(Kind.KEPT, 12_000, 9_000, 60_000),
        Cell(Kind.SHORT, 12_000, 15_000, 60_000),
        Cell(Kind.NOT_FINISHED),
        Cell(Kind.UNTAPPED),
    ]
    drawn = ["".join(segment.text for segment in cell_segments(cell, width)) for cell in cells]
    assert len(set(drawn)) == 4
    assert {len(text) for text in drawn} == {width}
    assert "!12" in drawn[1]
    assert "12" in drawn[0]
    assert "!" not in drawn[0]
    assert "/" in drawn[2]


def test_signs_of_a_plot_differ_from_each_other() -> None:
    signs = [TAKEN, SHORT_SIGN, MISSED_SIGN, COMING, REACH, MARGIN]
    assert len(set(signs)) == len(signs)


def test_a_plot_never_tells_two_kinds_apart_by_colour_alone() -> None:
    part = big_class(9, 6, run_of=3).parts[0]
    for athlete in part.athletes:
        for points in station_points(athlete, part):
            traces = station_chart(points, (20, 60), 60, 14).traces
            colours: dict[str, set[str]] = {}
            for trace in traces:
                colours.setdefault(trace.sign, set()).add(trace.colour)
            assert all(len(found) == 1 for found in colours.values())
            assert {trace.colour for trace in traces} <= {*PLOTTED, DIM, INK}
