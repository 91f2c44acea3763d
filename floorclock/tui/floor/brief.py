"""A part explained on the floor before it starts.

Invariant: every line of the brief is on exactly one page; a page never ends in a heading. It is written as large as fits on one
page; where that would not be letters, or too small for the room, it goes on pages instead. What fits is found by counting rows;
only what is shown is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from rich.segment import Segment
from rich.style import Style

from floorclock.plan.session import Room
from floorclock.tui.base.letters import height_of, least_size, lettered, lettered_lines, letters_across, pitch_of
from floorclock.tui.base.lines import Line, inked, padded, spread, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import ALERT_PLATE, BLANK, CAP, DIM_BLOCK, FAINT, LETTER_BLOCK, STRONG, TEXT
from floorclock.tui.floor.view import BriefLine, BriefView

LARGEST: Final = 5
Sizes = tuple[int, int]
"""The letters of headings, and of everything else; 0 is body text."""
SIZES: Final[tuple[Sizes, ...]] = (
    *((head, text) for text in range(LARGEST, 0, -1) for head in range(min(LARGEST, text + 2), text - 1, -1)),
    (2, 0),
    (1, 0),
    (0, 0),
)
MOST_PAGES: Final = 10
"""Nobody waits for more of them."""
LETTERED_FROM: Final = 16
"""The rows from which the coach's brief, too, rather has pages than body text; below it nobody is far away."""
MARKS: Final[dict[str, tuple[str, Style, Style]]] = {
    "heading": (" ", STRONG, BLANK),
    "text": ("   ", TEXT, BLANK),
    "caution": (" ! ", STRONG, ALERT_PLATE),
    "small": ("   ", FAINT, BLANK),
    "hint": (" > ", FAINT, CAP),
}
MOST_WRAPPED: Final = 12
ENDLESS: Final = 10_000
BODY = ("small", "hint")
"""What is written in body text always: it is for who stands near."""


class BriefPanel(Painted[BriefView]):
    """The brief, page by page where it is longer than the panel. What must be read is large enough for the `room`."""

    room: Room | None = None
    page = 0

    @property
    def least(self) -> int:
        """The smallest size of letters that the room can read; 0 where no room is to be kept."""
        return least_size(self.room, *self.app.size) if self.room is not None else 0

    def show(self, view: BriefView) -> None:
        """Takes a brief; another brief begins on its first page."""
        if self.view is None or (view.title, view.lines[:1]) != (self.view.title, self.view.lines[:1]):
            self.page = 0
        super().show(view)

    def turn_page(self, step: int = 1) -> None:
        """The next page, and after the last one the first."""
        if self.view is None:
            return
        self.page = (self.page + step) % len(pages(self.view, *self.size, self.least))
        self.repaint_changes()

    def paint(self, view: BriefView, width: int, height: int) -> list[Line]:
        """The lines of the page."""
        bound = pages(view, width, height, self.least)
        self.page %= len(bound)
        if len(bound) == 1:
            return list(bound[0])
        number = [Segment(f" {self.page + 1} of {len(bound)} ", CAP)]
        lines = bound[self.page]
        return [*lines, *[padded((), width)] * (height - 1 - len(lines)), spread([], number, width)]


@lru_cache(maxsize=16)
def rows_in_text(view: BriefView, width: int) -> int:
    """The rows that a brief takes in body text on one page."""
    title: tuple[BriefLine, ...] = (("heading", view.title),) if view.title else ()
    bound = bind((*title, *view.lines), width, ENDLESS, (0, 0)) or ()
    return max(1, sum(_rows(piece) for page in bound for piece in page))


@lru_cache(maxsize=16)
def pages(view: BriefView, width: int, height: int, least: int) -> tuple[tuple[Line, ...], ...]:
    """The brief on pages of `height` rows, of which the number takes one where there are several; there is always one."""
    title: tuple[BriefLine, ...] = (("heading", view.title),) if view.title else ()
    lines = (*title, *view.lines)
    rows, sizes = _form(lines, width, height, least)
    blank = [padded((), width)]
    drawn = {at: block_lines(kind, words, width, sizes) for at, (kind, words) in enumerate(lines)}
    bound = bind(lines, width, rows, sizes) or ((),)
    return tuple(tuple(line for at, begin, end in page for line in (blank if at < 0 else drawn[at][begin:end])) for page in bound)


