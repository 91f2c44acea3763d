"""The big digits, and the words that say what kind of time they count.

Invariant: the digits are as large as the room allows and never leave the widget; the mood is said by a word, too. The numeral
that runs is a widget of its own: a tenth of a second that passes repaints that and not the clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from rich.segment import Segment
from textual.app import ComposeResult
from textual.geometry import NULL_OFFSET, NULL_SPACING, Region, Size
from textual.layout import ArrangeResult, Layout, WidgetPlacement
from textual.widget import Widget

from floorclock.tui.base.digits import NumeralSize, largest_size, numeral, numeral_width, text_width
from floorclock.tui.base.letters import dots, doubled, halved
from floorclock.tui.base.lines import Line, cut, drawn, inked, padded, width_of
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import BLANK, INK_BLOCK, LOOKS, STRONG, Mood
from floorclock.tui.floor.view import ClockView

BIG_PLATE_ROWS = 7
SMALL_PLATE_ROWS = 4


Glyph = tuple[str, NumeralSize, Mood]

DENSE_BELOW = 10
"""Numerals of fewer rows are drawn in the denser texture."""


class NumeralPane(Painted[Glyph]):
    """A character of the clock, its size and its mood."""

    def paint(self, view: Glyph, width: int, height: int) -> list[Line]:
        """The numeral, which is exactly as large as the pane."""
        lines = numeral_lines(*view)
        # On its way from one size to another a pane may hold a numeral that does not fit it yet.
        return list(lines) if lines and len(numeral(*view[:2])[0]) == width else [padded(line, width) for line in lines]


@lru_cache(maxsize=256)
def numeral_lines(char: str, size: NumeralSize, mood: Mood) -> tuple[Line, ...]:
    """One numeral in the colour and texture of a mood, row by row."""
    return tuple(tuple(drawn(row, LOOKS[mood], dense=size.rows < DENSE_BELOW)) for row in numeral(char, size))


@dataclass(frozen=True, slots=True)
class NumeralPlaces:
    """Where the numerals of a text stand in the widget: each one's left edge and width, in rows `top` and below."""

    size: NumeralSize
    top: int
    columns: tuple[tuple[int, int], ...]


class NumeralLayout(Layout):
    """Puts the pane of a clock where its last numeral stands."""

    name = "numerals"

    def arrange(self, parent: Widget, children: list[Widget], size: Size, greedy: bool = True) -> ArrangeResult:
        """The placement of the pane, as Textual asks for it."""
        places = parent.hand_out(size.width, size.height) if isinstance(parent, BigClock) else None
        if places is None:
            return []
        left, across = places.columns[-1]
        region = Region(left, places.top, across, places.size.rows)
        return [WidgetPlacement(region, NULL_OFFSET, NULL_SPACING, pane) for pane in children]


