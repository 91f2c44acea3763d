"""How sure a figure is: intervals for a mean and for a share, and the test that a series rises or falls.

Invariant: a function here knows numbers only, and an interval holds its share of cases whatever the figures stand for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

from floorclock.pace.stats import Number, median, pairwise_slopes, seasonal_kendall

SHARE = 0.9
"""Of 100 intervals about a mean, so many hold what they are about; a change is told where 0 lies outside."""
SHARE_OF_SHARES = 0.8
BY_CHANCE = 1 - SHARE
"""Of 100 comparisons in which nothing changed, so many are called a change."""
_DOUBLINGS = 200


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure with the interval it is known to; `n` is how many values it rests on."""

    middle: float
    low: float
    high: float
    n: int

    @property
    def is_told(self) -> bool:
        """True when 0 lies outside, so that a change is more than noise."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True)
class OverTime:
    """Whether a series rises or falls: by `change` from its first day to its last, over `days`, from `n` values.

    `change` is the Theil-Sen slope times the days (Sen 1968); `p` is how likely so clear a change is by chance, either way
    (Mann-Kendall, normal approximation with the continuity correction and ties, as in `pace.stats`).
    """

    change: float
    days: int
    p: float
    n: int

    @property
    def is_told(self) -> bool:
        """True when chance alone does it in fewer than 10 of 100 cases."""
        return self.p < BY_CHANCE and self.change != 0


@lru_cache(maxsize=512)
def t_reach(freedom: int, share: float) -> float:
    """How far from its middle Student's t distribution with whole degrees of freedom reaches to hold a share (0..1) of cases.

    The finite series for whole degrees of freedom (Abramowitz and Stegun 1964, 26.7.3 and 26.7.4, from memory; checked
    against scipy), turned round by halving.
    """
    if freedom < 1 or not 0 < share < 1:
        raise ValueError("Student's t needs a degree of freedom, and a share between 0 and 1")
    low, high = 0.0, 1.0
    while _t_within(high, freedom) < share:
        low, high = high, 2 * high
    for _ in range(_DOUBLINGS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if _t_within(middle, freedom) < share else (low, middle)
    return (low + high) / 2


def _t_within(t: float, freedom: int) -> float:
    angle = math.atan(t / math.sqrt(freedom))
    sine, square = math.sin(angle), math.cos(angle) ** 2
    odd = freedom % 2
    term = math.cos(angle) if odd else 1.0
    total = term if freedom > 1 else 0.0
    for number in range(2 + odd, freedom - 1, 2):
        term *= square * (number - 1) / number
        total += term
    return 2 / math.pi * (angle + sine * total) if odd else sine * total


def strata_interval(strata: Sequence[Sequence[float]], share: float = SHARE, least_variance: float = 0.0) -> Estimate | None:
    """The mean of values that lie in groups, each group with a mean of its own and all with the same scatter.

    Of one group of differences it is the paired t test: the mean with Student's t interval.
    The scatter is pooled from within the groups, so with n values in m groups it has n - m degrees of freedom: the contrast of
    a least-squares fit with one level a group. None where no group has two values.

    Args:
        strata: the values, group by group; empty groups count for nothing.
        share: of cases that the interval holds.
        least_variance: the variance of one value is never taken for less.
    """
    groups = [group for group in strata if group]
    count = sum(map(len, groups))
    freedom = count - len(groups)
    if freedom < 1:
        return None
    middle = math.fsum(value for group in groups for value in group) / count
    squares = 0.0
    for group in groups:
        mean = math.fsum(group) / len(group)
        squares += math.fsum((value - mean) ** 2 for value in group)
    wide = t_reach(freedom, share) * math.sqrt(max(squares / freedom, least_variance) / count)
    return Estimate(middle, middle - wide, middle + wide, count)


def wilson(count: int, of: int, share: float = SHARE_OF_SHARES) -> Estimate:
    """A share (0..1) with the span it is known to (Wilson 1927, Journal of the American Statistical Association 22:209-212)."""
    if not 0 <= count <= of or of < 1:
        raise ValueError(f"{count} of {of} is no share")
    z = NormalDist().inv_cdf((1 + share) / 2)
    there = count / of
    below = 1 + z * z / of
    middle = (there + z * z / (2 * of)) / below
    wide = z * math.sqrt(there * (1 - there) / of + z * z / (4 * of * of)) / below
    return Estimate(there, max(0.0, middle - wide), min(1.0, middle + wide), of)


def over_time(series: Iterable[Sequence[tuple[int, Number]]]) -> OverTime | None:
    """Whether values rise or fall with the days; None where no series has two days.

    Args:
        series: (day, value) in the order of days. Several series are compared each within itself only, so that one that lies
            higher or comes later turns nothing; the slope is the median of the slopes within them (Hirsch, Slack and Smith
            1982, Water Resources Research 18:107-121).
    """
    told = [points for points in series if len({day for day, _ in points}) > 1]
    if not told:
        return None
    slopes = [slope for points in told for slope in pairwise_slopes(*zip(*points, strict=True))]
    z = seasonal_kendall([value for _, value in points] for points in told).z
    span = max(points[-1][0] for points in told) - min(points[0][0] for points in told)
    return OverTime(median(slopes) * span, span, math.erfc(abs(z) / math.sqrt(2)), sum(map(len, told)))
