"""Lines of signs."""

from __future__ import annotations

import pytest

from floorclock.report.terminal import line_of, span_of


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
