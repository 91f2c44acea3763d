"""Where each widget stands, for any size of screen.

Invariant: boxes never overlap and never leave the screen; time, what to do now and who is at work have room first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from floorclock.tui.floor.board import GUTTER
from floorclock.tui.floor.row_cell import NARROWEST

Place = Literal["head", "clock", "lanes", "bar", "coach", "board", "keys"]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of cells."""

    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Wants:
    """What there is to show: how many athletes and lanes, and how many lines the brief has (0 for no brief)."""

    athletes: int
    lanes: int
    brief_lines: int = 0


def arrange_floor(width: int, height: int, wants: Wants) -> dict[Place, Box]:
    """The box of every widget that is shown; a widget without a box has no room."""
    if width <= 0 or height <= 0:
        return {}
    if width < 64 or height < 11:
        return _stacked(width, height, wants)
    return _side_by_side(width, height, wants)


def _stacked(width: int, height: int, wants: Wants) -> dict[Place, Box]:
    """One under the other. Rows are given out in the order in which the eye needs them."""
    rows: dict[Place, int] = dict.fromkeys(("head", "clock", "lanes", "bar", "coach", "board", "keys"), 0)
    free = height

    def give(place: Place, count: int) -> None:
        nonlocal free
        given = min(free, count)
        rows[place] += given
        free -= given

    give("clock", 4 if height > 4 else max(1, height - 1))
    give("lanes", 1)
    give("board", 1 if wants.athletes else 0)
    for place in ("keys", "bar", "coach", "head"):
        give(place, 1)
    lanes_full = max(2, 2 * wants.lanes, wants.brief_lines + 1)
    give("clock", 3)
    give("lanes", min(3, lanes_full - 1))
    give("board", 3 if wants.athletes else 0)
    give("coach", 1)
    give("clock", min(free // 3, max(0, width // 5 + 1 - rows["clock"])))
    give("lanes", min(free // 2, lanes_full))
    columns = _columns(width)
    give("board", max(0, min(free, -(-wants.athletes // columns) + 1 - rows["board"])))
    give("lanes", free)
    return _piled(rows, width)


def _piled(rows: dict[Place, int], width: int) -> dict[Place, Box]:
    boxes: dict[Place, Box] = {}
    y = 0
    for place, count in rows.items():
        if count:
            boxes[place] = Box(0, y, width, count)
            y += count
    return boxes


def _side_by_side(width: int, height: int, wants: Wants) -> dict[Place, Box]:
    """Clock and lanes beside each other, the bar and the coach's lines under both, the board under all."""
    bar = 1 if height < 28 else 2 if height < 56 else 3
    coach = 1 if height < 18 else 2 if height < 22 else 4 if height < 50 else 5
    gap = 1 if height >= 36 else 0
    free = height - 2 - bar - coach - 3 * gap
    across = _lanes_width(width, wants)
    board = _board_rows(width, free, wants)
    top = min(free - board, max(_useful_clock_rows(width - across), wants.brief_lines + 1))
    board = free - top if wants.athletes else 0
    top = free - board
    boxes: dict[Place, Box] = {"head": Box(0, 0, width, 1)}
    boxes["clock"] = Box(1, 1 + gap, width - across - 3, top - gap)
    boxes["lanes"] = Box(width - across - 1, 1 + gap, across, top - gap)
    below = 1 + top
    boxes["bar"] = Box(0, below, width, bar)
    boxes["coach"] = Box(1, below + bar + gap, width - 2, coach)
    if board:
        boxes["board"] = Box(1, below + bar + coach + 2 * gap, width - 2, board)
    boxes["keys"] = Box(0, height - 1, width, 1)
    return boxes


def _lanes_width(width: int, wants: Wants) -> int:
    if wants.brief_lines:
        return max(36, width * 56 // 100)
    return max(30, min(width * 43 // 100, 160))


def _board_rows(width: int, free: int, wants: Wants) -> int:
    """Rows for the board: everybody with a header where the clock can spare it; at least a few where anybody is here."""
    if not wants.athletes:
        return 0
    needed = -(-wants.athletes // _columns(width - 2)) + 1
    least_top = max(5, min(8, free // 2), free * 45 // 100)
    if wants.brief_lines:
        least_top = max(least_top, min(wants.brief_lines + 1, free - 4))
    return max(1, min(needed, free - least_top))


def _columns(width: int) -> int:
    return max(1, (width + GUTTER) // (NARROWEST + GUTTER))


def _useful_clock_rows(width: int) -> int:
    """The rows beyond which digits of this width do not grow any more, and the words above them."""
    return width * 10 // 49 + 9
