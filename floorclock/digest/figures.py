"""Figures of one athlete, and of the class, at one station.

Invariant: where too little was tapped a figure is None, and an untapped interval is counted as unknown, nowhere else.

Slope, spread and decrement compare rounds of the same work: where the target changed, each split counts in time for the
amount of the latest round, and another option starts afresh (`series.Series`). Medians are of the splits as they were.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from floorclock.clock.splits import Split, Status
from floorclock.pace.flags import is_tight
from floorclock.pace.series import Series
from floorclock.pace.stats import coefficient_of_variation, decrement_percent, median


@dataclass(frozen=True, slots=True, kw_only=True)
class StationFigures:
    """One athlete at one station. `slope_ms` is per round; spread and slope need two tapped rounds, the median one."""

    station: int
    name: str
    tapped: int
    median_split_ms: float | None = None
    slope_ms: float | None = None
    cv_percent: float | None = None
    decrement_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationOverview:
    """The class at one station: medians over all tapped splits, and how many of them were tight.

    `drift_ms` is how much slower each round was there: the median of the athletes' slopes.
    """

    station: int
    name: str
    tapped: int
    tight: int
    untapped: int
    median_split_ms: float | None = None
    median_rest_ms: float | None = None
    drift_ms: float | None = None


def athlete_figures(station: int, name: str, splits: Sequence[Split]) -> StationFigures:
    """The figures of one athlete's splits at a station, in order; those elsewhere are left out."""
    series, taken = Series(), [split for split in splits if split.station == station and split.split_ms is not None]
    for split in taken:
        series.add(split)
    paces = [max(1, pace) for pace in series.paces()] if taken else []
    rounds = {split.round for split in series.taken}
    return StationFigures(
        station=station,
        name=name,
        tapped=len(taken),
        median_split_ms=median_of_known([split.split_ms for split in taken]),
        slope_ms=series.slope_ms() if len(rounds) > 1 else None,
        cv_percent=coefficient_of_variation(paces) if len(paces) > 1 else None,
        decrement_percent=decrement_percent(paces) if len(paces) > 1 else None,
    )


def station_overview(station: int, name: str, splits: Sequence[Split], slopes_ms: Sequence[float | None] = ()) -> StationOverview:
    """The class at a station, with its athletes' slopes there; splits elsewhere are left out."""
    here = [split for split in splits if split.station == station]
    return StationOverview(
        station=station,
        name=name,
        tapped=sum(split.status is Status.DONE for split in here),
        tight=sum(is_tight(split) for split in here),
        untapped=sum(split.status is Status.UNTAPPED for split in here),
        median_split_ms=median_of_known([split.split_ms for split in here]),
        median_rest_ms=median_of_known([split.rest_ms for split in here]),
        drift_ms=median_of_known(slopes_ms),
    )


def median_of_known(values: Sequence[float | None]) -> float | None:
    """The median of the values that there are; None where there is none."""
    known = [value for value in values if value is not None]
    return median(known) if known else None
