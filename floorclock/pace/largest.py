"""The amount of work to give: what keeps the margin in all rounds still to come, and what it costs to be wrong.

Invariant: an amount is one that a coach would say, at or above the floor that the coach set, and never more than a fifth more.

Two questions, two answers. `largest` is the most that keeps the margin as surely as was asked: for a target that is given before
a class. `cut` is for an athlete who is losing it: the amount with the least expected loss, where a margin that goes counts 1 and
work left undone counts `UNDONE` times its share, the less the surer the coach wants to be (1 - `sure`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction

from floorclock.clock.splits import Coming
from floorclock.pace.model.forecast import AthletePace, Forecast, joined
from floorclock.pace.sayable import above, at_most, below, later, smallest
from floorclock.plan.roster import Athlete, assign
from floorclock.plan.shares import item_seconds, own_seconds
from floorclock.plan.work import Option, Station, Target, Unit

LEAST_SHARE = Fraction(1, 2)
"""Advice takes away no more than half, unless the coach wrote another floor (`least`)."""
MOST_MORE = Fraction(6, 5)
"""Nor does it ever add more than a fifth at once, or one step where a fifth is less."""
UNDONE = 24.0
"""How much all of the work left undone counts, as a multiple of a margin that goes, for a coach who does not mind at all."""
LIKELY_ENOUGH = 0.6
"""An amount is said to hold from this chance on; under it, it may not."""


@dataclass(frozen=True, slots=True)
class Rounds:
    """One athlete's rounds at one station, in order and never none; `sure` (0..1) is how likely all must keep the margin."""

    ahead: tuple[Forecast, ...]
    sure: float
    _chances: dict[Fraction, float] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def next(self) -> Coming:
        """The first of them."""
        return self.ahead[0].slot

    def _work(self, amount: Fraction) -> Iterator[tuple[Forecast, Fraction]]:
        """Each round with what an amount in the first one makes of it; none where nothing is left to do."""
        first = self.next
        for forecast in self.ahead:
            if first.amounts:
                given = in_proportion(first, amount, forecast.slot.amount)
            else:
                given = later(amount, first.step, forecast.slot.round - first.round)
            if given:
                yield forecast, given

    def chance(self, amount: Fraction) -> float:
        """How likely an amount keeps the margin in all rounds."""
        if amount not in self._chances:
            work = self._work(amount)
            self._chances[amount] = joined([ahead.hold(None if given == ahead.slot.amount else given) for ahead, given in work])
        return self._chances[amount]

    def holds(self, amount: Fraction) -> bool:
        """Whether an amount keeps the margin in all rounds as surely as was asked."""
        return self.chance(amount) >= self.sure

    def rest_ms(self, amount: Fraction) -> float:
        """What an amount leaves in the worst round, as surely as was asked."""
        work = self._work(amount)
        left = (ahead.slot.window_ms - ahead.with_amount(given).quantile_ms(self.sure) for ahead, given in work)
        return min(left, default=float(self.next.window_ms))

    def cut(self, station: Station, cap: Fraction | None = None) -> Fraction | None:
        """What to come down to, no more than `cap`: the least where even that is not likely to hold.

        None where nothing under the present amount may be given, or where it is best left as it is.
        """
        present, unit, sides, least = self.next.amount, self.next.unit, self.next.sides, self.least(station)
        if least is None:
            return None
        best: Fraction | None = None
        loss = math.inf
        if cap is None and self.chance(present) >= LIKELY_ENOUGH:
            best, loss = present, self._loss(present)
        tried = below(present, unit, sides) if cap is None else min(below(present, unit, sides), at_most(cap, unit, sides))
        # Less work only costs more from where it alone costs as much as the best so far.
        while tried >= least and (best is None or self._undone(tried) < loss):
            if self.chance(tried) >= LIKELY_ENOUGH and self._loss(tried) < loss:
                best, loss = tried, self._loss(tried)
            tried = below(tried, unit, sides)
        return least if best is None else None if best == present else best

    def _undone(self, amount: Fraction) -> float:
        return UNDONE * (1 - self.sure) * float(1 - amount / self.next.amount)

    def _loss(self, amount: Fraction) -> float:
        return 1 - self.chance(amount) + self._undone(amount)

    def largest(self, station: Station) -> Fraction | None:
        """The most that holds, from the floor to a fifth more than the present amount; None where nothing does."""
        present, unit, sides, least = self.next.amount, self.next.unit, self.next.sides, self.least(station)
        tried = max(above(present, unit, sides), at_most(present * MOST_MORE, unit, sides))
        most_ms = self.next.window_ms - self.next.margin_ms
        is_hold = unit is Unit.SECONDS
        while tried > present and ((is_hold and tried * 1000 >= most_ms) or not self.holds(tried)):
            tried = below(tried, unit, sides)
        if tried > present or self.holds(present):
            return max(tried, present)
        tried = below(present, unit, sides)
        while least is not None and tried > least and not self.holds(tried):
            tried = below(tried, unit, sides)
        return None if least is None or not self.holds(max(tried, least)) else max(tried, least)

    def least(self, station: Station) -> Fraction | None:
        """The smallest amount for the first round with which none comes under its floor; the plan's own work aside.

        None where nothing under the present amount may be given.
        """
        first, unit, sides = self.next, self.next.unit, self.next.sides
        written = _written_floor(station, unit)
        floors = []
        for slot in (forecast.slot for forecast in self.ahead):
            least = max(smallest(unit, sides), slot.amount * LEAST_SHARE) if written is None else written
            if slot.amount >= least and not first.amounts:
                floors.append(least - first.step * (slot.round - first.round))
            elif slot.amount >= least and (written is not None or slot is first):
                floors.append(least * first.amount / slot.amount)
        if not floors:
            return None
        # A ladder that begins with next to nothing still has to begin with something.
        least = max(*floors, smallest(unit, sides) if written is None else min(written, smallest(unit, sides)))
        # What the coach wrote is something a coach says.
        if least != written and at_most(least, unit, sides) != least:
            least = above(least, unit, sides)
        return least if least < first.amount else None


