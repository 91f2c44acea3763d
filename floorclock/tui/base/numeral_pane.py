"""The numeral of the clock that runs, in a widget of its own.

Invariant: a pane paints one numeral and nothing else; a tenth of a second that passes repaints that and not the clock.
"""

from __future__ import annotations

from functools import lru_cache

from floorclock.tui.base.digits import NumeralSize, numeral
from floorclock.tui.base.lines import Line, drawn, padded
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import LOOKS
from floorclock.tui.floor.view import Mood

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
