"""The plots of the review as text: splits at one station, and rounds of a result. The one place that knows plotext.

Invariant: a plot is drawn in a figure of its own; each kind of point has one sign and one colour; what nobody tapped has none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

from rich.text import Text
from textual_plotext.plot import Plot

from floorclock.clock.splits import Status
from floorclock.digest.class_digest import AthleteDigest
from floorclock.pace.flags import is_tight
from floorclock.tui.base.palette import DIM, GROUND, INK, ORANGE, REDDISH_PURPLE, SKY_BLUE, VERMILLION
from floorclock.tui.review.view import MISSED_SIGN, SHORT_SIGN

FEWEST_COLUMNS, FEWEST_ROWS = 16, 5
STEPS: Final = (1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600)
"""Between two marks on an axis of seconds or rounds: what people count in."""
FINE: Final = "braille"
"""A marker for lines, finer than a cell."""
BEYOND: Final = 1.15
"""No more than this share of the interval is drawn: a forecast may lie far beyond it."""
SPLIT, COMING, REACH, MARGIN = "●", "○", "│", "─"
OWN, MIDDLE = "●", "○"
COLOUR: Final = {
    SPLIT: SKY_BLUE,
    SHORT_SIGN: VERMILLION,
    MISSED_SIGN: REDDISH_PURPLE,
    COMING: ORANGE,
    REACH: ORANGE,
    MARGIN: INK,
    FINE: DIM,
}
"""The signs of the plot of a station, and the colour of each."""
LEGEND: Final = (
    f"{SPLIT} split in s  {SHORT_SIGN} under the margin  {MISSED_SIGN} not finished  ⠒ fitted line  "
    f"{COMING} to come  {REACH} 8 of 10 lie here  {MARGIN} latest for the margin"
)
LEGEND_SHORT: Final = (
    f"{SPLIT} split in s  {SHORT_SIGN} tight  {MISSED_SIGN} not finished  ⠒ fitted  "
    f"{COMING} to come {REACH} 8 of 10  {MARGIN} latest"
)

Points = Sequence[tuple[float, float]]
Range = tuple[float, float]


def station_plot(athlete: AthleteDigest, station: int, scale_s: Range, width: int, height: int) -> Text:
    """An athlete's splits at a station, the line through them, what is to come, and the latest that keeps the margin."""
    splits, coming = athlete.splits_at(station), athlete.forecast_at(station)
    rounds = [taken.split.round for taken in splits] + [ahead.slot.round for ahead in coming]
    window_s, limit_s = (ms / 1000 for ms in athlete.usual_at(station))
    top_s = scale_s[1]
    signs: dict[str, list[tuple[float, float]]] = {SPLIT: [], SHORT_SIGN: [], MISSED_SIGN: []}
    for split in (taken.split for taken in splits):
        if split.status is Status.NOT_FINISHED:
            signs[MISSED_SIGN].append((split.round, min(top_s, window_s)))
        elif split.split_ms is not None:
            signs[SHORT_SIGN if is_tight(split) else SPLIT].append((split.round, min(top_s, split.split_ms / 1000)))
    x_range = (min(rounds) - 0.5, max(rounds) + 0.5)
    row_s = (top_s - scale_s[0]) / max(1, height - 3)
    # A number that would stand right beside the limit gives way to it.
    y_marks = [mark for mark in marks(*scale_s, max(2, height // 3)) if abs(mark - limit_s) > 1.5 * row_s]
    figure = _figure(width, height, x_range, scale_s, sorted([*y_marks, limit_s]))
    # An interval that was made longer moves the line in its own round alone.
    own = {slot.round: (slot.window_ms - slot.margin_ms) / 1000 for slot in athlete.slots_at(station)}
    for number in range(min(rounds), max(rounds) + 1):
        _draw(figure, [(x, own.get(number, limit_s)) for x in (number - 0.5, number + 0.5)], MARGIN, COLOUR[MARGIN], joined=True)
    fitted = [(taken.split.round, taken.fitted_ms / 1000) for taken in splits if taken.fitted_ms is not None]
    _draw(figure, fitted, FINE, COLOUR[FINE], joined=True)
    for ahead in coming:
        reach = [(ahead.slot.round, min(top_s, ms / 1000)) for ms in (ahead.low_ms, ahead.high_ms)]
        _draw(figure, reach, REACH, COLOUR[REACH], joined=True)
    _draw(figure, [(ahead.slot.round, min(top_s, ahead.split_ms / 1000)) for ahead in coming], COMING, COLOUR[COMING])
    for sign, points in signs.items():
        _draw(figure, points, sign, COLOUR[sign])
    return _text(figure, width, height)


def scale_of(athlete: AthleteDigest, stations: Iterable[int]) -> Range:
    """The seconds on which all that is drawn of these stations can be seen."""
    values = []
    for station in stations:
        window_s, limit_s = (ms / 1000 for ms in athlete.usual_at(station))
        splits, coming = athlete.splits_at(station), athlete.forecast_at(station)
        times_ms = [ms for taken in splits for ms in (taken.split.split_ms, taken.fitted_ms) if ms is not None]
        times_ms += [ms for ahead in coming for ms in (ahead.low_ms, ahead.high_ms)]
        missed = [window_s] if any(taken.split.status is Status.NOT_FINISHED for taken in splits) else []
        values += [min(value, window_s * BEYOND) for value in (limit_s, *missed, *(ms / 1000 for ms in times_ms))]
    return bounds(values)


def laps_plot(own: Sequence[float], middle: Sequence[float], width: int, height: int) -> Text:
    """Somebody's rounds over those of the class's median, in seconds."""
    scale_s = bounds([*own, *middle])
    x_range = (0.5, max(len(own), len(middle)) + 0.5)
    figure = _figure(width, height, x_range, scale_s, marks(*scale_s, max(2, height // 3)))
    for laps, sign, colour in ((middle, MIDDLE, ORANGE), (own, OWN, SKY_BLUE)):
        points = list(enumerate(laps, 1))
        _draw(figure, points, FINE, colour, joined=True)
        _draw(figure, points, sign, colour)
    return _text(figure, width, height)


def marks(low: float, high: float, most: int) -> list[float]:
    """Round numbers from `low` to `high`, at most `most` of them (and never fewer than one, where there is one)."""
    for step in STEPS:
        first, last = math.ceil(low / step), math.floor(high / step)
        if last - first + 1 <= max(1, most):
            return [float(number * step) for number in range(first, last + 1)]
    return []


def bounds(values: Sequence[float], *, room: float = 0.08, least: float = 4.0) -> Range:
    """A range with some air around the values, at least `least` wide, and never below zero."""
    low, high = min(values), max(values)
    air = max((high - low) * room, (least - (high - low)) / 2, 0.5)
    return max(0.0, low - air), high + air


def _figure(width: int, height: int, x_range: Range, y_range: Range, y_marks: list[float]) -> Plot:
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
    figure.xlim(*x_range)
    figure.ylim(*y_range)
    x_marks = marks(*x_range, max(2, (width - 6) // 4))
    figure.xticks(x_marks, [f"{mark:g}" for mark in x_marks])
    figure.yticks(y_marks, [f"{mark:g}" for mark in y_marks])
    return figure


def _draw(figure: Plot, points: Points, sign: str, colour: str, *, joined: bool = False) -> None:
    if points:
        draw = figure.plot if joined else figure.scatter
        draw([x for x, _ in points], [y for _, y in points], marker=sign, color=_rgb(colour))


def _text(figure: Plot, width: int, height: int) -> Text:
    """The drawing, in exactly that many cells; nothing where they are too few to read it."""
    if width < FEWEST_COLUMNS or height < FEWEST_ROWS:
        return Text()
    return Text.from_ansi(figure.build().rstrip("\n"), no_wrap=True)


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
