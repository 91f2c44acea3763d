"""The largest amount that keeps the margin in every round of one station, and the option that does where no amount will.

Invariant: an amount found is one that a coach would say, is no less than the floor, and holds as surely as was asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from floorclock.clock.splits import Coming
from floorclock.pace.amounts import moved, same
from floorclock.pace.holding import Hold, hold_of, hold_with, joined
from floorclock.pace.sayable import above, at_most, below
from floorclock.plan.roster import Athlete, assign
from floorclock.plan.work import Option, Station, Target, Unit

if TYPE_CHECKING:
    from floorclock.pace.model.forecast import AthletePace, Forecast

LEAST_SHARE = Fraction(1, 2)
"""Advice takes away no more than half, unless the coach wrote another floor (`least`)."""
MOST_MORE = Fraction(6, 5)
"""Nor does it ever add more than a fifth at once, or one step where a fifth is less."""


@dataclass(frozen=True, slots=True)
class Rounds:
    """One athlete's rounds at one station, in order and never none; `sure` (0..1) is how likely all must keep the margin."""

    ahead: tuple[Forecast, ...]
    sure: float
    _tried: dict[tuple[int, int], list[Hold]] = field(default_factory=dict, init=False, repr=False, compare=False)
    """How likely each round keeps the margin with an amount in the first and the plan's step after it; last first, as far as
    it was asked."""
    _chances: dict[tuple[int, int], float] = field(default_factory=dict, init=False, repr=False, compare=False)
    _trials: dict[int, Callable[[Fraction], Hold]] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def next(self) -> Coming:
        """The first of them."""
        return self.ahead[0].slot

    def _hold(self, at: int, one: Forecast, amount: Fraction) -> Hold:
        """How likely the round `at` keeps the margin with an amount."""
        if same(amount, one.slot.amount):
            return hold_of(one)
        trial = self._trials.get(at)
        if trial is None:
            trial = self._trials[at] = hold_with(one)
        return trial(amount)

    def _work(self, amount: Fraction) -> list[tuple[Forecast, Fraction]]:
        first = self.next
        if not first.step.numerator:
            return [(one, amount) for one in self.ahead[::-1]] if amount.numerator > 0 else []
        found = [(one, moved(amount, first.step, one.slot.round - first.round)) for one in reversed(self.ahead)]
        return [(one, later) for one, later in found if later.numerator > 0]

    def chance(self, amount: Fraction) -> float:
        """How likely an amount keeps the margin in all rounds."""
        key = amount.numerator, amount.denominator
        chance = self._chances.get(key)
        if chance is None:
            known, work = self._tried.setdefault(key, []), self._work(amount)
            known += [self._hold(at, *work[at]) for at in range(len(known), len(work))]
            chance = self._chances[key] = joined(known)
        return chance

    def holds(self, amount: Fraction) -> bool:
        """Whether an amount keeps the margin in all rounds as surely as was asked."""
        known = self._tried.setdefault((amount.numerator, amount.denominator), [])
        sure, product = self.sure, 1.0
        for at, (one, later) in enumerate(self._work(amount)):
            if at == len(known):
                known.append(self._hold(at, one, later))
            chance = known[at][0]
            if chance < sure:
                return False
            product *= chance
        # As `reaches`, but what it takes to know is kept.
        return product >= sure or self.chance(amount) >= sure

    def rest_ms(self, amount: Fraction) -> float:
        """What an amount leaves in the worst round, as surely as was asked."""
        given = (one if same(later, one.slot.amount) else one.with_amount(later) for one, later in self._work(amount))
        left = (one.slot.window_ms - one.quantile_ms(self.sure) for one in given)
        return min(left, default=float(self.next.window_ms))

    def less(self, station: Station, cap: Fraction | None = None) -> Fraction | None:
        """The largest amount under the present one that holds, no more than `cap`; None where none does at or above the floor."""
        unit, least = self.next.unit, self.least(station)
        most = below(self.next.amount, unit)
        if cap is not None:
            most = min(most, at_most(cap, unit))
        if least is None or max(most, least) >= self.next.amount:
            return None
        # Time grows less than in proportion to work, so that the guess is a little too much: a step or two away.
        worst = max(self.ahead, key=lambda one: one.split_ms / max(1, one.slot.window_ms - one.slot.margin_ms))
        room = (worst.slot.window_ms - worst.slot.margin_ms) / worst.quantile_ms(self.sure)
        return self._near(at_most(float(self.next.amount) * room, unit), least, max(most, least))

    def more(self) -> Fraction | None:
        """The largest amount over the present one, by a fifth at the most, that holds."""
        present, unit = self.next.amount, self.next.unit
        most = max(above(present, unit), at_most(present * MOST_MORE, unit))
        if unit is Unit.SECONDS and most * 1000 >= self.next.window_ms - self.next.margin_ms:
            return None
        while most > present:
            if self.holds(most):
                return most
            most = below(most, unit)
        return None

    def _near(self, guess: Fraction, least: Fraction, most: Fraction) -> Fraction | None:
        """The largest amount that holds from `least` to `most`, looked for from a guess on; less always holds better."""
        unit, found = self.next.unit, min(most, max(least, guess))
        if self.holds(found):
            while found < most and self.holds(larger := min(most, above(found, unit))):
                found = larger
            return found
        while found > least:
            found = max(least, below(found, unit))
            if self.holds(found):
                return found
        return None

    def least(self, station: Station) -> Fraction | None:
        """The smallest amount for the first round with which none comes under its floor; the plan's own work aside.

        None where nothing under the present amount may be given.
        """
        written, first, unit = _written_floor(station, self.next.unit), self.next, self.next.unit
        if written is None and not first.step.numerator and first.amount.denominator == 1:
            return _half_of(first.amount.numerator, unit)
        floors = []
        # Without a step all rounds have the same amount, and one stands for all.
        for one in self.ahead if first.step.numerator else self.ahead[:1]:
            least = max(Fraction(1), one.slot.amount * LEAST_SHARE) if written is None else written
            if one.slot.amount >= least:
                floors.append(moved(least, first.step, first.round - one.slot.round))
        if not floors:
            return None
        # A ladder that begins with next to nothing still has to begin with something.
        least = max(*floors, Fraction(1) if written is None else min(written, Fraction(1)))
        # What the coach wrote is something a coach says.
        if least != written and at_most(least, unit) != least:
            least = above(least, unit)
        return least if least < first.amount else None


