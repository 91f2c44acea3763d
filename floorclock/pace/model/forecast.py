"""What the next rounds will take: splits still to come, with how sure that is.

Invariant: a forecast is a function of the splits of one part and a prior, in any order; an untapped interval is in neither. It
never promises what is impossible: nobody is done after the interval has ended, they are late then.

How splits are taken to come about is said in `mixed.py`, how amounts of work compare in `work.py`. Numpy is not loaded before
the first class is fitted: a floor that starts has no use for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache, cached_property
from typing import TYPE_CHECKING

from floorclock.clock.splits import Coming, Split
from floorclock.pace.model.work import Kinds, PriorPace, Row, kinds_of, log_ratio, prior_paces, rows_of
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.plan.work import Unit

if TYPE_CHECKING:
    from floorclock.pace.model.mixed import MixedFit, Person

UNSURE_OF_AMOUNT = 0.1
"""How far off the rule for amounts may be: the sd of the log split, by the logarithm of how much more or less the work is."""
LEAST_SD = 0.005
"""A tap by a busy hand is off by a fifth of a second, be the splits ever so equal (common practice, no source)."""
Z_HIGH = 1.2815515655446004
"""The 90 % point of the normal distribution (standard tables)."""
USUAL_DRIFT, USUAL_DRIFT_SD = 0.015, 0.03
_POINTS = 17
"""Slices of the draw that rounds share."""
_SURE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """A split still to come, in milliseconds from the start of the interval; none lies beyond its end.

    `low_ms` to `high_ms` holds the split in 80 of 100 cases; `split_ms` is the middle of them (the median). Where that is the end
    of the interval, the work is more likely not done in time; `chance_late` says how likely that is.
    `log_s` and `sd` are how the logarithm of the seconds is spread (normal), also beyond the end. `shared` is the share of the
    variance that other rounds at the station have in common with it. `usual` is the amount whose set-up the work has, `done` the
    amount that the athlete's splits there had.
    """

    slot: Coming
    split_ms: float
    low_ms: float
    high_ms: float
    log_s: float
    sd: float
    shared: float
    usual: float
    done: float

    def quantile_ms(self, share: float) -> float:
        """The time that a share (0..1) of cases stays under, whether or not there is so much time."""
        return 1000 * math.exp(self.log_s + self.sd * normal_quantile(share))

    def chance_late(self) -> float:
        """How likely the work is not done when the interval ends, 0..1."""
        return 1 - _chance_within(self.slot.window_ms, self.log_s, self.sd)

    def chance_tight(self) -> float:
        """How likely less than the margin is left, 0..1; being late is tight, too."""
        return 1 - self.hold()[0]

    def hold(self, amount: Fraction | None = None) -> tuple[float, float]:
        """How likely at least the margin is left, with another amount of the same work; and how much of the luck is shared."""
        log_s, sd, shared = (self.log_s, self.sd, self.shared) if amount is None else self._spread_with(amount)
        return _chance_within(self.slot.window_ms - self.slot.margin_ms, log_s, sd), shared

    def with_amount(self, amount: Fraction) -> Forecast:
        """The same round with another amount of the same work."""
        return made(replace(self.slot, amount=amount), *self._spread_with(amount), self.usual, self.done)

    def _spread_with(self, amount: Fraction) -> tuple[float, float, float]:
        amounts = (self.slot.amount, amount)
        was, then = (log_ratio(amount.numerator / amount.denominator, self.done, self.usual) for amount in amounts)
        more = UNSURE_OF_AMOUNT**2 * (then * then - was * was)
        shared = self.shared * self.sd**2 + more
        variance = max(self.sd**2 + more, LEAST_SD**2)
        return self.log_s + then - was, math.sqrt(variance), min(1.0, max(0.0, shared / variance))


def _chance_within(most_ms: int, log_s: float, sd: float) -> float:
    return 0.0 if most_ms <= 0 else normal_share((math.log(most_ms / 1000) - log_s) / max(sd, LEAST_SD))


def made(slot: Coming, log_s: float, sd: float, shared: float, usual: float, done: float) -> Forecast:
    """A forecast from how the logarithm of its seconds is spread."""
    end, window_ms = math.log(slot.window_ms / 1000), float(slot.window_ms)
    at = [log_s + z * sd for z in (-Z_HIGH, 0.0, Z_HIGH)]
    low_ms, middle_ms, high_ms = (window_ms if log >= end else min(window_ms, 1000 * math.exp(log)) for log in at)
    return Forecast(
        slot=slot, split_ms=middle_ms, low_ms=low_ms, high_ms=high_ms, log_s=log_s, sd=sd, shared=shared, usual=usual, done=done
    )


def normal_share(z: float) -> float:
    """The share of a standard normal under a value."""
    return math.erfc(-z / math.sqrt(2)) / 2


def normal_quantile(share: float) -> float:
    """The value that a share (0..1) of a standard normal is under."""
    # The module is slow to import, and a floor that starts has no use for it.
    from statistics import NormalDist

    return math.copysign(math.inf, share - 0.5) if not 0 < share < 1 else NormalDist().inv_cdf(share)


def joined(holds: Sequence[tuple[float, float]]) -> float:
    """How likely all of several events happen, such as rounds that keep the margin (`Forecast.hold`).

    Never more than the least likely of them, never less than if each had to be drawn anew. Rounds of one athlete at one station
    share the level and the drift that nobody knows exactly, so that they hold together or go together; the chances of single
    rounds must not be multiplied. They are joined by one shared normal draw, which makes up that share of the spread of each
    round which is not chance (a one-factor normal copula).

    Args:
        holds: of each event its chance, and the share of its luck (0..1) that the others have in common with it.
    """
    least = min((chance for chance, _ in holds), default=1.0)
    open_ones = [hold for hold in holds if hold[0] < 1 - _SURE]
    if least <= _SURE or len(open_ones) < 2:
        return least if least > _SURE else 0.0
    together = [1.0] * _POINTS
    for chance, part in open_ones:
        height, pull, rest = normal_quantile(chance), math.sqrt(part), math.sqrt(max(_SURE, 1 - part))
        together = [so_far * normal_share((height - pull * node) / rest) for so_far, node in zip(together, _nodes(), strict=True)]
    # A few slices are a coarse measure where the luck is nearly all shared.
    return min(max(sum(together) / _POINTS, math.prod(chance for chance, _ in open_ones)), least)


@cache
def _nodes() -> tuple[float, ...]:
    """The middles of equally likely slices of the shared draw."""
    return tuple(normal_quantile((number + 0.5) / _POINTS) for number in range(_POINTS))


class AthletePace:
    """One athlete in one part, given their own splits and what the class is like."""

    drift: float
    """The change of the logarithm of the split with each round."""
    drift_sd: float

    def __init__(self, fit: ClassFit, rows: Sequence[Row], earlier: Sequence[PriorPace]) -> None:
        """`rows` are their splits, `earlier` what earlier classes say of them."""
        self._kinds, self._rows = fit.kinds.with_more(rows), rows
        self._done = {self._kinds.find(row.kind): row.amount for row in rows}
        self._person: Person | None = None
        self.drift, self.drift_sd = USUAL_DRIFT, USUAL_DRIFT_SD
        if self._kinds.usual:
            from floorclock.pace.model.mixed import fit_mixed, person_of

            self._person = person_of(fit.mixed or fit_mixed((), (), Kinds({}, ())), rows, earlier, self._kinds)
            self.drift, self.drift_sd = self._person.drift

    @property
    def drift_range(self) -> tuple[float, float]:
        """By what share a split grows with each round: the ends of the middle 80 %."""
        low, high = (math.expm1(self.drift + z * self.drift_sd) for z in (-Z_HIGH, Z_HIGH))
        return low, high

    def forecasts(self, slots: Sequence[Coming]) -> tuple[Forecast | None, ...]:
        """The splits to come, one for each; None where nobody has done that work and no history tells of it."""
        person, find = self._person, self._kinds.find
        kinds = [find((slot.station, slot.move, slot.unit)) if person and slot.amount > 0 else None for slot in slots]
        known = [(slot, kind) for slot, kind in zip(slots, kinds, strict=True) if kind is not None]
        if person is None or not known:
            return (None,) * len(slots)
        means, variances = person.ahead([kind for _, kind in known], [slot.round for slot, _ in known])
        found = map(self._forecast, known, means.tolist(), variances.tolist())
        return tuple([None if kind is None else next(found) for kind in kinds])

    def _forecast(self, asked: tuple[Coming, int], mean: float, variance: float) -> Forecast:
        from floorclock.pace.model.mixed import WIDER

        slot, kind = asked
        amount, usual = slot.amount.numerator / slot.amount.denominator, self._kinds.usual[kind]
        done = self._done.get(kind, usual)
        variance += (UNSURE_OF_AMOUNT * log_ratio(amount, done, usual)) ** 2
        everything = variance + WIDER * (self._person.fit.variances[0] if self._person else 0.0)
        sd = max(LEAST_SD, math.sqrt(everything))
        return made(slot, mean + log_ratio(amount, usual, usual), sd, variance / sd**2, usual, done)

    def fitted_ms(self, split: Split) -> float | None:
        """What the fitted line has in place of a split that was taken; None for one that this pace does not rest on."""
        at = self._places.get((split.interval, (split.station, split.move, split.unit)))
        if at is None or self._person is None:
            return None
        row = self._rows[at]
        return 1000 * math.exp(float(self._person.fitted[at]) + self._kinds.log_work(self._kinds.find(row.kind) or 0, row.amount))

    @cached_property
    def _places(self) -> dict[tuple[int, tuple[int, str, Unit | None]], int]:
        return {(row.interval, row.kind): at for at, row in enumerate(self._rows)}


@dataclass(frozen=True, slots=True)
class ClassFit:
    """One part of one class: how the stations, the people and their drifts vary.

    `mixed` is None while nobody has done anything and no history tells of anybody; `earlier` is what it says.
    """

    kinds: Kinds
    mixed: MixedFit | None = None
    earlier: Sequence[PriorPace] = ()

    def pace_of(self, athlete: str, splits: Sequence[Split]) -> AthletePace:
        """One athlete, given all their splits in the part so far. Cheap enough for every tap, whatever the size of the class."""
        return AthletePace(self, rows_of(splits), [pace for pace in self.earlier if pace.athlete == athlete])


def fit_class(splits: Sequence[Split], prior: Prior = NO_PRIOR) -> ClassFit:
    """Estimates the class from all splits of one part so far, in any order. Works from no splits at all on."""
    rows = rows_of(splits)
    kinds = kinds_of(rows, prior)
    if not kinds.usual:
        return ClassFit(kinds)
    from floorclock.pace.model.mixed import fit_mixed

    earlier = tuple(prior_paces(prior, kinds))
    return ClassFit(kinds, fit_mixed(rows, earlier, kinds), earlier)