def _written_floor(station: Station, unit: Unit) -> Fraction | None:
    """The coach's floor, where it is in the unit of the work."""
    written_in = station.target.unit if station.target is not None else unit
    return station.least if written_in is unit else None


def cut_item(rounds: Rounds, station: Station, athlete: Athlete, whole: Fraction) -> tuple[str, Target, Fraction] | None:
    """Which of several moves in one window to cut, to what target, and what all of them then come to: `whole`, or nearly.

    The one that costs the most time, down to its own floor (half, or the coach's `least`); None where that is no cut.
    """
    number, work = rounds.next.round, assign(athlete, station)
    written = sum(item_seconds(item.move, item.target, item.pattern, number) for item in station.items)
    costs = [(own_seconds(item, mine, number), at) for at, (item, mine) in enumerate(zip(station.items, work.items, strict=True))]
    cost, at = max(costs, key=lambda pair: (pair[0], -pair[1]), default=(Fraction(0), 0))
    if not cost:
        return None
    item, mine = station.items[at], work.items[at]
    target = mine.target
    if target is None:
        return None
    present, sides = target.in_round(number), target.sides
    wanted = present * (1 - (rounds.next.amount - whole) * written / cost)
    floor = _written_floor(item, target.unit) or max(smallest(target.unit, sides), present * LEAST_SHARE)
    amount = max(at_most(wanted, target.unit, sides), at_most(floor, target.unit, sides))
    if amount < floor:
        amount = above(amount, target.unit, sides)
    if amount >= present:
        return None
    new = Target(amount + target.step * (1 - number), target.unit, target.step, each_side=target.each_side)
    return mine.move, new, rounds.next.amount - cost * (1 - amount / present) / written


def in_proportion(first: Coming, amount: Fraction, written: Fraction) -> Fraction:
    """What becomes of the amount `written` in a list of rounds where that of the round of `first` becomes `amount`."""
    if amount == first.amount:
        return written
    if written == first.amount:
        return amount
    return max(smallest(first.unit, first.sides), at_most(written * amount / first.amount, first.unit, first.sides))


def as_target(first: Coming, amount: Fraction) -> Target:
    """The target that comes to this amount in that round and keeps the step of the plan, whatever it makes of rounds before.

    Of a list of rounds all change in proportion.
    """
    if first.amounts:
        amounts = tuple(in_proportion(first, amount, written) for written in first.amounts)
        return Target(amounts[0], first.unit, amounts=amounts, each_side=first.sides > 1)
    return Target(amount + first.step * (1 - first.round), first.unit, first.step, each_side=first.sides > 1)


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
    known = [option for option in fallbacks if option.amount is not None]
    return next(iter(known or fallbacks), None)


def _try_option(rounds: Rounds, pace: AthletePace, station: Station, athlete: Athlete, option: Option) -> OptionFound | None:
    with_it = replace(athlete, options={**athlete.options, station.move: option.name})
    work = assign(with_it, station)
    if work.option != option.name or work.target is None:
        return None
    target = work.target
    slots = [
        replace(
            slot,
            move=work.move,
            amount=target.in_round(slot.round),
            unit=target.unit,
            step=target.step,
            option=option.name,
            sides=target.sides,
            amounts=target.amounts,
        )
        for slot in (forecast.slot for forecast in rounds.ahead)
    ]
    ahead = [forecast for forecast in pace.forecasts(slots) if forecast is not None]
    given = target if option.target is not None else None
    if len(ahead) < len(slots):
        return OptionFound(option, None, 0.0, slots[0], given, own=True)
    there = Rounds(tuple(ahead), rounds.sure)
    first = there.next.amount
    if there.holds(first):
        return OptionFound(option, first, there.chance(first), slots[0], given, own=True)
    less = there.largest(replace(station, least=None))
    return OptionFound(option, less, there.chance(less), slots[0], as_target(slots[0], less), own=False) if less else None
