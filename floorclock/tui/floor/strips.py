"""The lines around the clock and the board: the head at the top, the bar of the interval, the lines for the coach.

Invariant: the badge of the head is whole while it fits, its other words go in the order of `LEAST_FIRST`. The fill of the bar
ends where the interval is now, to the nearest cell; the margin mark `┊` is seen on both sides of that end. Where the coach has
more lines than rows, a warning stays longest, then the caution, then the calls, then a notice. A caution is never cut: it takes
the rows that it needs, and where there are too few it turns its pages.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style

from floorclock.tui.base.lines import Line, cut, padded, spread, width_of, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import (
    ALERT,
    ALERT_PLATE,
    BLANK,
    CAP,
    CAP_FAINT,
    FAINT,
    LOOKS,
    MARK,
    STRONG,
    TEXT,
    TRACK,
    Mood,
)
from floorclock.tui.floor.view import BarView, CoachView, HeadView
from floorclock.tui.floor.words import PLATES

LEAST_FIRST = ("session", "wall", "minute", "part", "round")
"""What is left out first where the room is narrow."""
GAP = 3

MARGIN_MARK = "┊"
AHEAD = "─"
KEPT = "╱"
"""The ground right of the mark: rest that the coach wants everybody to have."""

MOST_ROWS, WHOLE = 3, 99
CAUTION = " CAUTION "
LEFT_OUT = "…"
LEAST_WORDS = 20
"""Where the words would have less room than this, what the key does is left out: the line of keys says it too."""


class HeadLine(Painted[HeadView]):
    """The top line."""

    def paint(self, view: HeadView, width: int, height: int) -> list[Line]:
        """One line: session, part, round and minute on the left, badge and wall time on the right."""
        words = kept_words(view, width)
        left: list[Segment] = []
        for name in ("session", "part", "round", "minute"):
            if words.get(name):
                left.append(Segment(" " * (GAP if left else 1) + words[name], CAP_FAINT if name == "session" else CAP))
        right = [Segment(f" {words['badge']} ", ALERT_PLATE)] if words.get("badge") else []
        if words.get("wall"):
            right.append(Segment(f"  {words['wall']} ", CAP))
        return [spread(padded(left, max(0, width - width_of(right)), CAP), right, width)]


def kept_words(view: HeadView, width: int) -> dict[str, str]:
    """The words that stay at this width; the last one left is cut."""
    names = ("session", "part", "round", "minute", "badge", "wall")
    words: dict[str, str] = {name: getattr(view, name) for name in names if getattr(view, name)}
    for name in LEAST_FIRST:
        if _taken(words) <= width:
            return words
        others = {other: text for other, text in words.items() if other != name}
        room = width - _taken(others) - GAP
        if name == "part" and room >= 8:
            return {**words, name: cut(words[name], room)}
        words = others
    return {name: cut(text, max(0, width - 2)) for name, text in words.items()}


def _taken(words: dict[str, str]) -> int:
    return sum(cell_len(text) + GAP for text in words.values())


class IntervalBar(Painted[BarView]):
    """The bar, one row thick or more, with the words beside or below it."""

    def paint(self, view: BarView, width: int, height: int) -> list[Line]:
        """One row: bar and words in it. More rows: the words get the last one."""
        if height > 1:
            below = words_row(view.left_words, view.right_words, mark_column(view, width), width)
            return [*[bar_row(view, width)] * (height - 1), below]
        words = [Segment(f" {part}", style) for part, style in ((view.left_words, STRONG), (view.right_words, FAINT)) if part]
        while words and width_of(words) > width // 2:
            words.pop()
        words += [Segment(" ", BLANK)] if words else []
        return [padded([*bar_row(view, width - width_of(words)), *words], width)]


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
            glyph, style = look.cell() if gone else (AHEAD, TRACK)
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


@dataclass(frozen=True, slots=True)
class PlateLine:
    """One line to say: its plate, its words, what a key would do about it, and its place when there is no room for all.

    A lower `rank` stays longer.
    """

    plate: str
    words: str
    plate_style: Style
    style: Style
    rank: int = 0
    hint: str = ""
    shorter: tuple[str, ...] = ()


class CoachLines(Painted[CoachView]):
    """Who needs the coach, the answer to what was done, and the caution."""

    page = 0

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._pages, self._caution = 1, ""

    def turn_page(self, step: int = 1) -> None:
        """The next page of a caution that has not all its rows."""
        if self._pages > 1:
            self.page = (self.page + step) % self._pages
            self.repaint_changes()

    def paint(self, view: CoachView, width: int, height: int) -> list[Line]:
        """The caution whole or a page of it, and above it the most urgent sayings that fit."""
        others = sayings(view)
        warned = sum(len(saying_lines(saying, width, MOST_ROWS)) for saying in others if saying.rank == 0)
        pages = caution_pages(view.caution, width, height - min(warned, max(1, height - 1)))
        if view.caution != self._caution:
            self.page, self._caution = 0, view.caution
        self._pages = max(1, len(pages))
        self.page %= self._pages
        caution = pages[self.page] if pages else []
        return [*said_lines(view, others, width, height - len(caution)), *caution]


def said_lines(view: CoachView, said: list[PlateLine], width: int, height: int) -> list[Line]:
    """The most urgent sayings that fit, in reading order; long ones take the rows that are free."""
    if height <= 0:
        return []
    answer = next((saying for saying in said if saying.words == view.notice), None)
    # What a key came to, or asks, is said whole: the last call makes way for its second line.
    whole = len(saying_lines(answer, width, height)) if answer is not None else 1
    kept = sorted(said, key=lambda saying: 0 if saying is answer and whole > 1 else saying.rank)[: height - whole + 1]
    lines: list[Line] = []
    # The row of the answers is kept free where it can be: calls must not jump whenever somebody taps.
    free = height - len(kept) - (not view.notice and bool(view.calls))
    for saying in (saying for saying in said if saying in kept):
        drawn = saying_lines(saying, width, max(whole if saying is answer else 1, 1 + max(0, free)))
        free -= len(drawn) - 1
        lines += drawn
    return lines


def caution_pages(words: str, width: int, rows: int) -> list[list[Line]]:
    """A caution to its last word, on pages of `rows` lines; none where there is no caution or no room."""
    if not words or rows <= 0:
        return []
    lines = saying_lines(PlateLine(CAUTION, words, CAP, STRONG), width, WHOLE)
    if len(lines) <= rows:
        return [lines]
    texts = wrapped(words, width - cell_len(f"{CAUTION}1 of 2 ") - 1, WHOLE)
    parts = [" ".join(texts[at : at + rows]) for at in range(0, len(texts), rows)]
    plated = [PlateLine(f"{CAUTION}{number} of {len(parts)} ", part, CAP, STRONG) for number, part in enumerate(parts, 1)]
    return [saying_lines(saying, width, rows) for saying in plated]


def sayings(view: CoachView) -> list[PlateLine]:
    """Everything there is to say but the caution, in reading order."""
    said = []
    last = ""
    for call in view.calls:
        alarm = call.kind == "call"
        plate = PLATES[call.kind] if call.kind != last else " " * len(PLATES[call.kind])
        look = BLANK if call.kind == last else ALERT_PLATE if alarm else CAP
        said.append(PlateLine(plate, call.words, look, STRONG if alarm else TEXT, 1 if alarm else 2, call.hint, call.shorter))
        last = call.kind
    if view.notice and view.notice_kind == "warning":
        said.append(PlateLine(" ! ", view.notice, ALERT_PLATE, ALERT))
    elif view.notice:
        said.append(PlateLine(" > ", view.notice, CAP, TEXT, 3))
    return said


def rows_said(view: CoachView, width: int) -> int:
    """The rows that everything takes when it is said whole."""
    said = sum(len(saying_lines(saying, width, MOST_ROWS)) for saying in sayings(view))
    return said + sum(map(len, caution_pages(view.caution, width, WHOLE)))


def saying_lines(saying: PlateLine, width: int, rows: int) -> list[Line]:
    """A saying on at most `rows` lines; the lines after the first are set in under its words, what a key does ends the last."""
    indent = cell_len(saying.plate) + 1
    hint = [Segment("  ", BLANK), Segment(f" F2 {saying.hint} ", CAP)] if saying.hint else []
    taken = width_of(hint)
    if taken and width - indent - taken < LEAST_WORDS:
        hint, taken = [], 0
    for form in (saying.words, *saying.shorter):
        words = wrapped(form, width - indent - taken, rows)
        if not any(line.endswith(LEFT_OUT) for line in words):
            break
    lines = []
    for at, text in enumerate(words):
        plate = Segment(saying.plate, saying.plate_style) if at == 0 else Segment(" " * cell_len(saying.plate), BLANK)
        ends = hint if at == len(words) - 1 else []
        lines.append(padded([plate, Segment(f" {text}", saying.style), *ends], width))
    return lines
