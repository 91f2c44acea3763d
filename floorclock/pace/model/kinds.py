"""The kinds of work of a part, and how different amounts of the same work compare.

Invariant: a kind of work is a move in a unit at a station; another option is another kind, another amount is not.

A time is in proportion to the amount plus a fixed set-up, which is `SET_UP` of the usual amount with it (picking the bell
up, getting down to the floor; common practice, no source). A hold in seconds is no exception.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, TypeVar

from floorclock.pace.model.rows import Kind, Row
from floorclock.pace.prior import MovePace, Prior
from floorclock.plan.work import Unit

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

ANYWHERE = -1
"""The station of a kind of work of which only earlier classes tell."""
SET_UP = 0.1
_SET_UP_OF_USUAL = SET_UP / (1 - SET_UP)
LEAST_SD = 0.01
"""No history is surer than this of the log split: today is another day."""


@dataclass(frozen=True, slots=True)
class Kinds:
    """The kinds of work of a part, in order, and the amount that each is compared at."""

    place: dict[Kind, int]
    usual: tuple[float, ...]

    def find(self, station: int, move: str, unit: Unit | None) -> int | None:
        """Where a kind is; the same work at another station will do where this one has not been worked at."""
        if unit is None:
            return None
        here = self.place.get((station, move, unit))
        if here is not None:
            return here
        return next((index for (_, *other), index in self.place.items() if other == [move, unit]), None)

    def log_work(self, kind: int, amount: Fraction | float) -> float:
        """The logarithm of an amount with its set-up, as a multiple of the usual one."""
        return log_ratio(float(amount), self.usual[kind], self.usual[kind])

    def with_more(self, rows: Sequence[Row]) -> Kinds:
        """The same, with the kinds of work behind them that only these splits know.

        Work that is known from elsewhere goes with what is known of it there.
        """
        more = [row for row in rows if row.kind not in self.place]
        if not more:
            return self
        found = kinds_of(more, {})
        place, usual = dict(self.place), list(self.usual)
        for kind, index in found.place.items():
            elsewhere = self.find(*kind)
            if elsewhere is None:
                usual.append(found.usual[index])
            place[kind] = len(usual) - 1 if elsewhere is None else elsewhere
        return Kinds(place, tuple(usual))


@dataclass(frozen=True, slots=True)
class Told:
    """What earlier classes say of an athlete at a kind of work: means and precisions of level and drift, as in today's class."""

    athlete: str
    kind: int
    level: float
    level_weight: float
    drift: float
    drift_weight: float


Some = TypeVar("Some", float, "npt.NDArray[np.float64]")


def longer(amount: Some, other: Some, usual: Some) -> Some:
    """How many times as long an amount takes as another; `usual` is the amount that the set-up goes by."""
    set_up = _SET_UP_OF_USUAL * usual
    return (amount + set_up) / (other + set_up)


def log_ratio(amount: float, other: float, usual: float) -> float:
    """The logarithm of how many times as long an amount takes as another."""
    # As `longer`, with one call less: amounts are tried by the thousand.
    set_up = _SET_UP_OF_USUAL * usual
    return math.log((amount + set_up) / (other + set_up))


def kinds_of(rows: Sequence[Row], prior: Prior, before: Kinds | None = None) -> Kinds:
    """The kinds of work in splits that count and in a prior.

    The usual amount is the one most often given, the smallest of several; what an earlier fit called usual stays so.
    """
    amounts: dict[Kind, dict[float, int]] = {}
    for (kind, amount), times in Counter((row.kind, row.amount) for row in rows).items():
        amounts.setdefault(kind, {})[amount] = times
    here = {(move, unit) for _, move, unit in amounts}
    for (_, move, unit), pace in prior.items():
        if (move, unit) not in here and pace.amount > 0:
            given = amounts.setdefault((ANYWHERE, move, unit), {})
            given[float(pace.amount)] = given.get(float(pace.amount), 0) + 1
    ordered = sorted(amounts)
    old = before.place if before else {}
    usual = [before.usual[old[kind]] if before and kind in old else _most_given(amounts[kind]) for kind in ordered]
    return Kinds({kind: index for index, kind in enumerate(ordered)}, tuple(usual))


def _most_given(given: dict[float, int]) -> float:
    return min(given, key=lambda amount: (-given[amount], amount))


def told_by(prior: Prior, kinds: Kinds) -> Iterator[Told]:
    """What a prior says of the kinds of work at hand."""
    by_work: dict[tuple[str, Unit], set[int]] = {}
    for (_, move, unit), index in kinds.place.items():
        by_work.setdefault((move, unit), set()).add(index)
    for (athlete, move, unit), pace in prior.items():
        for index in sorted(by_work.get((move, unit), ())):
            if pace.amount > 0:
                yield _told(athlete, index, pace, kinds)


def _told(athlete: str, kind: int, pace: MovePace, kinds: Kinds) -> Told:
    level = pace.level + math.log(pace.amount) - kinds.log_work(kind, pace.amount)
    return Told(athlete, kind, level, _precision(pace.level_sd), pace.drift, _precision(pace.drift_sd))


def _precision(sd: float) -> float:
    return 1 / max(sd, LEAST_SD) ** 2 if math.isfinite(sd) else 0.0
