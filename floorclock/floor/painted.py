"""The base of every widget on the floor: it paints lines from a value, and repaints only the cells that differ.

Invariant: `lines` always has one line for every row of the widget, each as wide as the widget.
"""

from __future__ import annotations

from typing import Generic, TypeVar

from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from floorclock.floor.lines import Line, changed_span, padded
from floorclock.floor.palette import BLANK

View = TypeVar("View")


class Painted(Widget, Generic[View]):
    """A widget that is nothing but lines painted from a view."""

    ALLOW_SELECT = False

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.view: View | None = None
        self._lines: list[Line] = []
        self._painted_size = Size(0, 0)

    def paint(self, view: View, width: int, height: int) -> list[Line]:
        """The lines of `view`; at most `height` count, and those that are missing are blank."""
        raise NotImplementedError

    def show(self, view: View) -> None:
        """Takes a new view and repaints what differs from the last one."""
        if view == self.view:
            return
        self.view = view
        self.repaint_changes()

    def repaint_changes(self) -> tuple[Region, ...]:
        """Paints again and asks for a refresh of the cells that differ; answers which."""
        if self._painted_size != self.size or not self.is_mounted:
            self._painted_size = Size(0, 0)
            self.refresh()
            return ()
        old, self._lines = self._lines, self._all_lines()
        regions = changed_regions(old, self._lines)
        if regions:
            self.refresh(*regions)
        return regions

    def render_line(self, y: int) -> Strip:
        """One row, as the compositor asks for it."""
        if self._painted_size != self.size:
            self._lines = self._all_lines()
            self._painted_size = self.size
        return Strip(self._lines[y], self.size.width) if y < len(self._lines) else Strip.blank(self.size.width, BLANK)

    def _all_lines(self) -> list[Line]:
        width, height = self.size
        lines = self.paint(self.view, width, height)[:height] if self.view is not None and width and height else []
        return lines + [padded((), width)] * (height - len(lines))


def changed_regions(old: list[Line], new: list[Line]) -> tuple[Region, ...]:
    """The cells that differ between two paintings of one size; rows that differ below each other are one region."""
    regions: list[Region] = []
    for y, (before, after) in enumerate(zip(old, new, strict=True)):
        span = changed_span(before, after)
        if span is None:
            continue
        region = Region(span[0], y, span[1] - span[0], 1)
        if regions and regions[-1].bottom == y and regions[-1].x < region.right and region.x < regions[-1].right:
            region = regions.pop().union(region)
        regions.append(region)
    return tuple(regions)
