"""The lines for the coach: who needs you now, what was just done, and what to be careful with.

Invariant: where there are more lines than rows, a warning stays longest, then the calls, then the caution, then a notice.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style

from floorclock.floor.lines import Line, padded, wrapped
from floorclock.floor.painted import Painted
from floorclock.floor.palette import ALERT, ALERT_PLATE, BLANK, CAP, STRONG, TEXT
from floorclock.floor.view import CoachView


@dataclass(frozen=True, slots=True)
class Saying:
    """One line to say: its plate, its words, and its place when there is no room for all (lower stays longer)."""

    plate: str
    words: str
    rank: int
    plate_style: Style
    style: Style


class CoachLines(Painted[CoachView]):
    """Who needs the coach, the answer to what was done, and the caution."""

    def paint(self, view: CoachView, width: int, height: int) -> list[Line]:
        """The most urgent sayings that fit, in reading order; long ones take the rows that are free."""
        said = sayings(view)
        kept = sorted(said, key=lambda saying: saying.rank)[:height]
        lines: list[Line] = []
        free = height - len(kept)
        for saying in (saying for saying in said if saying in kept):
            drawn = saying_lines(saying, width, 1 + free)
            free -= len(drawn) - 1
            lines += drawn
        return lines


def sayings(view: CoachView) -> list[Saying]:
    """Everything there is to say, in reading order."""
    said = []
    for at, call in enumerate(view.calls):
        said.append(Saying(" COACH " if at == 0 else "       ", call, 1, ALERT_PLATE if at == 0 else BLANK, STRONG))
    if view.notice and view.notice_kind == "warning":
        said.append(Saying(" ! ", view.notice, 0, ALERT_PLATE, ALERT))
    elif view.notice:
        said.append(Saying(" > ", view.notice, 3, CAP, TEXT))
    if view.caution:
        said.append(Saying(" CAUTION ", view.caution, 2, CAP, STRONG))
    return said


def saying_lines(saying: Saying, width: int, rows: int) -> list[Line]:
    """A saying on at most `rows` lines; the lines after the first are set in under its words."""
    indent = cell_len(saying.plate) + 1
    words = wrapped(saying.words, width - indent, rows)
    lines = []
    for at, text in enumerate(words):
        plate = Segment(saying.plate, saying.plate_style) if at == 0 else Segment(" " * cell_len(saying.plate), BLANK)
        lines.append(padded([plate, Segment(f" {text}", saying.style)], width))
    return lines
