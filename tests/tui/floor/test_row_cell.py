"""One athlete on the board: exact width, shapes that speak without colour."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import get_args

import pytest

from floorclock.tui.base.lines import width_of
from floorclock.tui.base.palette import ALERT
from floorclock.tui.floor.row_cell import FULL_REST, STATUS_SYMBOL, cell_plan, past_picture, rest_mark, row_cell
from floorclock.tui.floor.view import FLAG_SYMBOL, Flag, RestBar, RowView
from tests.odd_names import ODD_NAMES

ROW = RowView("Ilka", "i", "Ilka", "done", "31.4", "28 left", past=(RestBar(0.4), RestBar(None), RestBar(0.1, under=True)))


def text_of(row: RowView, width: int) -> str:
    return "".join(segment.text for segment in row_cell(row, cell_plan(width)))


@pytest.mark.parametrize("name", ODD_NAMES)
@pytest.mark.parametrize("flag", get_args(Flag))
def test_a_cell_is_exactly_as_wide_as_its_plan(name: str, flag: Flag) -> None:
    for width in range(24, 90):
        row = replace(ROW, name=name, flag=flag)
        assert width_of(row_cell(row, cell_plan(width))) == width


def test_a_cell_of_the_narrowest_full_width_shows_everything() -> None:
    assert text_of(ROW, 38) == "✓ i  Ilka              31.4   28   ▆·⡀"


@pytest.mark.parametrize(
    ("row", "width", "says", "leaves_out"),
    [
        pytest.param(ROW, 50, "28 left", "[i]", id="a wide cell keeps the words"),
        pytest.param(replace(ROW, selected=True), 38, "[i]", "28 left", id="the selected row is marked by brackets too"),
        pytest.param(replace(ROW, detail="3 rounds"), 50, "3 rounds", "31.4", id="a detail stands in place of the split"),
        pytest.param(replace(ROW, detail="3 rounds"), 50, "3 rounds", "28 left", id="and in place of the rest"),
        pytest.param(
            replace(ROW, name="Maximiliana", flag="not finished"), 38, "Maximiliana   /", "not", id="a flag leaves the name whole"
        ),
        pytest.param(replace(ROW, flag="tight", quiet=True), 60, "muted !", "tight", id="a quiet flag says so in a word"),
        pytest.param(replace(ROW, quiet=True), 60, "muted", "!", id="who is quiet is said without a flag too"),
    ],
)
def test_a_cell_says_what_it_has_room_for(row: RowView, width: int, says: str, leaves_out: str) -> None:
    assert says in text_of(row, width)
    assert leaves_out not in text_of(row, width)


@pytest.mark.parametrize("flag", [flag for flag in get_args(Flag) if flag])
def test_a_flag_is_a_symbol_and_a_word(flag: Flag) -> None:
    assert f"{FLAG_SYMBOL[flag]} {flag}" in text_of(replace(ROW, flag=flag), 60)


@pytest.mark.parametrize("width", [38, 44, 60])
@pytest.mark.parametrize("quiet", [False, True])
def test_not_finished_is_said_once_and_whole_also_of_who_is_muted(width: int, quiet: bool) -> None:
    row = replace(ROW, name="Aino", status="missed", detail="not finished", flag="not finished", quiet=quiet, past=())
    words = text_of(row, width)
    assert words.startswith("/ i  Aino ")
    assert words.split()[3:] == [*["muted"] * quiet, "not", "finished"]
    assert width_of(row_cell(row, cell_plan(width))) == width


def test_every_status_has_its_own_symbol() -> None:
    assert len(set(STATUS_SYMBOL.values())) == len(STATUS_SYMBOL)


def test_a_kept_a_short_an_untapped_and_an_unfinished_round_differ_in_shape() -> None:
    bars = [RestBar(0.2), RestBar(0.2, under=True), RestBar(None), RestBar(None, not_finished=True)]
    for one, other in combinations(bars, 2):
        assert rest_mark(one).text != rest_mark(other).text


def test_every_rest_under_the_margin_differs_in_shape_from_every_one_that_was_kept() -> None:
    rests = [at / 100 for at in range(101)]
    kept = {rest_mark(RestBar(rest)).text for rest in rests}
    short = {rest_mark(RestBar(rest, under=True)).text for rest in rests}
    assert len(kept) == 7
    assert len(short) == 4
    assert not kept & short


def test_a_longer_rest_is_never_drawn_lower() -> None:
    heights = ["▁▂▃▄▅▆▇".index(rest_mark(RestBar(at / 100)).text) for at in range(101)]
    assert heights == sorted(heights)
    assert heights[0] == 0
    assert heights[round(FULL_REST * 100)] == 6


def test_the_picture_keeps_the_newest_rounds_at_its_right_end() -> None:
    past = (RestBar(0.5), RestBar(None), RestBar(0.0))
    assert "".join(mark.text for mark in past_picture(past, 5)) == "  ▇·▁"
    assert "".join(mark.text for mark in past_picture(past, 2)) == "·▁"


def test_a_quiet_flag_is_no_alarm() -> None:
    row = replace(ROW, flag="tight", quiet=True, past=())
    assert all(segment.style != ALERT for segment in row_cell(row, cell_plan(60)))
