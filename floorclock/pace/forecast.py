"""What the next rounds will take: splits still to come, with how sure that is.

Invariant: a forecast is a function of the splits of one part and a prior; an untapped interval is in neither.

How the splits are taken to come about is said in `mixed.py`, how amounts of work compare in `grid.py`. Numpy is not loaded
before the first class is fitted: a floor that starts has no use for it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from floorclock.clock.splits import Coming, Split
from floorclock.pace.kinds import Kinds, amount_of, counts, kinds_of, log_ratio, told_by
from floorclock.pace.model import COACHED, Model
from floorclock.pace.prior import NO_PRIOR, Key, MovePace, Prior
from floorclock.pace.spread import Spread, t_nodes

if TYPE_CHECKING:
    from floorclock.pace.grid import Grid
    from floorclock.pace.mixed import MixedFit
    from floorclock.pace.personal import Personal

SHARE = 0.8
"""Of 100 splits, so many lie between `low_ms` and `high_ms`."""
Z_HIGH = 1.2815515655446004
"""The 90 % point of the normal distribution (standard tables)."""
LEAST_NOISE = 0.005
"""A tap by a busy hand is off by a fifth of a second, be the splits ever so equal (common practice, no source)."""
UNSURE_OF_AMOUNT = 0.1
"""How far off the rule for amounts may be: the sd of the log split, by the logarithm of how much more or less the work is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """A split still to come. Times are milliseconds from the start of the interval and may lie beyond its end.

    `low_ms` to `high_ms` holds the split in 80 of 100 cases; `split_ms` is the middle of them (the median).
    `spread` is how the logarithm of its seconds is spread; without one, normal through the three. `usual` is the amount whose
    set-up the work has, `done` the amount that the athlete's splits there had; None for that of the slot.
    """

    slot: Coming
    split_ms: float
    low_ms: float
    high_ms: float
    spread: Spread | None = None
    usual: float | None = None
    done: float | None = None

    def quantile_ms(self, share: float) -> float:
        """The split that a share (0..1) of cases stays under."""
        if not 0 < share < 1:
            return 0.0 if share <= 0 else math.inf
        return 1000 * math.exp(self._spread().quantile(share))

    def chance_tight(self) -> float:
        """How likely less than the margin is left, 0..1."""
        most_ms = self.slot.window_ms - self.slot.margin_ms
        return 1.0 if most_ms <= 0 else 1 - self._spread().below(math.log(most_ms / 1000))

    def with_amount(self, amount: Fraction) -> Forecast:
        """The same round with another amount of the same work."""
        before, after = float(self.slot.amount), float(amount)
        usual = before if self.usual is None else self.usual
        by = log_ratio(after, before, usual)
        done = before if self.done is None else self.done
        doubt = UNSURE_OF_AMOUNT**2 * (log_ratio(after, done, usual) ** 2 - log_ratio(before, done, usual) ** 2)
        return _forecast(replace(self.slot, amount=amount), self._spread().moved(by, doubt), usual, done)

    def _spread(self) -> Spread:
        if self.spread is not None:
            return self.spread
        sd = math.log(self.high_ms / self.low_ms) / (2 * Z_HIGH)
        return Spread(math.log(self.split_ms / 1000), sd**2, 0.0)


def _forecast(slot: Coming, spread: Spread, usual: float, done: float) -> Forecast:
    middle = math.exp(spread.centre) * 1000
    wide = math.exp(spread.quantile((1 + SHARE) / 2) - spread.centre)
    return Forecast(
        slot=slot, split_ms=middle, low_ms=middle / wide, high_ms=middle * wide, spread=spread, usual=usual, done=done
    )


