"""The lines for the coach: who needs you now, what was just done, and what to be careful with.

Invariant: where there are more lines than rows, a warning stays longest, then the calls, then the caution, then a notice.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style

from floorclock.tui.base.lines import Line, padded, width_of, wrapped
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import ALERT, ALERT_PLATE, BLANK, CAP, STRONG, TEXT
from floorclock.tui.floor.view import CoachView

PLATES = {"call": " COACH ", "chance": " ROOM FOR MORE ", "offer": " BEFORE "}
"""The word before the first line of a kind; the lines after it are set in as deep."""
LEFT_OUT = "…"
LEAST_WORDS = 20
"""Where the words would have less room than this, what the key does is left out: the line of keys says it too."""


@dataclass(frozen=True, slots=True)
class Saying:
    """One line to say: its plate, its words, what a key would do about it, and its place when there is no room for all.

    A lower `rank` stays longer.
    """

    plate: str
    words: str
    rank: int
    plate_style: Style
    style: Style
    hint: str = ""
    shorter: tuple[str, ...] = ()


class CoachLines(Painted[CoachView]):
    """Who needs the coach, the answer to what was done, and the caution."""

    def paint(self, view: CoachView, width: int, height: int) -> list[Line]:
        """The most urgent sayings that fit, in reading order; long ones take the rows that are free."""
        said = sayings(view)
        kept = sorted(said, key=lambda saying: saying.rank)[:height]
        lines: list[Line] = []
        # The row of the answers is kept free where it can be: calls must not jump whenever somebody taps.
        free = height - len(kept) - (not view.notice and bool(view.calls))
        for saying in (saying for saying in said if saying in kept):
            drawn = saying_lines(saying, width, 1 + max(0, free))
            free -= len(drawn) - 1
            lines += drawn
        return lines


def sayings(view: CoachView) -> list[Saying]:
    """Everything there is to say, in reading order."""
    said = []
    last = ""
    for call in view.calls:
        alarm = call.kind == "call"
        plate = PLATES[call.kind] if call.kind != last else " " * len(PLATES[call.kind])
        look = BLANK if call.kind == last else ALERT_PLATE if alarm else CAP
        said.append(Saying(plate, call.words, 1 if alarm else 3, look, STRONG if alarm else TEXT, call.hint, call.shorter))
        last = call.kind
    if view.notice and view.notice_kind == "warning":
        said.append(Saying(" ! ", view.notice, 0, ALERT_PLATE, ALERT))
    elif view.notice:
        said.append(Saying(" > ", view.notice, 4, CAP, TEXT))
    if view.caution:
        said.append(Saying(" CAUTION ", view.caution, 2, CAP, STRONG))
    return said


def saying_lines(saying: Saying, width: int, rows: int) -> list[Line]:
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
