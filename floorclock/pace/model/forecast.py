"""What the next rounds will take: splits still to come, with how sure that is.

Invariant: a forecast is a function of the splits of one part and a prior; an untapped interval is in neither.

How the splits are taken to come about is said in `mixed.py`, how amounts of work compare in `grid.py`. Numpy is not loaded
before the first class is fitted: a floor that starts has no use for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from floorclock.clock.splits import Coming, Split
from floorclock.pace.model.constants import COACHED, UNSURE_OF_AMOUNT, Model
from floorclock.pace.model.kinds import Kinds, kinds_of, log_ratio, told_by
from floorclock.pace.model.rows import Read, Row, rows_of
from floorclock.pace.model.spread import Spread, t_nodes, under
from floorclock.pace.prior import NO_PRIOR, Prior

if TYPE_CHECKING:
    from floorclock.pace.model.ahead import Asked
    from floorclock.pace.model.grid import Grid
    from floorclock.pace.model.mixed import MixedFit
    from floorclock.pace.model.personal import Personal

UNSURE_VARIANCE = UNSURE_OF_AMOUNT**2
SHARE = 0.8
"""Of 100 splits, so many lie between `low_ms` and `high_ms`."""
Z_HIGH = 1.2815515655446004
"""The 90 % point of the normal distribution (standard tables)."""


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
    _tight: float | None = field(default=None, init=False, repr=False, compare=False)
    """The chance, where it was worked out with that of others."""

    def quantile_ms(self, share: float) -> float:
        """The split that a share (0..1) of cases stays under."""
        if not 0 < share < 1:
            return 0.0 if share <= 0 else math.inf
        spread = self._spread()
        return 1000 * math.exp(spread.centre + (spread.reach(share) if share > 0.5 else -spread.reach(1 - share)))

    def chance_tight(self) -> float:
        """How likely less than the margin is left, 0..1."""
        return _tight(self.slot, self._spread()) if self._tight is None else self._tight

    def with_amount(self, amount: Fraction) -> Forecast:
        """The same round with another amount of the same work."""
        then, usual, done = self._changed(amount)
        slot = replace(self.slot, amount=amount)
        return _made(slot, then, then.reach((1 + SHARE) / 2), usual, done, _tight(slot, then))

    def tight_with(self, amount: Fraction) -> tuple[float, float]:
        """`chance_tight` with another amount, and the share of the variance that is not chance."""
        return self.trial()(amount)

    def trial(self) -> Callable[[Fraction], tuple[float, float]]:
        """`tight_with` for a search: what is the same for all amounts is worked out once."""
        spread, slot, (usual, done, was) = self._spread(), self.slot, self._before()
        most_ms = slot.window_ms - slot.margin_ms
        room = math.log(most_ms / 1000) if most_ms > 0 else 0.0
        centre, known, scale, nodes = spread.centre, spread.variance, spread.scale, spread.nodes
        square, was_square = scale**2, was * was

        def tight_with(amount: Fraction) -> tuple[float, float]:
            then = log_ratio(amount.numerator / amount.denominator, done, usual)
            by, more = then - was, UNSURE_VARIANCE * (then * then - was_square)
            variance = known + more
            everything = variance + square
            if most_ms <= 0 or everything <= 0:
                return _tight(slot, spread.moved(by, more)), variance / everything if everything > 0 else 0.0
            return 1 - under(room - (centre + by), variance, scale, nodes), variance / everything

        return tight_with

    def _changed(self, amount: Fraction) -> tuple[Spread, float, float]:
        """The spread with another amount of the same work, with `usual` and `done`."""
        usual, done, was = self._before()
        then = log_ratio(amount.numerator / amount.denominator, done, usual)
        return self._spread().moved(then - was, UNSURE_VARIANCE * (then * then - was * was)), usual, done

    def _before(self) -> tuple[float, float, float]:
        """`usual`, `done`, and the logarithm of how much longer the present amount takes than `done`."""
        present = self.slot.amount.numerator / self.slot.amount.denominator
        usual = present if self.usual is None else self.usual
        done = present if self.done is None else self.done
        return usual, done, log_ratio(present, done, usual) if present != done else 0.0

    def _spread(self) -> Spread:
        if self.spread is not None:
            return self.spread
        sd = math.log(self.high_ms / self.low_ms) / (2 * Z_HIGH)
        return Spread(math.log(self.split_ms / 1000), sd**2, 0.0)


def _tight(slot: Coming, spread: Spread) -> float:
    most_ms = slot.window_ms - slot.margin_ms
    return 1.0 if most_ms <= 0 else 1 - spread.under(math.log(most_ms / 1000))


def _made(slot: Coming, spread: Spread, reach: float, usual: float, done: float, tight: float) -> Forecast:
    middle, wide = 1000 * math.exp(spread.centre), math.exp(reach)
    made = Forecast(
        slot=slot, split_ms=middle, low_ms=middle / wide, high_ms=middle * wide, spread=spread, usual=usual, done=done
    )
    object.__setattr__(made, "_tight", tight)
    return made


class AthletePace:
    """One athlete in one part, given their own splits and what the class is like."""

    drift: float
    """The change of the logarithm of the split with each round."""
    drift_sd: float

    def __init__(self, fit: ClassFit, kinds: Kinds, person: Personal | None, rows: Sequence[Row]) -> None:
        """`rows` are their splits, as `person` has them; without one nothing is known of anybody."""
        self.drift = person.drift if person else fit.model.drift_mean
        self.drift_sd = person.drift_sd if person else fit.model.drift_sd
        self.kinds, self.person = kinds, person
        self._fit, self._rows = fit, rows
        self.done: Mapping[int, float] = {kinds.place[row.kind]: row.amount for row in rows}
        """The amount they did last, by kind of work."""

    def forecast(self, slot: Coming) -> Forecast | None:
        """A split to come; None where nobody has done that work and no history tells of it."""
        return self.forecasts((slot,))[0]

    def forecasts(self, slots: Sequence[Coming]) -> tuple[Forecast | None, ...]:
        """The same for several at once, one for each: much cheaper than one by one."""
        return self._fit.forecasts_of([(self, slots)])[0]

    def kinds_of(self, slots: Sequence[Coming]) -> list[int | None]:
        """The kind of work of each slot; None where nothing is known of it, or there is none to do."""
        if self.person is None:
            return [None] * len(slots)
        find, given = self.kinds.find, self.kinds.place.get
        found = []
        for slot in slots:
            kind = given((slot.station, slot.move, slot.unit))
            if kind is None:
                kind = find(slot.station, slot.move, slot.unit)
            found.append(kind if slot.amount.numerator > 0 else None)
        return found

    def fitted_ms(self, split: Split) -> float | None:
        """What the fitted line has in place of a split that was taken; None for one that this pace does not rest on."""
        if self.person is None:
            return None
        where = split.station, split.interval
        for row, line in zip(self._rows, self.person.lines.tolist(), strict=True):
            if (row.split.station, row.interval) == where and row.kind == (split.station, split.move, split.unit):
                return 1000 * math.exp(line + self.kinds.log_work(self.kinds.place[row.kind], row.amount))
        return None


@dataclass(frozen=True, slots=True)
class ClassFit:
    """One part of one class: how the stations, the people and their drifts vary.

    `mixed` is what was estimated from `grid`; both are None while nobody has done anything and no history tells of anybody.
    `read` are the splits it was estimated from, so that none is read twice.
    """

    kinds: Kinds
    mixed: MixedFit | None
    grid: Grid | None
    model: Model
    read: Read = field(default_factory=dict, repr=False, compare=False)

    def pace_of(self, athlete: str, splits: Sequence[Split]) -> AthletePace:
        """One athlete, given all their splits in the part so far. Cheap enough for every tap."""
        return self.paces_of({athlete: splits})[athlete]

    def paces_of(self, by_athlete: Mapping[str, Sequence[Split]]) -> dict[str, AthletePace]:
        """Several athletes at once, each given all their splits in the part so far: much cheaper than one by one."""
        rows = {name: rows_of(splits, self.read) for name, splits in by_athlete.items()}
        kinds = {name: self.kinds.with_more(own) for name, own in rows.items()}
        found = {name: AthletePace(self, kinds[name], None, ()) for name in rows if not kinds[name].usual}
        # Who did work that the class does not know is worked out alone.
        alike = [name for name in rows if name not in found and kinds[name] is self.kinds]
        alone = [[name] for name in rows if name not in found and kinds[name] is not self.kinds]
        for names in [alike, *alone] if alike else alone:
            found |= self._persons(kinds[names[0]], [(name, rows[name]) for name in names])
        return {name: found[name] for name in rows}

    def _persons(self, kinds: Kinds, batch: Sequence[tuple[str, Sequence[Row]]]) -> dict[str, AthletePace]:
        from floorclock.pace.model.personal import persons

        mixed, grid = (self.mixed, self.grid) if self.mixed and self.grid else _nobody()
        paces = zip(batch, persons(batch, kinds, mixed, grid, self.model), strict=True)
        return {name: AthletePace(self, kinds, person, rows) for (name, rows), person in paces}

    def forecasts_of(self, asked: Sequence[tuple[AthletePace, Sequence[Coming]]]) -> list[tuple[Forecast | None, ...]]:
        """What is to come for several athletes of this fit, as `AthletePace.forecasts`: cheaper still all at once."""
        persons = [pace.person for pace, _ in asked if pace.person is not None]
        place, kinds_at = iter(range(len(persons))), [pace.kinds_of(slots) for pace, slots in asked]
        known: list[Asked] = []
        for (pace, slots), kinds in zip(asked, kinds_at, strict=True):
            if pace.person is not None:
                at, usual, last = next(place), pace.kinds.usual, pace.done.get
                both = zip(slots, kinds, strict=True)
                known += [(at, kind, slot, usual[kind], last(kind, usual[kind])) for slot, kind in both if kind is not None]
        if not known:
            return [(None,) * len(slots) for _, slots in asked]
        from floorclock.pace.model.ahead import numbers_of

        nodes, numbers = t_nodes(self.model.freedom), numbers_of(persons, known, (1 + SHARE) / 2, self.model)
        made = (
            _made(slot, Spread(centre, variance, scale, nodes), reach, usual, done, tight)
            for (_, _, slot, usual, done), (centre, variance, scale, reach, tight) in zip(known, numbers, strict=True)
        )
        return [tuple([None if kind is None else next(made) for kind in kinds]) for kinds in kinds_at]


def fit_class(splits: Sequence[Split], prior: Prior = NO_PRIOR, before: ClassFit | None = None) -> ClassFit:
    """Estimates the class from all splits of one part so far, in any order; `before` is an earlier fit to start from.

    Works from no splits at all on.
    """
    rows = rows_of(splits, before.read if before else {})
    kinds = kinds_of(rows, prior, before.kinds if before else None)
    read = {id(row.split): row for row in rows}
    if not kinds.usual:
        return ClassFit(kinds, None, None, COACHED, read)
    mixed, grid = _estimate(rows, prior, kinds, before.mixed if before else None)
    return ClassFit(kinds, mixed, grid, COACHED, read)


@cache
def _nobody() -> tuple[MixedFit, Grid]:
    """A class of which nothing is known."""
    return _estimate((), NO_PRIOR, Kinds({}, ()), None)


def _estimate(rows: Sequence[Row], prior: Prior, kinds: Kinds, before: MixedFit | None) -> tuple[MixedFit, Grid]:
    from floorclock.pace.model.grid import lay_out
    from floorclock.pace.model.mixed import fit_mixed

    grid = lay_out(rows, list(told_by(prior, kinds)), kinds)
    return fit_mixed(grid, COACHED, before.parameters if before else None), grid
