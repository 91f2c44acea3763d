"""Amounts that a coach would say: nobody calls `13.7 reps` or `187 m` across a room.

Invariant: whatever comes out of here is a multiple of what is counted in at its size. All steps: common practice, no source.
"""

from __future__ import annotations

import math
from fractions import Fraction

from floorclock.pace.amounts import whole
from floorclock.plan.work import Unit, amount_words

_STEPS: dict[Unit, tuple[tuple[int, int], ...]] = {
    Unit.REPS: ((40, 5), (20, 2), (0, 1)),
    Unit.METRES: ((500, 50), (200, 25), (50, 10), (10, 5), (0, 1)),
    Unit.CALORIES: ((0, 1),),
    Unit.SECONDS: ((10, 5), (0, 1)),
}
"""From an amount on, in what is counted: whole reps under 20, even ones from 20, fives from 40."""


def at_most(amount: Fraction | float, unit: Unit) -> Fraction:
    """The largest amount to say that is no more than this; 0 where there is none."""
    return whole(_at_most(math.floor(amount), unit))


def below(amount: Fraction, unit: Unit) -> Fraction:
    """The largest amount to say that is less than this; 0 where there is none."""
    return whole(_at_most(math.ceil(amount) - 1, unit))


def above(amount: Fraction, unit: Unit) -> Fraction:
    """The smallest amount to say that is more than this."""
    floor = math.floor(amount)
    step = _step(floor, unit)
    return whole((floor // step + 1) * step)


def _at_most(number: int, unit: Unit) -> int:
    step = _step(number, unit)
    return max(0, number // step * step)


def _step(number: int, unit: Unit) -> int:
    for start, step in _STEPS[unit]:
        if number >= start:
            return step
    return 1


def said(amount: Fraction, unit: Unit) -> str:
    """`8 reps`, `1 rep`, `40 m`, `12 cal`, `0:40`."""
    if unit is Unit.REPS:
        return f"{amount_words(amount, unit)} {'rep' if amount == 1 else 'reps'}"
    return amount_words(amount, unit)
