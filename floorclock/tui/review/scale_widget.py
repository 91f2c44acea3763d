"""The effort scale with its words. A click on a step rates the chosen athlete.

Invariant: the words are those of the scale, in its order, whatever the room; the source is named beside them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment
from textual import events
from textual.message import Message

from floorclock.tui.base.lines import Line, padded
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import CHOSEN, FAINT, STRONG, TEXT
from floorclock.tui.review.effort_scale import CR10, SOURCE
from floorclock.tui.review.styles import TAB

TALL: Final = 14
"""Lines that the scale needs as a column."""


@dataclass(frozen=True, slots=True)
class ScaleView:
    """The effort of the chosen athlete, None without one."""

    effort: float | None


@dataclass(frozen=True, slots=True)
class Step:
    """Where a step of the scale was drawn: line, first cell, and the cell after its last."""

    effort: float
    y: int
    begin: int
    end: int


class EffortScale(Painted[ScaleView]):
    """A column where there is room, else a strip of a few lines."""

    @dataclass
    class Rated(Message):
        """A click on a step."""

        effort: float

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._steps: list[Step] = []

    def paint(self, view: ScaleView, width: int, height: int) -> list[Line]:
        """The step that stands is marked by a sign as well as by its ground."""
        if height < TALL:
            return self._as_strip(view, width, height)
        lines = [padded([Segment("How hard was the class, all in all?", STRONG)], width), padded([], width)]
        self._steps = []
        for effort, word in CR10.items():
            on = view.effort == effort
            self._steps.append(Step(effort, len(lines), 0, width))
            ends = [Segment(f"{'▸' if on else ' '}{effort:>4g} ", CHOSEN if on else TAB), Segment(f" {word}", TEXT)]
            lines.append(padded(ends, width))
        source = [padded([Segment(words, FAINT)], width) for words in ("The athlete's own word.", f"{SOURCE}.")]
        return [*lines, padded([], width), *source]

    def _as_strip(self, view: ScaleView, width: int, height: int) -> list[Line]:
        rows: list[list[Segment]] = [[]]
        taken = 0
        self._steps = []
        for effort, word in CR10.items():
            short = word.partition(" (")[0]
            on = view.effort == effort
            number = f"{'▸' if on else ' '}{effort:g}"
            cells = cell_len(number) + cell_len(short) + 1 + bool(short)
            if taken + cells > width and len(rows) < height:
                rows.append([])
                taken = 0
            self._steps.append(Step(effort, len(rows) - 1, taken, taken + cells))
            rows[-1] += [Segment(number, CHOSEN if on else STRONG), Segment(f" {short} " if short else " ", FAINT)]
            taken += cells
        source = f" {SOURCE}"
        if taken + cell_len(source) > width and len(rows) < height:
            rows.append([])
            taken = 0
        if taken + cell_len(source) <= width:
            rows[-1].append(Segment(source, FAINT))
        return [padded(row, width) for row in rows]

    def on_click(self, event: events.Click) -> None:
        step = next((one for one in self._steps if one.y == event.y and one.begin <= event.x < one.end), None)
        if step is not None:
            self.post_message(self.Rated(step.effort))
