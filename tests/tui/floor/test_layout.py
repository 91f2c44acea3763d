"""Every widget in its place at every size, and none on another."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.tui.floor.floor_panel import LayoutNeeds, arrange_floor

wants = st.builds(LayoutNeeds, athletes=st.integers(0, 40), lanes=st.integers(0, 9), brief_lines=st.integers(0, 30))


@given(st.integers(1, 420), st.integers(1, 110), wants)
def test_boxes_never_overlap_and_never_leave_the_screen(width: int, height: int, wants: LayoutNeeds) -> None:
    boxes = arrange_floor(width, height, wants)
    for box in boxes.values():
        assert box.width > 0
        assert box.height > 0
        assert min(box.x, box.y) >= 0
        assert box.x + box.width <= width
        assert box.y + box.height <= height
    assert not any(one.overlaps(other) for one, other in itertools.combinations(boxes.values(), 2))


@given(st.integers(1, 420), st.integers(1, 110), wants)
def test_the_time_always_has_room_and_then_the_move(width: int, height: int, wants: LayoutNeeds) -> None:
    boxes = arrange_floor(width, height, wants)
    assert "clock" in boxes
    assert height < 2 or "lanes" in boxes
    assert height < 6 or not wants.athletes or "board" in boxes
    assert height < 7 or "keys" in boxes


def test_a_tiny_screen_shows_the_time_the_move_and_who_is_at_work() -> None:
    assert list(arrange_floor(20, 6, LayoutNeeds(14, 3))) == ["clock", "lanes", "board"]


@pytest.mark.parametrize(("width", "height"), [(40, 12), (80, 24), (100, 30), (160, 45), (240, 67), (400, 100)])
def test_a_screen_that_is_large_enough_shows_everything(width: int, height: int) -> None:
    assert set(arrange_floor(width, height, LayoutNeeds(24, 3))) == {"head", "clock", "lanes", "bar", "coach", "board", "keys"}


def test_the_clock_grows_with_the_screen() -> None:
    sizes = [(40, 12), (80, 24), (100, 30), (160, 45), (240, 67), (400, 100)]
    boxes = [arrange_floor(width, height, LayoutNeeds(24, 3))["clock"] for width, height in sizes]
    areas = [box.width * box.height for box in boxes]
    assert areas == sorted(set(areas))


@pytest.mark.parametrize(
    "wants", [LayoutNeeds(14, 1, 12), LayoutNeeds(0, 3, for_class=True)], ids=["explained", "seen by the class"]
)
def test_what_is_explained_and_what_the_class_sees_has_all_the_width(wants: LayoutNeeds) -> None:
    assert arrange_floor(80, 24, wants)["lanes"].width == 78


def test_to_the_class_the_coachs_lines_take_only_what_they_say() -> None:
    silent, said = (arrange_floor(80, 24, LayoutNeeds(0, 3, for_class=True, said=rows)) for rows in (1, 2))
    assert (silent["coach"].height, said["coach"].height) == (1, 2)
    assert silent["lanes"].height == said["lanes"].height + 1


@pytest.mark.parametrize(
    ("size", "wants", "rows"),
    [
        pytest.param((240, 67), LayoutNeeds(6, 2), 3, id="where few are here the lanes have the rows"),
        pytest.param((160, 45), LayoutNeeds(40, 3), 11, id="a class of forty has a place for everybody at 160 by 45"),
        pytest.param((80, 24), LayoutNeeds(15, 0, brief_lines=4), 9, id="rows that a short brief leaves free are the board's"),
        pytest.param((80, 24), LayoutNeeds(15, 0, brief_lines=14), 4, id="a long brief leaves few"),
    ],
)
def test_the_board_has_the_rows_that_it_needs_and_that_are_free(size: tuple[int, int], wants: LayoutNeeds, rows: int) -> None:
    assert arrange_floor(*size, wants)["board"].height == rows
