"""The big digits, and the words that say what kind of time they count.

Invariant: the digits are as large as the room allows and never leave the widget; the mood is said by a word, too.
"""

from __future__ import annotations

from functools import lru_cache

from rich.segment import Segment

from floorclock.floor.digits import drawing, largest_size, text_width
from floorclock.floor.letters import dots, doubled, halved
from floorclock.floor.lines import Line, cut, drawn, inked, padded, width_of
from floorclock.floor.painted import Painted
from floorclock.floor.palette import BLANK, INK_BLOCK, LOOKS, STRONG
from floorclock.floor.view import ClockView

BIG_PLATE_ROWS = 7
SMALL_PLATE_ROWS = 4
DENSE_BELOW = 10
"""Digits of fewer rows are drawn in the denser texture."""


class BigClock(Painted[ClockView]):
    """The countdown."""

    def paint(self, view: ClockView, width: int, height: int) -> list[Line]:
        """The words on top, the digits in the middle of what is left."""
        words = mood_words(view, width, words_rows(view, width, height))
        return [*words, *digit_lines(view, width, height - len(words))]


def words_rows(view: ClockView, width: int, height: int) -> int:
    """How many rows the words above the digits get: the digits never give up more than they can spare."""
    shape = dots(view.mood_word)
    across = len(shape[0]) if shape is not None else width
    if height >= 24 and 2 * across + 6 <= width:
        return BIG_PLATE_ROWS
    if height >= 13 and across + 4 <= width:
        return SMALL_PLATE_ROWS
    return 1 if height >= 4 else 0


@lru_cache(maxsize=32)
def mood_words(view: ClockView, width: int, rows: int) -> tuple[Line, ...]:
    """The mood word on its plate and the label beside it; empty where there is no room."""
    if rows == 0:
        return ()
    look = LOOKS[view.mood]
    if rows == 1:
        plate = [Segment(f" {view.mood_word} ", look.plate)] if view.mood_word else []
        return (padded([*plate, Segment(f" {view.label}", STRONG)], width),)
    shape = dots(view.mood_word) or ("",)
    letters = halved(shape, lead=1) if rows == SMALL_PLATE_ROWS else doubled(shape)
    pad = "  " if rows == SMALL_PLATE_ROWS else "   "
    blank = " " * len(letters[0])
    body = letters if rows == SMALL_PLATE_ROWS else (blank, *letters, blank)
    label = Segment(f"  {cut(view.label, max(0, width - len(blank) - 2 * len(pad) - 2))}", STRONG)
    lines = []
    for at, row in enumerate((*body, blank)[:rows]):
        plate = [Segment(pad, look.fill), *inked(row, look.fill, INK_BLOCK), Segment(pad, look.fill)]
        lines.append(padded([*plate, *([label] if at == rows // 2 else [])], width))
    return tuple(lines)


def digit_lines(view: ClockView, width: int, height: int) -> list[Line]:
    """The digits in the middle of `width` by `height` cells; plain text where there is no room for any."""
    look = LOOKS[view.mood]
    size = largest_size(
        _shape(view.text), width - 2 if width >= 30 else width, height - (2 if height >= 10 else 1 if height >= 7 else 0)
    )
    if size is None:
        text = Segment(cut(view.text, width), look.plate)
        return [padded([Segment(" " * max(0, (width - width_of([text])) // 2), BLANK), text], width)] if height > 0 else []
    left = Segment(" " * ((width - text_width(view.text, size)) // 2), BLANK)
    above = [padded((), width)] * ((height - size.rows) // 2)
    return [
        *above,
        *(padded([left, *drawn(row, look, dense=size.rows < DENSE_BELOW)], width) for row in drawing(view.text, size)),
    ]


def _shape(text: str) -> str:
    """The text with every numeral the same: the digits keep their size while they count."""
    return "".join("8" if char.isdigit() else char for char in text)
