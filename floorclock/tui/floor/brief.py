"""A part explained on the floor before it starts.

Invariant: every line of the brief is on exactly one page; a page never ends in a heading.
"""

from __future__ import annotations

from rich.segment import Segment

from floorclock.tui.base.letters import dots, halved
from floorclock.tui.base.lines import Line, cut, inked, padded, spread, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import ALERT_PLATE, BLANK, CAP, FAINT, LETTER_BLOCK, STRONG, TEXT
from floorclock.tui.floor.view import BriefView


class BriefPanel(Painted[BriefView]):
    """The brief, page by page where it is longer than the panel."""

    page = 0

    def show(self, view: BriefView) -> None:
        """Takes a brief; another brief begins on its first page."""
        if self.view is None or view.title != self.view.title:
            self.page = 0
        super().show(view)

    def turn_page(self, step: int = 1) -> None:
        """The next page, and after the last one the first."""
        if self.view is None:
            return
        self.page = (self.page + step) % len(pages(self.view, self.size.width, self.size.height))
        self.repaint_changes()

    def paint(self, view: BriefView, width: int, height: int) -> list[Line]:
        """The title, then the lines of the page."""
        bound = pages(view, width, height)
        at = min(self.page, len(bound) - 1)
        number = [Segment(f" {at + 1} of {len(bound)} ", FAINT)] if len(bound) > 1 else []
        title = spread([Segment(f" {cut(view.title, max(0, width - 2))} ", CAP)], number, width)
        shape = dots(view.title)
        if len(bound) == 1 and shape is not None and len(shape[0]) < width and len(bound[0]) + 5 <= height:
            letters = [padded([Segment(" ", BLANK), *inked(row, STRONG, LETTER_BLOCK)], width) for row in halved(shape)]
            return [*letters, padded((), width), *bound[0]]
        return [title, *bound[at]]


def pages(view: BriefView, width: int, height: int) -> list[list[Line]]:
    """The lines of the brief, bound into pages of `height` less one row for the title; there is always one page."""
    rows = max(1, height - 1)
    bound: list[list[Line]] = [[]]
    for at, (kind, words) in enumerate(view.lines):
        block = block_lines(kind, words, width)[:rows]
        following = view.lines[at + 1] if at + 1 < len(view.lines) else None
        needed = len(block)
        if kind == "heading" and following:
            needed = min(rows, needed + len(block_lines(*following, width)))
        if kind == "heading" and bound[-1] and len(bound[-1]) + needed + 1 <= rows:
            bound[-1].append(padded((), width))
        if bound[-1] and len(bound[-1]) + needed > rows:
            bound.append([])
        bound[-1] += block
    return bound


def block_lines(kind: str, words: str, width: int) -> list[Line]:
    """One line of the brief, wrapped and marked by its kind."""
    mark, style, plate = {
        "heading": (" ", STRONG, BLANK),
        "text": ("   ", TEXT, BLANK),
        "caution": (" ! ", STRONG, ALERT_PLATE),
        "hint": (" > ", FAINT, CAP),
    }[kind]
    room = width - len(mark) - 1
    lines = wrapped(words, room, 12)
    first = Segment(mark, plate)
    rest = Segment(" " * len(mark), BLANK)
    return [padded([first if at == 0 else rest, Segment(f" {text}", style)], width) for at, text in enumerate(lines)]
