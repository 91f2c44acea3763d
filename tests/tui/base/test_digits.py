"""Numerals: distinct, of the width they say, as large as the room."""

from __future__ import annotations

import itertools

import pytest

from floorclock.tui.base.digits import (
    SMALLEST,
    STROKES,
    NumeralSize,
    largest_size,
    numeral,
    numeral_width,
    size_of,
    text_width,
)

SIZES = [SMALLEST, *(size_of(width, rows) for rows in range(5, 41, 3) for width in (rows, rows * 5 // 4, round(rows * 1.6)))]
NUMERALS = [char for char in STROKES if char != " "]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_every_numeral_is_told_from_every_other(size: NumeralSize) -> None:
    for one, other in itertools.combinations(NUMERALS, 2):
        assert numeral(one, size) != numeral(other, size), (one, other)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_numerals_differ_in_one_cell_of_30_at_least(size: NumeralSize) -> None:
    for one, other in itertools.combinations("0123456789", 2):
        rows = list(zip(numeral(one, size), numeral(other, size), strict=True))
        different = sum(a != b for high, low in rows for a, b in zip(high, low, strict=True))
        assert different * 30 >= len(rows) * len(rows[0][0]), (one, other, different)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_colon_is_two_dots(size: NumeralSize) -> None:
    halves = [
        half for row in numeral(":", size) for half in ((row[0] in "█▀", row[0] in "█▄") if size.halved else (row[0] == "█",))
    ]
    assert [inside for inside, _ in itertools.groupby(halves)].count(True) == 2


def test_every_numeral_is_exactly_as_wide_and_high_as_its_size_says() -> None:
    for size, char in itertools.product(SIZES, NUMERALS):
        rows = numeral(char, size)
        assert len(rows) == size.rows
        assert {len(row) for row in rows} == {numeral_width(char, size)}


@pytest.mark.parametrize(("width", "rows"), [(20, 3), (44, 7), (92, 20), (140, 40), (300, 70)])
def test_numerals_grow_with_the_room_and_stay_inside_it(width: int, rows: int) -> None:
    size = largest_size("8:88", width, rows)
    assert size is not None
    assert text_width("8:88", size) <= width
    assert size.rows <= rows
    smaller = largest_size("8:88", width * 2 // 3, rows * 2 // 3)
    assert smaller is None or smaller.rows <= size.rows


@pytest.mark.parametrize(("width", "rows"), [(60, 9), (92, 20), (140, 40), (300, 70)])
def test_numerals_keep_the_proportions_of_legible_characters(width: int, rows: int) -> None:
    # NUREG-0700 rev. 2, 1.3.1: the width of a character is 0.5 to 1.0 of its height. A cell is about half as wide as high.
    size = largest_size("8:88", width, rows)
    assert size is not None
    assert 0.5 <= size.width / (2 * size.rows) <= 1.0


def test_there_are_no_numerals_where_there_is_no_room() -> None:
    assert largest_size("88:88", 12, 30) is None
    assert largest_size("88:88", 80, 2) is None


def test_strokes_are_whole_rows_except_in_the_smallest_size() -> None:
    for size in SIZES[1:]:
        assert set("".join(row for char in "0123456789:.-" for row in numeral(char, size))) <= {"█", " "}
    assert set("".join(row for char in "0123456789" for row in numeral(char, SMALLEST))) & set("▀▄")
