"""Splits read as numbers: kinds of work, how different amounts of the same work compare, and what earlier classes say of them.

Invariant: what is read is a function of the splits and the history given, in whatever order they come.

A kind of work is a move in a unit at a station; another option is another kind, another amount is not. A time is in proportion
to the amount plus a fixed set-up, which is `SET_UP` of the usual amount with it (picking the bell up, getting down to the floor;
common practice, no source). A hold in seconds is no exception.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import NamedTuple

from floorclock.clock.splits import Split, Status
from floorclock.pace.prior import Prior
from floorclock.plan.work import Unit

Kind = tuple[int, str, Unit]
"""(station, move, unit)."""
ANYWHERE = -1
"""The station of a kind of work of which only earlier classes tell."""
SET_UP = 0.1
_SET_UP_OF_USUAL = SET_UP / (1 - SET_UP)
LEAST_SD = 0.01
"""No history is surer than this of the log split: today is another day."""


class Row(NamedTuple):
    """A split that counts: work with an amount that was done, or not finished in time.

    `log_s` is the logarithm of its seconds, those of the interval where `over` is set: then it took more than that.
    """

    athlete: str
    interval: int
    round: int
    kind: Kind
    amount: float
    log_s: float
    over: bool


class PriorPace(NamedTuple):
    """What earlier classes say of an athlete at a kind of work: level and drift on the log scale, as means and precisions."""

    athlete: str
    kind: int
    level: float
    level_weight: float
    drift: float
    drift_weight: float


def rows_of(splits: Iterable[Split]) -> list[Row]:
    """The rows of those splits that count, by athlete and interval."""
    return sorted(row for row in map(_row, splits) if row is not None)


def _row(split: Split) -> Row | None:
    amount, unit, over = split.amount, split.unit, split.status is Status.NOT_FINISHED
    taken_ms = split.window_ms if over else split.split_ms
    many = 0.0 if amount is None else amount.numerator / amount.denominator
    if split.status is Status.UNTAPPED or unit is None or many <= 0 or not taken_ms or taken_ms < 0:
        return None
    kind = split.station, split.move, unit
    return Row(split.athlete, split.interval, split.round, kind, many, math.log(taken_ms / 1000), over)


@dataclass(frozen=True, slots=True)
class Kinds:
    """The kinds of work of a part, in order, and the amount that each is compared at."""

    place: Mapping[Kind, int]
    usual: tuple[float, ...]

    def find(self, kind: Kind) -> int | None:
        """Where a kind is; the same work at another station will do where this one has not been worked at."""
        here = self.place.get(kind)
        if here is not None:
            return here
        return next((index for known, index in self.place.items() if known[1:] == kind[1:]), None)

    def log_work(self, kind: int, amount: float) -> float:
        """The logarithm of an amount with its set-up, as a multiple of the usual one."""
        return log_ratio(amount, self.usual[kind], self.usual[kind])

    def with_more(self, rows: Sequence[Row]) -> Kinds:
        """The same, with the kinds of work behind them that only these splits know."""
        more = [row for row in rows if self.find(row.kind) is None]
        if not more:
            return self
        found = kinds_of(more, {})
        place = {kind: len(self.usual) + index for kind, index in found.place.items()}
        return Kinds({**self.place, **place}, self.usual + found.usual)


def log_ratio(amount: float, other: float, usual: float) -> float:
    """The logarithm of how many times as long an amount takes as another; `usual` is the amount that the set-up goes by."""
    set_up = _SET_UP_OF_USUAL * usual
    return math.log((amount + set_up) / (other + set_up))


def kinds_of(rows: Iterable[Row], prior: Prior) -> Kinds:
    """The kinds of work in splits that count and in a prior; usual is the amount most often given, the smallest of several."""
    amounts: dict[Kind, Counter[float]] = {}
    for (kind, amount), often in Counter((row.kind, row.amount) for row in rows).items():
        amounts.setdefault(kind, Counter())[amount] = often
    here = {kind[1:] for kind in amounts}
    for (_, move, unit), pace in prior.items():
        if (move, unit) not in here and pace.amount > 0:
            amounts.setdefault((ANYWHERE, move, unit), Counter())[float(pace.amount)] += 1
    usual = tuple(min(given, key=lambda amount: (-given[amount], amount)) for _, given in sorted(amounts.items()))
    return Kinds({kind: index for index, kind in enumerate(sorted(amounts))}, usual)


def prior_paces(prior: Prior, kinds: Kinds) -> Iterator[PriorPace]:
    """What a prior says of the kinds of work at hand."""
    for (athlete, move, unit), pace in sorted(prior.items(), key=itemgetter(0)):
        for kind, index in kinds.place.items():
            if kind[1:] == (move, unit) and pace.amount > 0:
                level = pace.level + math.log(pace.amount) - kinds.log_work(index, float(pace.amount))
                yield PriorPace(athlete, index, level, _precision(pace.level_sd), pace.drift, _precision(pace.drift_sd))


def _precision(sd: float) -> float:
    return 1 / max(sd, LEAST_SD) ** 2 if math.isfinite(sd) else 0.0
