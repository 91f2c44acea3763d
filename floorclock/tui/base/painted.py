"""The base of every widget on the floor: it paints lines from a value, and repaints only the cells that differ.

Invariant: `lines` always has one line for every row of the widget, each as wide as the widget.
"""

from __future__ import annotations

from typing import Generic, TypeVar

from textual.color import Color
from textual.filter import ANSIToTruecolor
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from floorclock.tui.base.lines import Line, changed_span, padded
from floorclock.tui.base.palette import GROUND

View = TypeVar("View")
GROUND_COLOR = Color.parse(GROUND)


class Painted(Widget, Generic[View]):
    """A widget that is nothing but lines painted from a view."""

    ALLOW_SELECT = False

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.view: View | None = None
        self._lines: list[Line] = []
        self._strips: list[Strip] = []
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
        if self._painted_size != self.outer_size or not self.is_mounted:
            self._painted_size = Size(0, 0)
            self.refresh()
            return ()
        regions = self._take_lines(self._all_lines())
        if regions:
            self.refresh(*regions)
        return regions

    def render_lines(self, crop: Region) -> list[Strip]:
        """The rows that the compositor asks for, as they were painted.

        It asks every widget for all of its rows whenever anything on the screen changes, so this must cost next to nothing:
        no style sheet is consulted here (the floor's widgets have no borders and no padding).
        """
        size = self.outer_size
        if self._painted_size != size:
            self._painted_size = size
            self._lines = []
            self._take_lines(self._all_lines())
        strips = self._strips[crop.y : crop.bottom]
        if crop.x or crop.width != size.width:
            strips = [strip.crop(*crop.column_span) for strip in strips]
        return strips

    def render_line(self, y: int) -> Strip:
        """One row."""
        return self.render_lines(Region(0, y, self.outer_size.width, 1))[0]

    def _all_lines(self) -> list[Line]:
        width, height = self.outer_size
        lines = self.paint(self.view, width, height)[:height] if self.view is not None and width and height else []
        return lines + [padded((), width)] * (height - len(lines))

    def _take_lines(self, lines: list[Line]) -> tuple[Region, ...]:
        """Keeps new lines, and makes new strips of those that differ; the others keep theirs, and what Textual cached in them."""
        old, self._lines = self._lines, lines
        if not old:
            self._strips = [self._strip(line) for line in lines]
            return ()
        regions = changed_regions(old, lines)
        for y in (y for region in regions for y in region.line_range):
            self._strips[y] = self._strip(lines[y])
        return regions

    def _strip(self, line: Line) -> Strip:
        strip = Strip(line, self.outer_size.width)
        for line_filter in self.get_line_filters():
            # The floor has no named colours for that filter to translate.
            if not isinstance(line_filter, ANSIToTruecolor):
                strip = strip.apply_filter(line_filter, GROUND_COLOR)
        return strip


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
