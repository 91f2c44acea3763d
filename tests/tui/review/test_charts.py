"""Plots: exact size, signs for every kind of point, no state left behind."""

from __future__ import annotations

import pytest

from floorclock.tui.base.lines import width_of
from floorclock.tui.base.palette import INK, ORANGE
from floorclock.tui.review.charts import Chart, Trace, bounds, chart_lines, marks

CHART = Chart(
    traces=(Trace((1, 2, 3), (10, 20, 30), "A", INK), Trace((1, 3), (30, 10), "B", ORANGE)),
    x_range=(0.5, 3.5),
    y_range=(0, 40),
    x_marks=((1, "1"), (2, "2"), (3, "3")),
    y_marks=((0, "0"), (40, "40")),
)


def text_of(chart: Chart, width: int, height: int) -> str:
    return "\n".join("".join(segment.text for segment in line) for line in chart_lines(chart, width, height))


@pytest.mark.parametrize("size", [(16, 5), (26, 9), (80, 24), (238, 60)])
def test_a_plot_fills_its_room_exactly(size: tuple[int, int]) -> None:
    lines = chart_lines(CHART, *size)
    assert len(lines) == size[1]
    assert {width_of(line) for line in lines} == {size[0]}


def test_each_trace_has_its_sign() -> None:
    text = text_of(CHART, 60, 15)
    assert text.count("A") == 3
    assert text.count("B") == 2


def test_a_higher_value_stands_higher_and_a_later_round_further_right() -> None:
    rows = text_of(Chart(traces=CHART.traces[:1], x_range=(0.5, 3.5), y_range=(0, 40), x_marks=(), y_marks=()), 60, 15).split(
        "\n"
    )
    places = [(x, y) for y, row in enumerate(rows) for x, letter in enumerate(row) if letter == "A"]
    assert sorted(places) == sorted(places, key=lambda place: -place[1])


def test_one_plot_leaves_no_trace_in_the_next() -> None:
    first = text_of(CHART, 50, 12)
    chart_lines.cache_clear()
    text_of(Chart(traces=(Trace((1,), (1,), "Z", INK),), x_range=(0, 2), y_range=(0, 2), x_marks=(), y_marks=()), 50, 12)
    assert text_of(CHART, 50, 12) == first


def test_too_little_room_is_no_plot() -> None:
    assert chart_lines(CHART, 15, 20) == ()
    assert chart_lines(CHART, 40, 4) == ()


def test_marks_are_round_numbers_within_the_range() -> None:
    assert marks(23, 61, 4) == (30, 40, 50, 60)
    assert marks(1, 30, 6) == (5, 10, 15, 20, 25, 30)
    assert marks(1, 1, 3) == (1,)


def test_bounds_hold_all_values_and_never_go_below_zero() -> None:
    low, high = bounds([40.0, 52.0])
    assert low < 40 < 52 < high
    assert bounds([0.2])[0] == 0.0
    assert bounds([30, 30])[1] - bounds([30, 30])[0] >= 4
