"""What the next rounds will take: splits still to come, with how sure that is.

Invariant: a forecast is a function of the splits of one part and a prior; an untapped interval is in neither.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from floorclock.clock.splits import Coming, Split
from floorclock.pace.prior import NO_PRIOR, Prior


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """A split still to come. Times are milliseconds from the start of the interval and may lie beyond its end.

    `low_ms` to `high_ms` holds the split in 80 of 100 cases; `split_ms` is the middle of them (the median).
    """

    slot: Coming
    split_ms: float
    low_ms: float
    high_ms: float

    def quantile_ms(self, share: float) -> float:
        """The split that a share (0..1) of cases stays under."""
        raise NotImplementedError

    def chance_tight(self) -> float:
        """How likely less than the margin is left, 0..1."""
        raise NotImplementedError

    def with_amount(self, amount: Fraction) -> Forecast:
        """The same round with another amount of the same work."""
        raise NotImplementedError


class AthletePace:
    """One athlete in one part, given their own splits and what the class is like."""

    drift: float
    """The change of the logarithm of the split with each round."""
    drift_sd: float

    def forecast(self, slot: Coming) -> Forecast | None:
        """A split to come; None where nobody has done that work and no history tells of it."""
        raise NotImplementedError

    def fitted_ms(self, split: Split) -> float | None:
        """What the fitted line has in place of a split that was taken."""
        raise NotImplementedError


class ClassFit:
    """One part of one class: how the stations, the people and their drifts vary."""

    def pace_of(self, athlete: str, splits: Sequence[Split]) -> AthletePace:
        """One athlete, given all their splits in the part so far. Cheap enough for every tap."""
        raise NotImplementedError


def fit_class(splits: Sequence[Split], prior: Prior = NO_PRIOR, before: ClassFit | None = None) -> ClassFit:
    """Estimates the class from all splits of one part so far, in any order; `before` is an earlier fit to start from.

    Works from no splits at all on.
    """
    raise NotImplementedError
