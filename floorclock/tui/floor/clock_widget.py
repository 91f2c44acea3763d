"""The big digits, and the words that say what kind of time they count.

Invariant: the digits are as large as the room allows and never leave the widget; the mood is said by a word, too. The numeral
that runs is a widget of its own: a second that passes repaints that and not the clock.
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
from floorclock.tui.base.letters import lettered, lettered_lines
from floorclock.tui.base.lines import Line, cut, drawn, inked, padded, width_of, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import BLANK, INK_BLOCK, LETTER_BLOCK, LOOKS, STRONG, Mood
from floorclock.tui.floor.view import ClockView

WIDE = 4
"""A clock this many times as wide as high (a cell is twice as high as wide) has its words beside the digits, not above."""
MOST_PLATE_LINES = 2
DIGITS_ACROSS = 8
"""How many times as wide as high, in cells, five characters of the clock are at most."""

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
        self._shown_shape = ("", "", "")

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
        shape = (shape_of(view.text), view.mood_word, view.label)
        if shape != self._shown_shape:
            self._shown_shape = shape
            self._last.refresh(layout=True)
        self.hand_out(*self.outer_size)

    def hand_out(self, width: int, height: int) -> NumeralPlaces | None:
        """Gives the pane its numeral for a clock of this size; answers where all numerals stand."""
        if self.view is None:
            return None
        places = numeral_places(shape_of(self.view.text), words_box(self.view.mood_word, width, height), width, height)
        if places is not None:
            self._last.show((self.view.text[-1], places.size, self.view.mood))
        return places

    def paint(self, view: ClockView, width: int, height: int) -> list[Line]:
        """The words above or beside all numerals but the last; the plain text where there is no room for numerals."""
        box = words_box(view.mood_word, width, height)
        words = mood_words(view.mood, view.mood_word, view.label, box)
        places = numeral_places(shape_of(view.text), box, width, height)
        if places is not None:
            numerals = standing_numerals(view.text[:-1], places, view.mood, box.width if box.beside else 0)
            if box.beside:
                aside = [*words, *[padded((), box.width)] * (height - len(words))]
                rows = {places.top + at: row for at, row in enumerate(numerals)}
                return [padded([*aside[y], *rows.get(y, ())], width) for y in range(height)]
            return [*words, *[padded((), width)] * (places.top - len(words)), *(padded(row, width) for row in numerals)]
        if box.beside or not view.text:
            return [padded(line, width) for line in words]
        text = Segment(cut(view.text, width), LOOKS[view.mood].fill)
        return [*words, padded([Segment(" " * max(0, (width - width_of([text])) // 2), BLANK), text], width)]


@lru_cache(maxsize=8)
def standing_numerals(text: str, places: NumeralPlaces, mood: Mood, origin: int) -> tuple[Line, ...]:
    """The rows of the first numerals of a text, from the column `origin` on."""
    glyphs = [numeral_lines(char, places.size, mood) for char in text]
    lines = []
    for y in range(places.size.rows):
        row: list[Segment] = []
        at = origin
        for glyph, (left, across) in zip(glyphs, places.columns, strict=False):
            row += [Segment(" " * (left - at), BLANK), *glyph[y]]
            at = left + across
        lines.append(tuple(row))
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class WordsBox:
    """The room of the words, beside the digits or above them; `size` is that of the letters on the plate."""

    width: int
    rows: int
    size: int
    beside: bool = False


@lru_cache(maxsize=64)
def words_box(mood_word: str, width: int, height: int) -> WordsBox:
    """How much room the words get: the digits never give up more than they can spare."""
    beside = width >= WIDE * height and height >= 4
    # Low digits are narrow: the words have what these leave.
    room = max(width * 2 // 5, width - DIGITS_ACROSS * height) if beside else width
    for size, least in ((2, 7 if beside else 24), (1, 4 if beside else 13)):
        lines = lettered_lines(mood_word, size, room - 6) if height >= least else None
        if lines and len(lines) <= MOST_PLATE_LINES and plate_rows(len(lines), size) <= (height if beside else height // 3):
            return WordsBox(room if beside else width, height if beside else plate_rows(len(lines), size), size, beside)
    if beside:
        return WordsBox(room, height, 0, beside)
    return WordsBox(width, 1 if height >= 4 else 0, 0)


def plate_rows(lines: int, size: int) -> int:
    """The rows of a plate with so many lines of letters."""
    return 6 * lines + 1 if size == 2 else 3 * lines + 1


@lru_cache(maxsize=64)
def numeral_places(shape: str, box: WordsBox, width: int, height: int) -> NumeralPlaces | None:
    """Where the numerals of a text of this shape stand: as large as can be, in the middle of their room. None without room."""
    origin, top = (box.width, 0) if box.beside else (0, box.rows)
    across, rows = width - origin, height - top
    air = 2 if rows >= 10 else 1 if rows >= 7 else 0
    size = largest_size(shape, across - 2 if across >= 30 else across, rows - air) if shape else None
    if size is None:
        return None
    left = origin + (across - text_width(shape, size)) // 2
    columns = []
    for char in shape:
        columns.append((left, numeral_width(char, size)))
        left += columns[-1][1] + size.gap
    return NumeralPlaces(size, top + (rows - size.rows) // 2, tuple(columns))


@lru_cache(maxsize=32)
def mood_words(mood: Mood, mood_word: str, label: str, box: WordsBox) -> tuple[Line, ...]:
    """The mood word on its plate, and the label below it or beside it; empty where there is no room."""
    look = LOOKS[mood]
    if not box.rows:
        return ()
    if not box.size:
        plate = [Segment(f" {cut(mood_word, box.width - 2)} ", look.fill)] if mood_word else []
        if not box.beside:
            return (padded([*plate, Segment(f" {label}", STRONG)], box.width),)
        return (padded(plate, box.width), *label_lines(label, box.width, box.rows - 1))
    plate_lines = _plate(mood, mood_word, box)
    if box.beside:
        below = label_lines(label, box.width, box.rows - len(plate_lines))
        return (*(padded(line, box.width) for line in plate_lines), *below)
    # Whole words or none: the plate says the main thing.
    room = box.width - width_of(plate_lines[0]) - 2
    aside = wrapped(label, room, len(plate_lines))
    aside = [] if any("…" in text for text in aside) else aside
    first = (len(plate_lines) - len(aside)) // 2
    rows = [*[""] * first, *aside, *[""] * len(plate_lines)]
    return tuple(padded([*line, Segment(f"  {rows[at]}", STRONG)], box.width) for at, line in enumerate(plate_lines))


def _plate(mood: Mood, mood_word: str, box: WordsBox) -> list[Line]:
    """The word on its plate; small letters have half a row of it above them, large ones a row above and below."""
    look, large = LOOKS[mood], box.size > 1
    lines = lettered_lines(mood_word, box.size, box.width - 6) or ()
    words = [lettered(line, box.size, lead=not large) or ("",) for line in lines]
    across = max(len(rows[0]) for rows in words)
    body = [row.ljust(across) for rows in words for row in (*rows, *([""] if large else []))]
    body = [" " * across, *body] if large else [*body, " " * across]
    pad = Segment("   " if large else "  ", look.fill)
    return [(pad, *inked(row, look.fill, INK_BLOCK), pad) for row in body]


def label_lines(label: str, width: int, rows: int) -> list[Line]:
    """What the digits say, below the plate: in letters where there is room."""
    if rows < 1 or not label:
        return []
    lines = lettered_lines(label, 1, width - 2)
    if not lines or 4 * len(lines) > rows:
        return [padded([Segment(f" {text}", STRONG)], width) for text in wrapped(label, width - 2, rows)]
    shapes = [row for line in lines for row in ("", *(lettered(line, 1) or ()))]
    return [padded([Segment(" ", BLANK), *inked(row, STRONG, LETTER_BLOCK)], width) for row in shapes]


def shape_of(text: str) -> str:
    """The text with every numeral the same: the digits keep their size while they count."""
    return "".join("8" if char.isdigit() or char == " " else char for char in text)
