"""Plots: exact size, a sign for every kind of point, no state left behind."""

from __future__ import annotations

import pytest

from floorclock.tui.base.palette import DIM, GROUND
from floorclock.tui.review.plots import COLOUR, FINE, MIDDLE, OWN, bounds, laps_plot, marks, scale_of, station_plot
from tests.checks.reading import rows
from tests.tui.base.test_palette import TEXT_CONTRAST, contrast
from tests.tui.review.sample_reviews import big_class

LAPS = (60.0, 70.0, 95.0)


@pytest.mark.parametrize("size", [(16, 5), (26, 9), (80, 24), (238, 60)])
def test_a_plot_fills_its_room_exactly(size: tuple[int, int]) -> None:
    lines = laps_plot(LAPS, LAPS, *size).split("\n")
    assert len(lines) == size[1]
    assert {line.cell_len for line in lines} == {size[0]}


def test_a_later_and_longer_round_stands_further_right_and_higher() -> None:
    rows = laps_plot(LAPS, (), 60, 15).plain.split("\n")
    places = [(x, -y) for y, row in enumerate(rows) for x, letter in enumerate(row) if letter == OWN]
    assert len(places) == 3
    assert sorted(places) == sorted(places, key=lambda place: place[1])


def test_one_plot_leaves_no_trace_in_the_next() -> None:
    first = laps_plot(LAPS, (), 50, 12)
    assert MIDDLE in laps_plot(LAPS, (80.0, 80.0), 50, 12).plain
    assert laps_plot(LAPS, (), 50, 12) == first


@pytest.mark.parametrize("size", [(15, 20), (40, 4)])
def test_too_little_room_is_no_plot(size: tuple[int, int]) -> None:
    assert not laps_plot(LAPS, LAPS, *size)


def test_marks_are_round_numbers_within_the_range() -> None:
    assert marks(23, 61, 4) == [30, 40, 50, 60]
    assert marks(1, 30, 6) == [5, 10, 15, 20, 25, 30]
    assert marks(1, 1, 3) == [1]


def test_bounds_hold_all_values_and_never_go_below_zero() -> None:
    low, high = bounds([40.0, 52.0])
    assert low < 40 < 52 < high
    assert bounds([0.2])[0] == 0.0
    assert bounds([30, 30])[1] - bounds([30, 30])[0] >= 4


def test_each_sign_of_a_station_has_one_colour_and_stands_out_from_the_ground() -> None:
    part = big_class(9, 6, run_of=3).parts[0]
    assert {row["hex"] for row in rows("okabe_ito.csv")} >= {COLOUR[sign] for sign in COLOUR if sign not in (FINE, "─")}
    assert all(contrast(colour, GROUND) >= TEXT_CONTRAST for colour in {*COLOUR.values(), DIM})
    for athlete in part.athletes:
        plot = station_plot(athlete, 0, scale_of(athlete, [0]), 60, 14)
        for span in plot.spans:
            signs = set(plot.plain[span.start : span.end]) & set(COLOUR)
            colour = span.style.color.get_truecolor().hex if not isinstance(span.style, str) and span.style.color else ""
            assert all(colour.upper() == COLOUR[sign] for sign in signs if sign not in "│─")
