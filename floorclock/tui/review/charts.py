"""Plots as lines of text. The one place that knows plotext.

Invariant: a plot is a function of its `Chart` and the room for it. plotext keeps its state in one figure for the whole
process; every plot here is made in a figure of its own and is gone with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from rich.ansi import AnsiDecoder
from rich.console import Console
from textual_plotext.plot import Plot

from floorclock.tui.base.lines import Line, padded
from floorclock.tui.base.palette import DIM, GROUND

FEWEST_COLUMNS: Final = 16
FEWEST_ROWS: Final = 5
STEPS: Final = (1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600)
"""Between two marks on an axis of seconds or rounds: what people count in."""
FINE: Final = "braille"
"""A marker for lines, finer than a cell."""

_CONSOLE: Final = Console()


@dataclass(frozen=True, slots=True)
class Trace:
    """Points drawn with one sign in one colour; `joined` also draws the line between them."""

    x: tuple[float, ...]
    y: tuple[float, ...]
    sign: str
    colour: str
    joined: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """What a plot shows. Later traces are drawn over earlier ones; `x_marks` and `y_marks` are the numbers on the axes."""

    traces: tuple[Trace, ...]
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    x_marks: tuple[tuple[float, str], ...]
    y_marks: tuple[tuple[float, str], ...]


@lru_cache(maxsize=64)
def chart_lines(chart: Chart, width: int, height: int) -> tuple[Line, ...]:
    """The plot in exactly `width` by `height` cells; nothing where that is too little to read."""
    if width < FEWEST_COLUMNS or height < FEWEST_ROWS:
        return ()
    figure = Plot()
    figure.theme("clear")
    # Both: the first is what plotext documents, the second is what keeps it from asking the terminal how large it is.
    figure.plotsize(width, height)
    figure._set_size(width, height)
    figure.canvas_color(_rgb(GROUND))
    figure.axes_color(_rgb(GROUND))
    figure.ticks_color(_rgb(DIM))
    figure.xaxes(True, False)
    figure.yaxes(True, False)
    figure.xlim(*chart.x_range)
    figure.ylim(*chart.y_range)
    figure.xticks([at for at, _ in chart.x_marks], [word for _, word in chart.x_marks])
    figure.yticks([at for at, _ in chart.y_marks], [word for _, word in chart.y_marks])
    for trace in chart.traces:
        if trace.x:
            draw = figure.plot if trace.joined else figure.scatter
            draw(list(trace.x), list(trace.y), marker=trace.sign, color=_rgb(trace.colour))
    drawn = list(AnsiDecoder().decode(figure.build()))[:height]
    lines = [padded(text.render(_CONSOLE, end=""), width) for text in drawn]
    return tuple(lines) + (padded((), width),) * (height - len(lines))


def marks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round numbers from `low` to `high`, at most `most` of them (and never fewer than one, where there is one)."""
    for step in STEPS:
        first, last = math.ceil(low / step), math.floor(high / step)
        if last - first + 1 <= max(1, most):
            return tuple(float(number * step) for number in range(first, last + 1))
    return ()


def bounds(values: Sequence[float], *, room: float = 0.08, least: float = 4.0) -> tuple[float, float]:
    """A range with some air around the values, at least `least` wide, and never below zero."""
    low, high = min(values), max(values)
    air = max((high - low) * room, (least - (high - low)) / 2, 0.5)
    return max(0.0, low - air), high + air


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
