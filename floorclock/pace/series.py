"""One athlete at one station: the tapped rounds that compare with each other, and what they lose from round to round.

Invariant: a series holds tapped rounds of one kind of work, in order, and nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from floorclock.clock.splits import Split
from floorclock.pace.stats import Number, theil_sen
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


@dataclass(frozen=True, slots=True)
class LineSums:
    """The rounds of one athlete at one station, as far as a line through them needs them.

    Sums of squares and products are about the means: of the rounds, of the logarithms of the splits for the amount of the latest
    one, and of both. `span_ms` is what a drift of 1 would have cost since the first round, `least_loss_ms` what is worth a word.
    """

    many: int
    rounds_squared: float
    product: float
    logs_squared: float
    span_ms: float
    least_loss_ms: float


def chance_of_loss(lines: Sequence[LineSums]) -> float:
    """How likely an athlete has lost what is worth a word since the first round, over all their stations.

    One drift for all their stations: a least-squares line at each, all equally steep, drawn towards what is usual; the noise is
    theirs, drawn towards the usual one. 0 as long as no station counts.
    """
    if all(line.many < LEAST_ROUNDS for line in lines):
        return 0.0
    squares, product = sum(line.rounds_squared for line in lines), sum(line.product for line in lines)
    residuals = max(0.0, sum(line.logs_squared for line in lines) - product**2 / squares)
    free = sum(line.many - 1 for line in lines) - 1
    noise = (NOISE_WORTH * USUAL_NOISE**2 + residuals) / (NOISE_WORTH + free)
    precision = squares / noise + 1 / USUAL_DRIFT_SD**2
    drift = (product / noise + USUAL_DRIFT / USUAL_DRIFT_SD**2) / precision
    enough = sum(line.least_loss_ms for line in lines) / sum(line.span_ms for line in lines)
    return math.erfc((enough - drift) * math.sqrt(precision / 2)) / 2


@dataclass
class Series:
    """One athlete's tapped rounds at one station, as long as they do the same kind of work there."""

    taken: list[Split] = field(default_factory=list)
    line: LineSums | None = None
    """For `chance_of_loss`; None with one round alone, or where a changed target has given the rest back."""

    def add(self, split: Split) -> None:
        """Takes one more tapped round, later than those before."""
        if self.taken and _kind_of_work(self.taken[-1]) != _kind_of_work(split):
            self.taken = []
        self.taken.append(split)
        self.line = self._line() if len(self.taken) > 1 else None

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
        return theil_sen([split.round for split in self.taken], self.paces()).slope

    def _line(self) -> LineSums | None:
        first, last = self.taken[0], self.taken[-1]
        if last.items and last.amount is None:
            return None  # Several moves that differ from round to round: longer is not slower.
        if first.amount != last.amount and (last.rest_ms or 0) >= (first.rest_ms or 0):
            return None
        rounds = [split.round for split in self.taken]
        logs = [math.log(max(1.0, float(pace)) / 1000) for pace in self.paces()]
        x_mean, y_mean = sum(rounds) / len(rounds), sum(logs) / len(logs)
        return LineSums(
            many=len(rounds),
            rounds_squared=sum((x - x_mean) ** 2 for x in rounds),
            product=sum((x - x_mean) * (y - y_mean) for x, y in zip(rounds, logs, strict=True)),
            logs_squared=sum((y - y_mean) ** 2 for y in logs),
            span_ms=1000 * math.exp(y_mean) * (last.round - first.round),
            least_loss_ms=least_loss_ms(last.window_ms),
        )

    def loss_ms(self) -> float:
        """The rest lost to the pace since the first round, by the slope."""
        return self.slope_ms() * (self.taken[-1].round - self.taken[0].round)


def _kind_of_work(split: Split) -> tuple[str, Unit | None, bool]:
    """Splits compare only within it: another option, or a ladder that fell to nothing, starts the station afresh."""
    return split.move, split.unit, bool(split.amount)