class AthletePace:
    """One athlete in one part, given their own splits and what the class is like."""

    drift: float
    """The change of the logarithm of the split with each round."""
    drift_sd: float

    def __init__(self, fit: ClassFit, kinds: Kinds, person: Personal | None, done: Mapping[int, float]) -> None:
        """`done` is the amount they did last, by kind of work; without a `person` nothing is known of anybody."""
        self.drift = person.drift if person else fit.model.drift_mean
        self.drift_sd = person.drift_sd if person else fit.model.drift_sd
        self._fit, self._kinds, self._person, self._done = fit, kinds, person, done

    def forecast(self, slot: Coming) -> Forecast | None:
        """A split to come; None where nobody has done that work and no history tells of it."""
        kind, person = self._kinds.find(slot.station, slot.move, slot.unit), self._person
        if kind is None or person is None or slot.amount <= 0:
            return None
        usual, amount = self._kinds.usual[kind], float(slot.amount)
        mean, variance = person.courses[kind].at(slot.round)
        done = self._done.get(kind, usual)
        variance += person.step_variance * max(0.0, slot.round - max(1.0, person.last_round))
        variance += (UNSURE_OF_AMOUNT * log_ratio(amount, done, usual)) ** 2
        noise = max(LEAST_NOISE, person.noise_sd)
        spread = Spread(mean + self._kinds.log_work(kind, amount), variance, noise, t_nodes(self._fit.model.freedom))
        return _forecast(slot, spread, usual, done)

    def fitted_ms(self, split: Split) -> float | None:
        """What the fitted line has in place of a split that was taken; None for one that this pace does not rest on."""
        kind = self._kinds.find(split.station, split.move, split.unit)
        line = self._person.fitted.get((split.station, split.interval)) if self._person else None
        if line is None or kind is None or not split.amount:
            return None
        return 1000 * math.exp(line + self._kinds.log_work(kind, split.amount))


@dataclass(frozen=True, slots=True)
class ClassFit:
    """One part of one class: how the stations, the people and their drifts vary.

    `mixed` is what was estimated from `grid`; both are None while nobody has done anything and no history tells of anybody.
    `histories` is the prior by athlete.
    """

    kinds: Kinds
    mixed: MixedFit | None
    grid: Grid | None
    model: Model
    histories: Mapping[str, Prior]

    def pace_of(self, athlete: str, splits: Sequence[Split]) -> AthletePace:
        """One athlete, given all their splits in the part so far. Cheap enough for every tap."""
        own = _in_order(splits)
        kinds = self.kinds.with_more(own)
        if not kinds.usual:
            return AthletePace(self, kinds, None, {})
        from floorclock.pace.personal import personal

        told = list(told_by(self.histories.get(athlete, NO_PRIOR), kinds))
        mixed, grid = (self.mixed, self.grid) if self.mixed else _estimate((), NO_PRIOR, self.kinds, None)
        person = personal(own, kinds, mixed, told, self.model, grid)
        last = {(split.station, split.move, split.unit): split for split in own}
        done = {kinds.find(*work): amount_of(split) for work, split in last.items()}
        return AthletePace(self, kinds, person, {kind: amount for kind, amount in done.items() if kind is not None})


def fit_class(splits: Sequence[Split], prior: Prior = NO_PRIOR, before: ClassFit | None = None) -> ClassFit:
    """Estimates the class from all splits of one part so far, in any order; `before` is an earlier fit to start from.

    Works from no splits at all on.
    """
    counted = _in_order(splits)
    kinds = kinds_of(counted, prior, before.kinds if before else None)
    histories: dict[str, dict[Key, MovePace]] = {}
    for key, pace in prior.items():
        histories.setdefault(key[0], {})[key] = pace
    if not kinds.usual:
        return ClassFit(kinds, None, None, COACHED, histories)
    mixed, grid = _estimate(counted, prior, kinds, before.mixed if before else None)
    return ClassFit(kinds, mixed, grid, COACHED, histories)


def _in_order(splits: Sequence[Split]) -> list[Split]:
    return sorted((split for split in splits if counts(split)), key=lambda split: split.interval)


def _estimate(splits: Sequence[Split], prior: Prior, kinds: Kinds, before: MixedFit | None) -> tuple[MixedFit, Grid]:
    from floorclock.pace.grid import lay_out
    from floorclock.pace.mixed import fit_mixed

    grid = lay_out(splits, list(told_by(prior, kinds)), kinds)
    return fit_mixed(grid, COACHED, before.parameters if before else None), grid
