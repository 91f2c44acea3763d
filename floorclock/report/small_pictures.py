"""Values over time as a line of signs, the oldest first.

Invariant: one sign for each value (or for as many neighbours as it takes to fit); a hole is a value that nobody knows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from floorclock.report.text_splits import HEIGHTS, HOLE, PLAIN_HEIGHTS, PLAIN_HOLE


def line_of(values: Sequence[float | None], width: int, *, low: float, high: float, plain: bool = False) -> str:
    """A line of at most `width` signs: `low` is the smallest, `high` the tallest; what lies beyond is drawn as these.

    Where there are more values than signs, neighbours share one: the mean of those that are known.
    """
    heights, hole = (PLAIN_HEIGHTS, PLAIN_HOLE) if plain else (HEIGHTS, HOLE)
    return "".join(hole if value is None else heights[_height(value, low, high)] for value in _thinned(values, width))


def span_of(values: Sequence[float], least: float) -> tuple[float, float]:
    """From the smallest to the largest value, at least `least` wide about their middle: noise alone shall not look like much."""
    low, high = min(values), max(values)
    more = max(0.0, least - (high - low)) / 2
    return low - more, high + more


def _height(value: float, low: float, high: float) -> int:
    share = (value - low) / (high - low) if high > low else 1.0
    return max(0, min(len(HEIGHTS) - 1, math.ceil(share * len(HEIGHTS)) - 1))


def _thinned(values: Sequence[float | None], width: int) -> list[float | None]:
    count = len(values)
    if count <= width:
        return list(values)
    return [_mean(values[number * count // width : (number + 1) * count // width]) for number in range(width)]


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return math.fsum(known) / len(known) if known else None
