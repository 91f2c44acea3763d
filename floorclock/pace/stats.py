"""The few statistics that pacing needs, in plain Python.

Invariant: a function here knows numbers only. Lengths are checked, what cannot be computed is a `ValueError`, and the
unit of what comes out follows from the units of what goes in. Asking for too little data is the caller's defect.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

Number = int | float | Fraction


@dataclass(frozen=True, slots=True)
class Trend:
    """A Kendall-type trend test pooled over several series.

    `statistic` is the number of pairs that rise minus those that fall, `variance` its variance if nothing changes,
    `z` the standard score with the continuity correction; 0 where the variance is 0.
    """

    statistic: int
    variance: float
    z: float


def median(values: Iterable[Number]) -> float:
    """The middle value, or the mean of the two middle ones; in the unit of the values.

    Raises:
        ValueError: there are no values.
    """
    ordered = sorted(values)
    if not ordered:
        raise ValueError("a median needs at least one value")
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return float(ordered[middle])
    return float((ordered[middle - 1] + ordered[middle]) / 2)


def pairwise_slopes(x: Sequence[Number], y: Sequence[Number]) -> list[float]:
    """The slopes of the lines through every two points with different x, smallest first.

    Raises:
        ValueError: the lengths differ, or no two points have different x.
    """
    pairs = combinations(zip(x, y, strict=True), 2)
    slopes = [float((second[1] - first[1]) / (second[0] - first[0])) for first, second in pairs if first[0] != second[0]]
    if not slopes:
        raise ValueError("a slope needs two points with different x")
    return sorted(slopes)


def theil_sen(x: Sequence[Number], y: Sequence[Number]) -> tuple[float, float]:
    """A line that one or two odd points do not turn: its slope in units of y per unit of x, and its intercept, y at x = 0.

    The slope is the median of the pairwise slopes, the intercept that of y - slope * x.
    Source: Sen 1968, Journal of the American Statistical Association 63:1379-1389.

    Raises:
        ValueError: the lengths differ, or no two points have different x.
    """
    slope = median(pairwise_slopes(x, y))
    return slope, median([float(b) - slope * float(a) for a, b in zip(x, y, strict=True)])


def coefficient_of_variation(values: Sequence[Number]) -> float:
    """The spread in per cent of the mean: 100 * sd / mean, with the sample sd (n - 1 in the denominator).

    Raises:
        ValueError: fewer than two values, or a mean that is not positive.
    """
    if len(values) < 2:
        raise ValueError("a spread needs at least two values")
    mean = math.fsum(values) / len(values)
    if not mean > 0:
        raise ValueError("a spread in per cent needs a positive mean")
    squares = math.fsum((float(value) - mean) ** 2 for value in values)
    return 100 * math.sqrt(squares / (len(values) - 1)) / mean


def decrement_percent(splits: Sequence[Number]) -> float:
    """How much longer the whole took than the best split repeated: 100 * total / (best * n) - 100, in per cent.

    Zero when every split is the best one. Source: Glaister et al. 2004, Journal of Strength and Conditioning Research
    18:459; found the most valid and reliable of eight measures in Glaister 2008, same journal, 22:1597.

    Raises:
        ValueError: no splits, or one that is not positive.
    """
    if not splits:
        raise ValueError("a decrement needs at least one split")
    best = float(min(splits))
    if not best > 0:
        raise ValueError("a decrement needs positive splits")
    return 100 * math.fsum(splits) / (best * len(splits)) - 100


def seasonal_kendall(series: Iterable[Sequence[Number]]) -> Trend:
    """Whether values rise from one to the next, pooled over series that are compared within themselves only.

    Each series is in order of time. Ties count as no change and reduce the variance; the series are taken as
    independent of each other. `z` carries the continuity correction of one.
    Source: Hirsch, Slack and Smith 1982, Water Resources Research 18:107-121 (the title from memory, sure; the numbers
    are checked against scipy's implementation).
    """
    statistic, variance = 0, 0.0
    for values in series:
        statistic += sum((later > earlier) - (later < earlier) for earlier, later in combinations(values, 2))
        n, ties = len(values), sum(t * (t - 1) * (2 * t + 5) for t in Counter(values).values())
        variance += (n * (n - 1) * (2 * n + 5) - ties) / 18
    if variance == 0:
        return Trend(statistic, 0.0, 0.0)
    towards_zero = max(0, abs(statistic) - 1) * (1 if statistic > 0 else -1)
    return Trend(statistic, variance, towards_zero / math.sqrt(variance))
