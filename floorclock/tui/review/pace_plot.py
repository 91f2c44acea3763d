"""One athlete at one station as a plot: splits, the fitted line, what was to come, and the latest that keeps the margin.

Invariant: each kind of point has a sign of its own; a round that nobody tapped has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from floorclock.clock.splits import Status
from floorclock.digest.class_digest import AthleteDigest, FlaggedSplit, PartDigest
from floorclock.pace.flags import is_tight
from floorclock.pace.model.forecast import Forecast
from floorclock.tui.base.palette import DIM, INK, ORANGE, REDDISH_PURPLE, SKY_BLUE, VERMILLION
from floorclock.tui.review.charts import FINE, Chart, Trace, bounds, marks
from floorclock.tui.review.styles import MISSED_SIGN, SHORT_SIGN

TAKEN: Final = "●"
COMING: Final = "○"
REACH: Final = "│"
MARGIN: Final = "─"
LEGEND: Final = (
    f"{TAKEN} split in s  {SHORT_SIGN} under the margin  {MISSED_SIGN} not finished  ⠒ fitted line  "
    f"{COMING} to come  {REACH} 8 of 10 lie here  {MARGIN} latest for the margin"
)
LEGEND_SHORT: Final = (
    f"{TAKEN} split in s  {SHORT_SIGN} tight  {MISSED_SIGN} not finished  ⠒ fitted  "
    + f"{COMING} to come {REACH} 8 of 10  {MARGIN} latest"
)
BEYOND: Final = 1.15
"""No more than this share of the interval is drawn: a forecast may lie far beyond it."""


@dataclass(frozen=True, slots=True)
class StationPoints:
    """What one station's plot is made of; times in seconds. `limit` is the latest split that keeps the margin."""

    name: str
    splits: tuple[FlaggedSplit, ...]
    fitted: tuple[tuple[int, float], ...]
    coming: tuple[Forecast, ...]
    limit: float
    window: float

    @property
    def values(self) -> list[float]:
        """All that must be in sight."""
        taken = [one.split.split_ms / 1000 for one in self.splits if one.split.split_ms is not None]
        ahead = [ms / 1000 for one in self.coming for ms in (one.low_ms, one.high_ms)]
        missed = [self.window for one in self.splits if one.split.status is Status.NOT_FINISHED]
        return [self.limit, *taken, *missed, *(seconds for _, seconds in self.fitted), *ahead]


def station_points(athlete: AthleteDigest, part: PartDigest) -> list[StationPoints]:
    """The stations of an athlete, in the order of the plan, each by the move that was done there."""
    found = []
    for station in athlete.worked_at:
        splits, coming = athlete.splits_at(station), athlete.forecast_at(station)
        fitted = [(one.split.round, one.fitted_ms / 1000) for one in splits if one.fitted_ms is not None]
        last = splits[-1].split if splits else coming[-1].slot
        limit = (last.window_ms - last.margin_ms) / 1000
        found.append(StationPoints(part.work_at(athlete, station), splits, tuple(fitted), coming, limit, last.window_ms / 1000))
    return found


def seconds_in_sight(stations: Sequence[StationPoints]) -> tuple[float, float]:
    """The scale on which all of these can be seen."""
    highest = max(one.window for one in stations) * BEYOND
    values = [min(value, highest) for one in stations for value in one.values]
    return bounds(values)


def station_chart(points: StationPoints, y_range: tuple[float, float], width: int, height: int) -> Chart:
    """The plot of one station; `width` and `height` say how many numbers its axes have room for."""
    rounds = [one.split.round for one in points.splits] + [one.slot.round for one in points.coming]
    first, last = min(rounds), max(rounds)
    x_range = (first - 0.5, last + 0.5)
    top = y_range[1]
    taken = [one.split for one in points.splits if one.split.split_ms is not None]
    kept = [split for split in taken if not is_tight(split)]
    short = [split for split in taken if is_tight(split)]
    missed = [one.split.round for one in points.splits if one.split.status is Status.NOT_FINISHED]
    reaches = [
        Trace((one.slot.round,) * 2, (one.low_ms / 1000, min(top, one.high_ms / 1000)), REACH, ORANGE, joined=True)
        for one in points.coming
    ]
    traces = [
        Trace(x_range, (points.limit,) * 2, MARGIN, INK, joined=True),
        Trace(tuple(at for at, _ in points.fitted), tuple(y for _, y in points.fitted), FINE, DIM, joined=True),
        *reaches,
        Trace(
            tuple(one.slot.round for one in points.coming), _seconds([one.split_ms for one in points.coming], top), COMING, ORANGE
        ),
        Trace(tuple(split.round for split in kept), _seconds([split.split_ms for split in kept], top), TAKEN, SKY_BLUE),
        Trace(tuple(split.round for split in short), _seconds([split.split_ms for split in short], top), SHORT_SIGN, VERMILLION),
        Trace(tuple(missed), (min(top, points.window),) * len(missed), MISSED_SIGN, REDDISH_PURPLE),
    ]
    return Chart(
        traces=tuple(traces),
        x_range=x_range,
        y_range=y_range,
        x_marks=tuple((at, f"{at:g}") for at in marks(first, last, max(2, (width - 6) // 4))),
        y_marks=_y_marks(points.limit, y_range, height),
    )


def _seconds(times_ms: Sequence[float | None], top: float) -> tuple[float, ...]:
    return tuple(min(top, ms / 1000) for ms in times_ms if ms is not None)


def _y_marks(limit: float, y_range: tuple[float, float], height: int) -> tuple[tuple[float, str], ...]:
    """Round numbers, and the limit itself; a number that would stand right beside it gives way."""
    row = (y_range[1] - y_range[0]) / max(1, height - 3)
    kept = [at for at in marks(*y_range, max(2, height // 3)) if abs(at - limit) > 1.5 * row]
    return tuple((at, f"{at:g}") for at in sorted([*kept, limit]))
