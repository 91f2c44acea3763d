"""Work that was not finished: what is to be expected of a time that is only known to be more than the interval.

Invariant: what is expected is beyond the interval, and never far.
"""

from __future__ import annotations

import math

import numpy as np

from floorclock.pace.model.grid import Array, Grid

LATE = 0.05
"""The first guess at how far beyond the interval work was that was not finished, and a third of the most: logarithms."""


def beyond(grid: Grid, fitted: Array, scale: float) -> tuple[Array, Array]:
    """The times with what is to be expected in place of work not finished, and the variance that hides there."""
    logs, hidden = grid.logs.copy(), np.zeros_like(grid.logs)
    for row in np.argwhere(grid.over):
        place = tuple(row)
        logs[place], hidden[place] = expected_beyond(float(grid.logs[place]), float(fitted[place]), scale)
    return logs, hidden


def expected_beyond(limit: float, mean: float, scale: float) -> tuple[float, float]:
    """Mean and variance of a normal that is known to lie above a limit (the textbook formula, from memory).

    The mean is kept near the limit: an interval that somebody gave up on should not count as an hour.
    """
    z = (limit - mean) / scale
    if z > 6:
        return limit + scale / z, (scale / z) ** 2
    hazard = math.exp(-z * z / 2) / math.sqrt(2 * math.pi) / (math.erfc(z / math.sqrt(2)) / 2)
    return min(mean + scale * hazard, limit + 3 * LATE), max(scale**2 * (1 + z * hazard - hazard**2), 0.0)
