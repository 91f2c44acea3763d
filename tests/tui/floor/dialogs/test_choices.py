from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.tui.floor.dialogs.choices import Choice, choice_lines, columns_in, moved, window_start
from floorclock.tui.floor.dialogs.parts import cells

TEN = [Choice(f"name {number}", key=str(number), shown=str(number)) for number in range(10)]


@pytest.mark.parametrize(
    ("cursor", "key", "there"),
    [
        (0, "up", 0),
        (0, "down", 3),
        (4, "up", 1),
        (9, "down", 9),
        (8, "down", 8),
        (0, "left", 0),
        (2, "right", 3),
        (9, "right", 9),
        (5, "home", 0),
        (5, "end", 9),
        (1, "pagedown", 7),
        (8, "pagedown", 9),
        (8, "pageup", 2),
        (5, "x", None),
        (5, "enter", None),
    ],
)
def test_the_cursor_moves_in_three_columns_of_two_rows(cursor: int, key: str, there: int | None) -> None:
    assert moved(cursor, key, 10, 3, 2) == there


def test_left_and_right_mean_nothing_in_one_column() -> None:
    assert moved(3, "left", 10, 1, 5) is None
    assert moved(3, "right", 10, 1, 5) is None


@given(st.integers(0, 99), st.integers(1, 100), st.integers(1, 30))
def test_the_window_always_holds_the_cursor(at: int, count: int, rows: int) -> None:
    at = min(at, count - 1)
    first = window_start(at, count, rows)
    assert 0 <= first <= at < first + rows


@given(st.integers(0, 9), st.integers(24, 80), st.integers(1, 10), st.integers(1, 4))
def test_the_chosen_one_is_always_among_the_lines(cursor: int, width: int, rows: int, columns: int) -> None:
    lines = choice_lines(TEN, cursor, width, rows, columns)
    chosen = [part for line in lines for part in line if part.ink == "chosen"]
    assert len(lines) <= rows
    assert [part.pick for part in chosen] == [cursor]
    assert all(cells(line) <= width for line in lines)


def test_the_name_is_kept_before_the_note() -> None:
    line = choice_lines([Choice("Alexandra", note="runs out in round 5"), Choice("Bo")], 1, 24, 2)[0]
    text = "".join(part.text for part in line)
    assert "Alexandra  runs out" in text
    assert text.rstrip().endswith("…")


def test_columns_are_as_many_as_fit() -> None:
    assert columns_in(74, 40, 18) == 4
    assert columns_in(74, 2, 18) == 2
    assert columns_in(10, 40, 18) == 1


def test_no_choices_are_no_lines() -> None:
    assert choice_lines([], 0, 40, 5) == []
    assert choice_lines(TEN, 0, 40, 0) == []