@lru_cache(maxsize=1024)
def _half_of(number: int, unit: Unit) -> Fraction | None:
    """The floor of a whole amount that is the same in all rounds, where the coach wrote none: `Rounds.least` for most work."""
    if number < 1:
        return None
    least = max(Fraction(1), number * LEAST_SHARE)
    if at_most(least, unit) != least:
        least = above(least, unit)
    return least if least < number else None


def _written_floor(station: Station, unit: Unit) -> Fraction | None:
    """The coach's floor, where it is in the unit of the work."""
    written_in = station.target.unit if station.target is not None else unit
    return station.least if written_in is unit else None


def as_target(first: Coming, amount: Fraction) -> Target:
    """The target that comes to this amount in that round and keeps the step of the plan, whatever it makes of rounds before."""
    return Target(moved(amount, first.step, 1 - first.round), first.unit, first.step)


@dataclass(frozen=True, slots=True)
class OptionFound:
    """An option and what it comes to, None where nothing is known of its work; `own` says that its target stays as written."""

    option: Option
    amount: Fraction | None
    chance: float
    first: Coming
    target: Target | None
    own: bool


def find_option(rounds: Rounds, pace: AthletePace, station: Station, athlete: Athlete) -> OptionFound | None:
    """The option that keeps the margin where no amount of the present work does.

    The first that holds as the plan has it, else the first that holds with less of it, else the first that nothing is
    known of. Never the one in force, never a guarded one for who is not listed as experienced in it.
    """
    fallbacks: list[OptionFound] = []
    for option in station.options:
        if option.name == rounds.next.option or (option.guarded and option.move not in athlete.experienced):
            continue
        tried = _try_option(rounds, pace, station, athlete, option)
        if tried is not None and tried.own and tried.amount is not None:
            return tried
        if tried is not None:
            fallbacks.append(tried)
    known = (one for one in fallbacks if one.amount is not None)
    return next(known, None) or next(iter(fallbacks), None)


def _try_option(rounds: Rounds, pace: AthletePace, station: Station, athlete: Athlete, option: Option) -> OptionFound | None:
    with_it = replace(athlete, options={**athlete.options, station.move: option.name})
    work = assign(with_it, station)
    if work.option != option.name or work.target is None:
        return None
    target = work.target
    slots = [
        replace(
            one.slot,
            move=work.move,
            amount=target.in_round(one.slot.round),
            unit=target.unit,
            step=target.step,
            option=option.name,
        )
        for one in rounds.ahead
    ]
    ahead = pace.forecasts(slots)
    given = target if option.target is not None else None
    if None in ahead:
        return OptionFound(option, None, 0.0, slots[0], given, own=True)
    there = Rounds(tuple(one for one in ahead if one is not None), rounds.sure)
    first = there.next.amount
    if there.holds(first):
        return OptionFound(option, first, there.chance(first), slots[0], given, own=True)
    less = there.less(replace(station, least=None))
    return OptionFound(option, less, there.chance(less), slots[0], as_target(slots[0], less), own=False) if less else None
