"""The floor as one widget: it holds the others, gives each its place for any size of screen, and hands each its view.

Invariant: boxes never overlap and never leave the screen; time, what to do now and who is at work have room first. A view that
equals the last one costs nothing; a view that differs reaches only the widgets whose part of it differs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from textual.app import ComposeResult
from textual.containers import Container
from textual.geometry import NULL_OFFSET, NULL_SPACING, Region, Size
from textual.layout import ArrangeResult, Layout, WidgetPlacement
from textual.widget import Widget

from floorclock.tui.base.keys_line import KeysLine
from floorclock.tui.floor.board import WIDEST, Board, columns_for
from floorclock.tui.floor.brief import BriefPanel, rows_in_text
from floorclock.tui.floor.clock_widget import BigClock
from floorclock.tui.floor.lanes import LanesPanel
from floorclock.tui.floor.strips import CoachLines, HeadLine, IntervalBar, rows_said
from floorclock.tui.floor.view import CoachView, FloorView

Area = Literal["head", "clock", "lanes", "bar", "coach", "board", "keys"]


@dataclass(frozen=True, slots=True)
class LayoutNeeds:
    """What there is to show: how many athletes and lanes, how many rows the brief takes (0 for no brief).

    `for_class`: the lanes have the names, there is no board, and of the coach's lines only those `said`. Without `digits` the
    clock is a word alone. A `caution` has all its rows where they can be spared, with one for answers and, where there
    are `calls`, one for the first.
    """

    athletes: int
    lanes: int
    brief_lines: int = 0
    for_class: bool = False
    digits: bool = True
    said: int = 1
    caution: str = ""
    calls: bool = False


def arrange_floor(width: int, height: int, wants: LayoutNeeds) -> dict[Area, Region]:
    """The region of every widget that is shown; a widget without one has no room."""
    if width <= 0 or height <= 0:
        return {}
    if width < 64 or height < 11:
        return _stacked(width, height, wants)
    return _side_by_side(width, height, wants)


def _stacked(width: int, height: int, wants: LayoutNeeds) -> dict[Area, Region]:
    """One under the other. Rows are given out in the order in which the eye needs them."""
    rows: dict[Area, int] = dict.fromkeys(("head", "clock", "lanes", "bar", "coach", "board", "keys"), 0)
    free = height

    def give(place: Area, count: int) -> None:
        nonlocal free
        given = min(free, count)
        rows[place] += given
        free -= given

    give("clock", 4 if height > 4 else max(1, height - 1))
    give("lanes", 1)
    give("board", 1 if wants.athletes else 0)
    for place in ("keys", "bar", "coach", "head"):
        give(place, 1)
    if wants.caution:
        give("coach", rows_said(CoachView(caution=wants.caution), width) - 1)
    lanes_full = max(2, 2 * wants.lanes, wants.brief_lines + 1)
    give("clock", 3)
    give("lanes", min(3, lanes_full - 1))
    give("board", 3 if wants.athletes else 0)
    give("coach", 1)
    give("clock", min(free // 3, max(0, width // 5 + 1 - rows["clock"])))
    give("lanes", min(free // 2, lanes_full))
    give("board", max(0, min(free, -(-wants.athletes // columns_for(width)) + 1 - rows["board"])))
    give("lanes", free)
    boxes: dict[Area, Region] = {}
    y = 0
    for place, count in rows.items():
        if count:
            boxes[place] = Region(0, y, width, count)
            y += count
    return boxes


def _side_by_side(width: int, height: int, wants: LayoutNeeds) -> dict[Area, Region]:
    """Clock and lanes beside each other; for the class, and where a part is explained, one below the other over all the width."""
    stacked = bool(wants.brief_lines) or wants.for_class
    bar = 1 if height < 28 else 2 if height < 56 else 3
    coach = 1 if height < 18 else 2 if height < 22 or stacked else 3 if height < 28 else 4 if height < 50 else 5
    if wants.for_class:
        coach = min(wants.said, max(3, height // 4))
    elif wants.caution:
        coach = max(coach, min(rows_said(CoachView(caution=wants.caution), width - 2) + 1 + wants.calls, height // 4))
    gap = 1 if height >= 36 else 0
    free = height - 2 - bar - coach - 3 * gap
    boxes: dict[Area, Region] = {"head": Region(0, 0, width, 1), "keys": Region(0, height - 1, width, 1)}
    across = max(30, min(width * 43 // 100, 160))
    top = max(5 if height < 40 else 9, free * 22 // 100) if wants.digits else 4 if height < 40 else 7
    board = _board_rows(width, free, free - top, wants)
    if wants.brief_lines:
        top = min(top, free - board - 1)
    elif wants.for_class:
        top = free * 38 // 100
    else:
        # Rows that the digits have no use for make the board's cells wide, and where few are here the moves and names large.
        roomy = -(-wants.athletes // -(-width // WIDEST)) + 1
        useful = (width - across) * 10 // 49 + 9  # beyond these neither the digits grow nor the words above them
        board = max(board, min(roomy, free - useful)) if board else 0
        top = free - board
    boxes["clock"] = Region(1, 1 + gap, width - 2 if stacked else width - across - 3, top - gap)
    below = 1 + top
    if not stacked:
        boxes["lanes"] = Region(width - across - 1, 1 + gap, across, top - gap)
    boxes["bar"] = Region(0, below, width, bar)
    below += bar + gap
    if stacked:
        boxes["lanes"] = Region(1, below, width - 2, free - top - board)
        below += free - top - board + gap
    boxes["coach"] = Region(1, below, width - 2, coach)
    if board:
        boxes["board"] = Region(1, height - 1 - board, width - 2, board)
    return boxes


def _board_rows(width: int, free: int, below: int, wants: LayoutNeeds) -> int:
    """Rows for the board: everybody with a header where the rest can spare it; at least a few where anybody is here.

    Beside a brief it has of the rows `below` the clock those that the brief has no use for.
    """
    if not wants.athletes:
        return 0
    # Under three rows the board has no room for names.
    needed = max(3, -(-wants.athletes // columns_for(width - 2)) + 1)
    if wants.brief_lines:
        return min(needed, free - 4, max(3, free // 4, below - wants.brief_lines))
    least_top = max(5, min(8, free // 2), free * 45 // 100)
    return max(1, min(needed, free - least_top))


class FloorLayout(Layout):
    """Puts each child of a stage into the box that `arrange_floor` gives to its id; a child without a box is not shown."""

    name = "floor"

    def __init__(self) -> None:
        self.wants = LayoutNeeds(0, 1)

    def arrange(self, parent: Widget, children: list[Widget], size: Size, greedy: bool = True) -> ArrangeResult:
        """The placements of the children, as Textual asks for them."""
        boxes = arrange_floor(size.width, size.height, self.wants)
        lanes = "brief" if self.wants.brief_lines else "lanes"
        by_id: dict[str | None, Region] = {(lanes if place == "lanes" else place): box for place, box in boxes.items()}
        return [WidgetPlacement(by_id[child.id], NULL_OFFSET, NULL_SPACING, child) for child in children if child.id in by_id]


class FloorPanel(Container):
    """The whole floor. `show` takes the next view; the app's timers call `turn_page`."""

    BLANK = True

    def __init__(self, *, id: str | None = "stage") -> None:
        super().__init__(id=id)
        self._floor_layout = FloorLayout()
        self.view: FloorView | None = None
        self.head = HeadLine(id="head")
        self.clock = BigClock(id="clock")
        self.lanes = LanesPanel(id="lanes")
        self.brief = BriefPanel(id="brief")
        self.bar = IntervalBar(id="bar")
        self.coach = CoachLines(id="coach")
        self.board = Board(id="board")
        self.keys = KeysLine(id="keys")

    @property
    def layout(self) -> Layout:
        """Our own, whatever the styles say."""
        return self._floor_layout

    def compose(self) -> ComposeResult:
        """All widgets; the layout decides which of them have room."""
        yield from (self.head, self.clock, self.lanes, self.brief, self.bar, self.coach, self.board, self.keys)

    def show(self, view: FloorView) -> None:
        """Shows a view. Only what differs from the last one is painted again."""
        self.view = view
        for_class = view.shows == "class"
        brief_lines = rows_in_text(view.brief, (self.size.width or 80) - 2) if view.brief is not None else 0
        people = 0 if for_class else len(view.rows)
        said = max(1, rows_said(view.coach, self.size.width - 2)) if for_class else 1
        digits, caution = bool(view.clock.text), view.coach.caution
        calls = bool(caution and view.coach.calls)
        wants = LayoutNeeds(people, len(view.lanes.lanes), brief_lines, for_class, digits, said, caution, calls)
        self.lanes.room = self.brief.room = view.room if for_class else None
        if wants != self._floor_layout.wants:
            self._floor_layout.wants = wants
            # A widget that asks for layout has its parent arranged again, not itself: so a child has to ask.
            self.head.refresh(layout=True)
        self.head.show(view.head)
        self.clock.show(view.clock)
        self.lanes.show(view.lanes)
        if view.brief is not None:
            self.brief.show(view.brief)
        self.bar.show(view.bar)
        self.coach.show(view.coach)
        self.board.show(view.rows)
        self.keys.show(view.keys)

    def turn_page(self, step: int = 1) -> None:
        """The next page of the board, of the names, of a caution, and of the brief where one is shown."""
        self.board.turn_page(step)
        self.lanes.turn_page(step)
        self.coach.turn_page(step)
        if self.view is not None and self.view.brief is not None:
            self.brief.turn_page(step)
