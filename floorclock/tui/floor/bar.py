"""The bar of the interval: how much of it is gone, and where the wanted rest begins.

Invariant: the fill ends where the interval is now, to the nearest cell; the margin mark `┊` is seen on both sides of that end.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.tui.base.lines import Line, cut, padded, spread, width_of
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import BLANK, FAINT, LOOKS, MARK, STRONG, TEXTURE_GLYPH, TRACK
from floorclock.tui.floor.view import BarView, Mood

MARGIN_MARK = "┊"
AHEAD = "─"
KEPT = "╱"
"""The ground right of the mark: rest that the coach wants everybody to have."""


class IntervalBar(Painted[BarView]):
    """The bar, one row thick or more, with the words beside or below it."""

    def paint(self, view: BarView, width: int, height: int) -> list[Line]:
        """One row: bar and words in it. More rows: the words get the last one."""
        if height == 1:
            return [self._single_row(view, width)]
        return [bar_row(view, width)] * (height - 1) + [
            words_row(view.left_words, view.right_words, mark_column(view, width), width)
        ]

    def _single_row(self, view: BarView, width: int) -> Line:
        words = [Segment(f" {part}", style) for part, style in ((view.left_words, STRONG), (view.right_words, FAINT)) if part]
        while words and sum(cell_len(word.text) for word in words) > width // 2:
            words.pop()
        words.append(Segment(" ", BLANK)) if words else None
        taken = sum(cell_len(word.text) for word in words)
        return padded([*bar_row(view, width - taken), *words], width)


def bar_row(view: BarView, width: int) -> Line:
    """One row of the bar, `width` cells."""
    return _row(view.mood, round(min(1.0, max(0.0, view.done)) * width), mark_column(view, width), width)


@lru_cache(maxsize=16)
def _row(mood: Mood, done: int, mark: int, width: int) -> Line:
    """The bar filled up to the column `done`, as few segments as possible: the screen asks for it ten times a second."""
    look = LOOKS[mood]
    edges = sorted({0, done, width, *((mark, mark + 1) if mark >= 0 else ())})
    pieces = []
    for start, end in pairwise(edges):
        gone = start < done
        if start == mark:
            pieces.append(Segment(MARGIN_MARK, look.fill if gone else MARK))
        elif 0 <= mark < start:
            pieces.append(Segment(KEPT * (end - start), look.fill if gone else TRACK))
        else:
            glyph, style = (TEXTURE_GLYPH[look.texture], look.cell) if gone else (AHEAD, TRACK)
            pieces.append(Segment(glyph * (end - start), style))
    return tuple(pieces)


def mark_column(view: BarView, width: int) -> int:
    """The column of the margin mark; -1 where there is none."""
    if view.margin is None or width < 2:
        return -1
    return min(width - 1, round(min(1.0, max(0.0, view.margin)) * width))


@lru_cache(maxsize=16)
def words_row(left_words: str, right_words: str, mark: int, width: int) -> Line:
    """The words below the bar: what the mark means, at the mark where that fits, and the times at the right end."""
    right = [Segment(f"{cut(right_words, width - 1)} ", FAINT)]
    room = max(0, width - width_of(right) - 2)
    words = cell_len(left_words)
    if mark < 0 or not left_words:
        left = cut(left_words, room)
    elif mark + 2 + words <= room:
        left = " " * mark + f"{MARGIN_MARK} {left_words}"
    elif mark + 1 <= room and words + 1 <= mark:
        left = " " * (mark - words - 1) + f"{left_words} {MARGIN_MARK}"
    else:
        left = cut(left_words, room).rjust(room)
    return spread([Segment(left, STRONG)], right, width)