def _form(lines: tuple[BriefLine, ...], width: int, height: int, least: int) -> tuple[int, Sizes]:
    """The largest letters that do, with the rows that a page has for them: on one page, else on several.

    Larger letters are worth one page more than small ones take.
    """
    lettered = bool(least) or height >= LETTERED_FROM
    whole = [sizes for sizes in SIZES if (sizes[0] >= least and sizes[1] if lettered else not sizes[1])]
    large, small = (max(2, least), 1), (1, 1)
    forms = [(sizes, 1) for sizes in whole]
    if lettered:
        one_more = len(bind(lines, width, max(1, height - 1), small) or ()) + 1
        forms += [(large, one_more), (small, MOST_PAGES)]
    forms += [(sizes, 1) for sizes in SIZES if not sizes[1] and not least]
    forms += [((1, 0), MOST_PAGES)] if lettered else []
    for sizes, most in forms:
        rows = height if most == 1 else height - 1
        found = bind(lines, width, rows, sizes)
        if found is not None and len(found) <= most:
            return rows, sizes
    return max(1, height - 1), (0, 0)


Piece = tuple[int, int, int]
"""Rows [begin, end) of which line of the brief; of none (-1) for an empty row."""
NO_ROW: Final[Piece] = (-1, 0, 1)


def bind(lines: Sequence[BriefLine], width: int, height: int, sizes: Sizes) -> tuple[tuple[Piece, ...], ...] | None:
    """The lines on pages; None where something is too wide for its letters, or no line fits."""
    blocks: list[tuple[str, Piece]] = []
    for at, (kind, words) in enumerate(lines):
        broken, drawn = _broken(kind, words, width, sizes)
        count, size = len(broken) * (pitch_of(drawn) if drawn else 1), size_of(kind, sizes)
        # Of what is drawn in letters a page takes as many lines as it has room for; a heading stays whole.
        rows = pitch_of(size) if size and kind != "heading" else max(1, count if size else height)
        if not count or (size and rows > height):
            return None
        blocks += [(kind, (at, begin, min(begin + rows, count))) for begin in range(0, count, rows)]
    bound: list[list[Piece]] = [[]]
    taken = 0
    for at, (what, piece) in enumerate(blocks):
        own = _rows(piece)
        following = _rows(blocks[at + 1][1]) if at + 1 < len(blocks) else 0
        if what == "heading" and own + following > height and size_of(what, sizes):
            return None
        needed = own + (min(height - own, following) if what == "heading" else 0)
        if bound[-1] and what == "heading" and taken + needed + 1 <= height:
            bound[-1].append(NO_ROW)
            taken += 1
        if bound[-1] and taken + needed > height:
            bound.append([])
            taken = 0
        bound[-1].append(piece)
        taken += own
    return tuple(tuple(page) for page in bound)


def _rows(piece: Piece) -> int:
    return piece[2] - piece[1]


def size_of(kind: str, sizes: Sizes) -> int:
    """The letters of a kind of line."""
    return 0 if kind in BODY else sizes[0 if kind == "heading" else 1]


@lru_cache(maxsize=1024)
def _broken(kind: str, words: str, width: int, sizes: Sizes) -> tuple[tuple[str, ...], int]:
    """One line of the brief as the lines that it takes, with the size of their letters; none where letters do not do."""
    size = size_of(kind, sizes)
    if not size:
        return tuple(wrapped(words, width - len(MARKS[kind][0]) - 1, MOST_WRAPPED)), 0
    lettered_ones = lettered_lines(words, size, width - 2 - (0 if kind == "heading" else 4 * size))
    if lettered_ones or letters_across(words, size) is not None:
        # What is only too wide is for smaller letters.
        return lettered_ones or (), size
    return tuple(wrapped(words, width - 2, MOST_WRAPPED)), 0


def block_lines(kind: str, words: str, width: int, sizes: Sizes) -> list[Line]:
    """One line of the brief, marked by its kind, in letters or wrapped as body text; empty where letters do not do."""
    mark, style, plate = MARKS[kind]
    found, size = _broken(kind, words, width, sizes)
    if size:
        return _letters(kind, found, width, size)
    if size_of(kind, sizes):
        # A name that has no drawing is written as it is.
        return [padded([Segment(f"  {text}", STRONG)], width) for text in found]
    first, rest = Segment(mark, plate), Segment(" " * len(mark), BLANK)
    return [padded([first if at == 0 else rest, Segment(f" {text}", style)], width) for at, text in enumerate(found)]


def _letters(kind: str, found: Sequence[str], width: int, size: int) -> list[Line]:
    """Headings are bright, what is said of them is set in and dim; a caution is marked beside all of its lines."""
    ink, ground = (FAINT, DIM_BLOCK) if kind == "text" else (STRONG, LETTER_BLOCK)
    side = {"heading": [Segment(" ", BLANK)], "caution": [Segment(" " * size, BLANK), Segment("!".center(2 * size), ALERT_PLATE)]}
    before = [*side.get(kind, []), Segment(" " * (0 if kind == "heading" else size if kind == "caution" else 4 * size), BLANK)]
    lines = []
    for text in found:
        rows = lettered(text, size) or ()
        lines += [padded([*before, *inked(row, ink, ground)], width) for row in rows]
        lines += [padded((), width)] * (pitch_of(size) - height_of(size))
    return lines
