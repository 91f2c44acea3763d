"""The floor as one widget: it holds the others, gives each its place and hands each its part of the view.

Invariant: a view that equals the last one costs nothing; a view that differs reaches only the widgets whose part of it differs.
"""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Container
from textual.geometry import NULL_OFFSET, NULL_SPACING, Region, Size
from textual.layout import ArrangeResult, Layout, WidgetPlacement
from textual.widget import Widget

from floorclock.tui.base.keys_line import KeysLine
from floorclock.tui.floor.bar import IntervalBar
from floorclock.tui.floor.board import Board
from floorclock.tui.floor.brief import BriefPanel
from floorclock.tui.floor.clock_widget import BigClock
from floorclock.tui.floor.coach import CoachLines
from floorclock.tui.floor.head import HeadLine
from floorclock.tui.floor.lanes import LanesPanel
from floorclock.tui.floor.layout import Wants, arrange_floor
from floorclock.tui.floor.view import FloorView


class FloorLayout(Layout):
    """Puts each child of a stage into the box that `arrange_floor` gives to its id; a child without a box is not shown."""

    name = "floor"

    def __init__(self) -> None:
        self.wants = Wants(0, 1)

    def arrange(self, parent: Widget, children: list[Widget], size: Size, greedy: bool = True) -> ArrangeResult:
        """The placements of the children, as Textual asks for them."""
        boxes = arrange_floor(size.width, size.height, self.wants)
        lanes = "brief" if self.wants.brief_lines else "lanes"
        by_id = {(lanes if place == "lanes" else place): box for place, box in boxes.items()}
        return [
            WidgetPlacement(Region(box.x, box.y, box.width, box.height), NULL_OFFSET, NULL_SPACING, child)
            for child in children
            if (box := by_id.get(child.id or "")) is not None
        ]


class Stage(Container):
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
        wants = Wants(len(view.rows), len(view.lanes.lanes), len(view.brief.lines) if view.brief is not None else 0)
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
        """The next page of the board, and of the brief where one is shown."""
        self.board.turn_page(step)
        if self.view is not None and self.view.brief is not None:
            self.brief.turn_page(step)
