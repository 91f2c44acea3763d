"""The bar of the interval: how much of it is gone, and where the wanted rest begins.

Invariant: the fill ends where the interval is now, to the nearest cell; the margin mark `┊` is seen on both sides of that end.
"""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.floor.lines import Line, cut, padded, spread, width_of
from floorclock.floor.painted import Painted
from floorclock.floor.palette import BLANK, FAINT, LOOKS, MARK, STRONG, TEXTURE_GLYPH, TRACK, Look
from floorclock.floor.view import BarView

MARGIN_MARK = "┊"
KEPT = "╱"
"""The ground right of the mark: rest that the coach wants everybody to have."""


class IntervalBar(Painted[BarView]):
    """The bar, one row thick or more, with the words beside or below it."""

    def paint(self, view: BarView, width: int, height: int) -> list[Line]:
        """One row: bar and words in it. More rows: the words get the last one."""
        if height == 1:
            return [self._single_row(view, width)]
        thick = bar_row(view, width)
        return [padded(thick, width)] * (height - 1) + [words_row(view, width)]

    def _single_row(self, view: BarView, width: int) -> Line:
        words = [Segment(f" {part}", style) for part, style in ((view.left_words, STRONG), (view.right_words, FAINT)) if part]
        while words and sum(cell_len(word.text) for word in words) > width // 2:
            words.pop()
        words.append(Segment(" ", BLANK)) if words else None
        taken = sum(cell_len(word.text) for word in words)
        return padded([*bar_row(view, width - taken), *words], width)


def bar_row(view: BarView, width: int) -> list[Segment]:
    """One row of the bar, `width` cells."""
    look = LOOKS[view.mood]
    mark = mark_column(view, width)
    full = round(min(1.0, max(0.0, view.done)) * width)
    return _merged([_filled(x, mark, look) if x < full else _ahead(x, mark) for x in range(width)])


def mark_column(view: BarView, width: int) -> int:
    """The column of the margin mark; -1 where there is none."""
    if view.margin is None or width < 2:
        return -1
    return min(width - 1, round(min(1.0, max(0.0, view.margin)) * width))


def words_row(view: BarView, width: int) -> Line:
    """The words below the bar: what the mark means, at the mark where that fits, and the times at the right end."""
    right = [Segment(f"{cut(view.right_words, width - 1)} ", FAINT)]
    room = max(0, width - width_of(right) - 2)
    mark = mark_column(view, width)
    words = cell_len(view.left_words)
    if mark < 0 or not view.left_words:
        left = cut(view.left_words, room)
    elif mark + 2 + words <= room:
        left = " " * mark + f"{MARGIN_MARK} {view.left_words}"
    elif mark + 1 <= room and words + 1 <= mark:
        left = " " * (mark - words - 1) + f"{view.left_words} {MARGIN_MARK}"
    else:
        left = cut(view.left_words, room).rjust(room)
    return spread([Segment(left, STRONG)], right, width)


def _filled(x: int, mark: int, look: Look) -> Segment:
    if x == mark:
        return Segment(MARGIN_MARK, look.fill)
    if mark >= 0 and x > mark:
        return Segment(KEPT, look.fill)
    return Segment(TEXTURE_GLYPH[look.texture], look.cell)


def _ahead(x: int, mark: int) -> Segment:
    if x == mark:
        return Segment(MARGIN_MARK, MARK)
    return Segment(KEPT if 0 <= mark < x else "─", TRACK)


def _merged(cells: list[Segment]) -> list[Segment]:
    merged: list[Segment] = []
    for cell in cells:
        if merged and merged[-1].style == cell.style:
            cell = Segment(merged.pop().text + cell.text, cell.style)
        merged.append(cell)
    return merged
