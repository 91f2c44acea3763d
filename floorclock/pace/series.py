"""One athlete at one station: the tapped rounds that compare with each other, and what they lose from round to round.

Invariant: a series holds tapped rounds of one kind of work, in order, and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from floorclock.clock.splits import Split
from floorclock.pace.amounts import ratio, same
from floorclock.pace.stats import NO_TREND, Number, Trend, seasonal_kendall, theil_sen
from floorclock.plan.work import Unit

LEAST_ROUNDS = 3
"""A station counts for a trend from its third split on; two splits always rise or fall."""
LEAST_LOSS_MS = 2_000
LEAST_LOSS_OF_INTERVAL = Fraction(3, 100)


@lru_cache(maxsize=64)
def least_loss_ms(window_ms: int) -> float:
    """The smallest loss of rest from the first round to now that is worth a word: 2 s, or 3 % of a longer interval.

    Two seconds is what a tap by a busy hand may be off by at both ends (common practice, no source).
    """
    return max(LEAST_LOSS_MS, float(LEAST_LOSS_OF_INTERVAL * window_ms))


@dataclass
class Series:
    """One athlete's tapped rounds at one station, as long as they do the same kind of work there."""

    taken: list[Split] = field(default_factory=list)
    same_amount: bool = True
    trend: Trend = NO_TREND
    _slope_ms: float | None = field(default=None, init=False, repr=False, compare=False)
    """Once it was asked for, until the next round."""

    def add(self, split: Split) -> None:
        """Takes one more tapped round, later than those before."""
        if self.taken and _kind_of_work(self.taken[-1]) != _kind_of_work(split):
            self.taken, self.same_amount = [], True
        self.taken.append(split)
        self._slope_ms = None
        self.same_amount = self.same_amount and same(split.amount, self.taken[0].amount)
        self.trend = seasonal_kendall([self.paces()])

    @property
    def counts(self) -> bool:
        """Whether it is long enough for a trend."""
        return len(self.taken) >= LEAST_ROUNDS

    def paces(self) -> list[Number]:
        """Split by split, in time for the amount of the latest one: a round with more to do may take longer."""
        latest = self.taken[-1].amount
        if self.same_amount or not latest:
            return [split.split_ms or 0 for split in self.taken]
        return [(split.split_ms or 0) * ratio(latest, split.amount or latest) for split in self.taken]

    def slope_ms(self) -> float:
        """How much longer the latest work takes with each round (Theil-Sen); needs two rounds."""
        if self._slope_ms is None:
            self._slope_ms = theil_sen([split.round for split in self.taken], self.paces()).slope
        return self._slope_ms

    def loss(self) -> float:
        """The rest lost to the pace since the first round, as a multiple of what is worth a word.

        None is lost where a changed target has given the rest back.
        """
        first, last = self.taken[0], self.taken[-1]
        if not self.same_amount and (last.rest_ms or 0) >= (first.rest_ms or 0):
            return 0.0
        return self.slope_ms() * (last.round - first.round) / least_loss_ms(last.window_ms)


def _kind_of_work(split: Split) -> tuple[str, Unit | None, bool]:
    """Splits compare only within it: another option, or a ladder that fell to nothing, starts the station afresh."""
    return split.move, split.unit, bool(split.amount)
