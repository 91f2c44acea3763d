"""Many short series of splits at once: medians, slopes, spreads, trends, level and drift.

Invariant: each series comes out as `pace.figures`, `pace.series` and `pace.stats` give it by itself; a class has a hundred of
them, and asked one by one they would take longer than everything else together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from floorclock.pace.series import LEAST_ROUNDS
from floorclock.pace.stats import kendall_variance

Floats = NDArray[np.float64]


@dataclass(slots=True)
class Taken:
    """One athlete's tapped rounds at one station, all of the same work: rounds that rise, splits over 0.

    `amount` is 0 where the work has none. What follows from them is filled in by `measure`; the lists by how many rounds there
    were so far, from the third on.
    """

    rounds: list[int]
    splits_ms: list[int]
    amount: float
    median_ms: float | None = None
    slope_ms: float | None = None
    cv_percent: float | None = None
    level: float | None = None
    drift: float | None = None
    rising: Sequence[int] = ()
    variances: Sequence[float] = ()
    slopes_ms: Sequence[float] = ()


def measure(series: Sequence[Taken]) -> None:
    """Fills in what follows from each series."""
    by_length: dict[int, list[Taken]] = {}
    for one in series:
        by_length.setdefault(len(one.rounds), []).append(one)
    for length, some in by_length.items():
        if length == 1:
            for one in some:
                one.median_ms = float(one.splits_ms[0])
                one.level = math.log(one.splits_ms[0] / 1000 / one.amount) if one.amount else None
        elif length > 1:
            _measure_alike(length, some)


@cache
def _pairs(length: int) -> tuple[NDArray[np.intp], NDArray[np.intp], list[int]]:
    """Every two of so many rounds, the earlier and the later, in the order of the later; where each later one ends."""
    pairs = [(early, late) for late in range(length) for early in range(late)]
    first, second = np.array(pairs, dtype=np.intp).T
    return first, second, [late * (late - 1) // 2 for late in range(LEAST_ROUNDS, length + 1)]


@cache
def _variance(length: int) -> float:
    """Of a trend of so many different values."""
    return kendall_variance(range(length))


def _measure_alike(length: int, some: Sequence[Taken]) -> None:
    first, second, ends = _pairs(length)
    rounds = np.array([one.rounds for one in some], dtype=np.float64)
    taken = np.array([one.splits_ms for one in some], dtype=np.float64)
    logs = np.array([_logs(one) for one in some])
    apart, change = rounds[:, second] - rounds[:, first], taken[:, second] - taken[:, first]
    slopes = change / apart
    means = taken.mean(axis=1)
    spread = np.sqrt(((taken - means[:, None]) ** 2).sum(axis=1) / (length - 1))
    drifts = _middle((logs[:, second] - logs[:, first]) / apart)
    columns: list[list[Any]] = [
        _middle(taken).tolist(),
        _middle(slopes).tolist(),
        (100 * spread / means).tolist(),
        drifts.tolist(),
        _middle(logs - drifts[:, None] * (rounds - 1)).tolist(),
    ]
    rising: list[list[int]] = []
    prefixes: list[list[float]] = []
    if ends:
        sums = np.cumsum(np.sign(change), axis=1)
        rising = sums[:, [end - 1 for end in ends]].astype(int).tolist()
        prefixes = np.stack([_middle(slopes[:, :end]) for end in ends], axis=1).tolist()
    tied = (change == 0).any(axis=1).tolist()
    plain = [_variance(count) for count in range(LEAST_ROUNDS, length + 1)]
    for place, one in enumerate(some):
        one.median_ms, one.slope_ms, one.cv_percent, drift, level = (column[place] for column in columns)
        if one.amount:
            one.level, one.drift = level, drift
        if ends:
            one.rising, one.slopes_ms, one.variances = rising[place], prefixes[place], plain
            if tied[place]:
                one.variances = [kendall_variance(one.splits_ms[:count]) for count in range(LEAST_ROUNDS, length + 1)]


def _logs(one: Taken) -> list[float]:
    amount = one.amount or 1.0
    return [math.log(split_ms / 1000 / amount) for split_ms in one.splits_ms]


def _middle(values: Floats) -> Floats:
    """The median of each row."""
    ordered, half = np.sort(values, axis=1), values.shape[1] // 2
    if values.shape[1] % 2:
        return ordered[:, half]
    return (ordered[:, half - 1] + ordered[:, half]) / 2
