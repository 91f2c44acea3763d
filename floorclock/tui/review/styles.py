"""The colours and signs of the review, from the palette of the floor.

Invariant: whatever a colour says a sign or a word says too; text keeps a contrast of 4.5 on its ground
(`tests/review/test_styles.py` works it out by WCAG 2.2).
"""

from __future__ import annotations

from typing import Final

from rich.style import Style

from floorclock.pace.flags import SYMBOL, Flag
from floorclock.tui.base.palette import BLUISH_GREEN, GROUND, INK, ORANGE, RAISED, REDDISH_PURPLE, SKY_BLUE, VERMILLION

KEPT: Final = Style(color=SKY_BLUE, bgcolor=GROUND)
SHORT: Final = Style(color=GROUND, bgcolor=VERMILLION)
SHORT_BAR: Final = Style(color=VERMILLION, bgcolor=GROUND)
MISSED: Final = Style(color=REDDISH_PURPLE, bgcolor=GROUND)
GOOD: Final = Style(color=BLUISH_GREEN, bgcolor=GROUND)
ADVICE: Final = Style(color=ORANGE, bgcolor=GROUND)
TAB: Final = Style(color=INK, bgcolor=RAISED)
TAB_CHOSEN: Final = Style(color=GROUND, bgcolor=INK)
HEADING: Final = Style(color=INK, bgcolor=GROUND, bold=True, underline=True)

FLAG_STYLE: Final[dict[Flag, Style]] = {
    Flag.NOT_FINISHED: MISSED,
    Flag.RUNS_OUT: SHORT_BAR,
    Flag.TIGHT: SHORT_BAR,
    Flag.FADING: ADVICE,
}

SHORT_SIGN: Final = SYMBOL[Flag.TIGHT]
MISSED_SIGN: Final = SYMBOL[Flag.NOT_FINISHED]
HOLE: Final = "·"

ALL_STYLES: Final = (KEPT, SHORT, SHORT_BAR, MISSED, GOOD, ADVICE, TAB, TAB_CHOSEN, HEADING)
"""Every style of the review's own, for the contrast check."""


def flag_words(flag: Flag, *, over: bool = False) -> str:
    """Sign and word: `! tight`; where nothing is to come any more `x ran out`."""
    return f"{SYMBOL[flag]} {'ran out' if over and flag is Flag.RUNS_OUT else flag}"
