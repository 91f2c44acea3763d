"""One athlete at one station: the tapped rounds that compare with each other, and what they lose from round to round.

Invariant: a series holds tapped rounds of one kind of work, in order, and nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from floorclock.clock.splits import Split
from floorclock.pace.stats import Number, median, pairwise_slopes
from floorclock.plan.work import Unit

LEAST_ROUNDS = 3
"""A station counts for a trend from its third split on; two splits always rise or fall."""
LEAST_LOSS_MS = 2_000
LEAST_LOSS_OF_INTERVAL = Fraction(3, 100)
USUAL_NOISE, NOISE_WORTH = 0.04, 12.0
"""Of one split, as a standard deviation of its logarithm, and how many splits that counts as against an athlete's own."""
USUAL_DRIFT, USUAL_DRIFT_SD = 0.015, 0.05
"""By round, on the log scale: so wide that it only holds back what next to nothing is known of. Tuned on invented classes."""


def least_loss_ms(window_ms: int) -> float:
    """The smallest loss of rest from the first round to now that is worth a word: 2 s, or 3 % of a longer interval.

    Two seconds is what a tap by a busy hand may be off by at both ends (common practice, no source).
    """
    return max(LEAST_LOSS_MS, float(LEAST_LOSS_OF_INTERVAL * window_ms))


@dataclass(slots=True)
class LineSums:
    """The rounds of one athlete at one station, as far as a line through them needs them.

    Sums of squares and products are about the means: of the rounds, of the logarithms of the splits for one unit of the work, and
    of both. They are carried from round to round (Welford 1962, Technometrics 4:419-420), so that the hundredth costs what the
    second did.
    """

    many: int = 0
    round_mean: float = 0.0
    log_mean: float = 0.0
    rounds_squared: float = 0.0
    product: float = 0.0
    logs_squared: float = 0.0

    def add(self, number: int, log: float) -> None:
        """Takes one more round."""
        off_round, off_log = number - self.round_mean, log - self.log_mean
        self.many += 1
        self.round_mean += off_round / self.many
        self.log_mean += off_log / self.many
        self.rounds_squared += off_round * (number - self.round_mean)
        self.product += off_round * (log - self.log_mean)
        self.logs_squared += off_log * (log - self.log_mean)


def chance_of_loss(stations: Sequence[Series]) -> float:
    """How likely an athlete has lost what is worth a word since the first round, over all their stations.

    One drift for all their stations: a least-squares line at each, all equally steep, drawn towards what is usual; the noise is
    theirs, drawn towards the usual one. 0 as long as no station counts.
    """
    if not any(station.counts for station in stations):
        return 0.0
    lines = [station.sums for station in stations]
    squares, product = sum(line.rounds_squared for line in lines), sum(line.product for line in lines)
    residuals = max(0.0, sum(line.logs_squared for line in lines) - product**2 / squares)
    free = sum(line.many - 1 for line in lines) - 1
    noise = (NOISE_WORTH * USUAL_NOISE**2 + residuals) / (NOISE_WORTH + free)
    precision = squares / noise + 1 / USUAL_DRIFT_SD**2
    drift = (product / noise + USUAL_DRIFT / USUAL_DRIFT_SD**2) / precision
    least_ms = sum(least_loss_ms(station.taken[-1].window_ms) for station in stations)
    enough = least_ms / sum(station.span_ms for station in stations)
    return math.erfc((enough - drift) * math.sqrt(precision / 2)) / 2


@dataclass
class Series:
    """One athlete's tapped rounds at one station, as long as they do the same kind of work there."""

    taken: list[Split] = field(default_factory=list)
    sums: LineSums = field(default_factory=LineSums)

    def add(self, split: Split) -> None:
        """Takes one more tapped round, later than those before."""
        if self.taken and _kind_of_work(self.taken[-1]) != _kind_of_work(split):
            self.taken, self.sums = [], LineSums()
        self.taken.append(split)
        self.sums.add(split.round, math.log(max(1, split.split_ms or 0)) - math.log(split.amount or 1))

    @property
    def counts(self) -> bool:
        """Whether it is long enough for a trend."""
        return len(self.taken) >= LEAST_ROUNDS

    def paces(self) -> list[Number]:
        """Split by split, in time for the amount of the latest one: a round with more to do may take longer."""
        latest = self.taken[-1].amount
        if all(split.amount == latest for split in self.taken):
            return [split.split_ms or 0 for split in self.taken]
        return [(split.split_ms or 0) * (float(latest / split.amount) if latest and split.amount else 1) for split in self.taken]

    def slope_ms(self) -> float:
        """How much longer the latest work takes with each round (Theil-Sen); needs two rounds."""
        return median(pairwise_slopes([split.round for split in self.taken], self.paces()))

    @property
    def compares(self) -> bool:
        """Whether it belongs in `chance_of_loss`: not one round alone, nor where a changed target has given the rest back."""
        first, last = self.taken[0], self.taken[-1]
        if len(self.taken) < 2 or (last.items and last.amount is None):
            return False  # Several moves that differ from round to round: longer is not slower.
        return first.amount == last.amount or (last.rest_ms or 0) < (first.rest_ms or 0)

    @property
    def span_ms(self) -> float:
        """What a drift of 1 would have cost since the first round."""
        first, last = self.taken[0], self.taken[-1]
        return math.exp(self.sums.log_mean) * float(last.amount or 1) * (last.round - first.round)

    def loss_ms(self) -> float:
        """The rest lost to the pace since the first round, by the slope."""
        return self.slope_ms() * (self.taken[-1].round - self.taken[0].round)


def _kind_of_work(split: Split) -> tuple[str, Unit | None, bool]:
    """Splits compare only within it: another option, or a ladder that fell to nothing, starts the station afresh."""
    return split.move, split.unit, bool(split.amount)