class BigClock(Painted[ClockView]):
    """The countdown. The last numeral, which runs, is a pane of its own: its row is not written anew from the left every time."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._numeral_layout = NumeralLayout()
        self._last = NumeralPane()
        self._shown_shape = ("", "")

    @property
    def layout(self) -> Layout:
        """Our own, whatever the styles say."""
        return self._numeral_layout

    def compose(self) -> ComposeResult:
        """The pane of the last numeral."""
        yield self._last

    def show(self, view: ClockView) -> None:
        """Takes a view; the numerals keep their places as long as the text keeps its shape."""
        super().show(view)
        shape = (shape_of(view.text), view.mood_word)
        if shape != self._shown_shape:
            self._shown_shape = shape
            self._last.refresh(layout=True)
        self.hand_out(*self.outer_size)

    def hand_out(self, width: int, height: int) -> NumeralPlaces | None:
        """Gives the pane its numeral for a clock of this size; answers where all numerals stand."""
        if self.view is None:
            return None
        places = numeral_places(shape_of(self.view.text), self.view.mood_word, width, height)
        if places is not None:
            self._last.show((self.view.text[-1], places.size, self.view.mood))
        return places

    def paint(self, view: ClockView, width: int, height: int) -> list[Line]:
        """The words on top and all numerals but the last; the plain text where there is no room for numerals."""
        words = mood_words(view.mood, view.mood_word, view.label, width, words_rows(view.mood_word, width, height))
        places = numeral_places(shape_of(view.text), view.mood_word, width, height)
        if places is not None:
            air = [padded((), width)] * (places.top - len(words))
            return [*words, *air, *standing_numerals(view.text[:-1], places, view.mood, width)]
        text = Segment(cut(view.text, width), LOOKS[view.mood].plate)
        return [*words, padded([Segment(" " * max(0, (width - width_of([text])) // 2), BLANK), text], width)]


@lru_cache(maxsize=8)
def standing_numerals(text: str, places: NumeralPlaces, mood: Mood, width: int) -> tuple[Line, ...]:
    """The rows of the first numerals of a text."""
    glyphs = [numeral_lines(char, places.size, mood) for char in text]
    lines = []
    for y in range(places.size.rows):
        row: list[Segment] = []
        at = 0
        for glyph, (left, across) in zip(glyphs, places.columns, strict=False):
            row += [Segment(" " * (left - at), BLANK), *glyph[y]]
            at = left + across
        lines.append(padded(row, width))
    return tuple(lines)


@lru_cache(maxsize=64)
def numeral_places(shape: str, mood_word: str, width: int, height: int) -> NumeralPlaces | None:
    """Where the numerals of a text of this shape stand: as large as can be, in the middle below the words. None without room."""
    words = words_rows(mood_word, width, height)
    rows = height - words
    air = 2 if rows >= 10 else 1 if rows >= 7 else 0
    size = largest_size(shape, width - 2 if width >= 30 else width, rows - air) if shape else None
    if size is None:
        return None
    left = (width - text_width(shape, size)) // 2
    columns = []
    for char in shape:
        columns.append((left, numeral_width(char, size)))
        left += columns[-1][1] + size.gap
    return NumeralPlaces(size, words + (rows - size.rows) // 2, tuple(columns))


def words_rows(mood_word: str, width: int, height: int) -> int:
    """How many rows the words above the digits get: the digits never give up more than they can spare."""
    shape = dots(mood_word)
    across = len(shape[0]) if shape is not None else width
    if height >= 24 and 2 * across + 6 <= width:
        return BIG_PLATE_ROWS
    if height >= 13 and across + 4 <= width:
        return SMALL_PLATE_ROWS
    return 1 if height >= 4 else 0


@lru_cache(maxsize=32)
def mood_words(mood: Mood, mood_word: str, label: str, width: int, rows: int) -> tuple[Line, ...]:
    """The mood word on its plate and the label beside it; empty where there is no room."""
    if rows == 0:
        return ()
    look = LOOKS[mood]
    if rows == 1:
        plate = [Segment(f" {mood_word} ", look.plate)] if mood_word else []
        return (padded([*plate, Segment(f" {label}", STRONG)], width),)
    shape = dots(mood_word) or ("",)
    letters = halved(shape, lead=1) if rows == SMALL_PLATE_ROWS else doubled(shape)
    pad = "  " if rows == SMALL_PLATE_ROWS else "   "
    blank = " " * len(letters[0])
    body = letters if rows == SMALL_PLATE_ROWS else (blank, *letters, blank)
    beside = Segment(f"  {cut(label, max(0, width - len(blank) - 2 * len(pad) - 2))}", STRONG)
    lines = []
    for at, row in enumerate((*body, blank)[:rows]):
        plate = [Segment(pad, look.fill), *inked(row, look.fill, INK_BLOCK), Segment(pad, look.fill)]
        lines.append(padded([*plate, *([beside] if at == rows // 2 else [])], width))
    return tuple(lines)


def shape_of(text: str) -> str:
    """The text with every numeral the same: the digits keep their size while they count."""
    return "".join("8" if char.isdigit() else char for char in text)
