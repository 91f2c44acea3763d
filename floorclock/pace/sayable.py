"""Amounts and chances that a coach would say: nobody calls `13.7 reps`, `187 m` or `a chance of 0.63` across a room.

Invariant: an amount that comes out of here is a multiple of what is counted in at its size.
All steps: common practice, no source.
"""

from __future__ import annotations

import math
from fractions import Fraction

from floorclock.plan.work import Unit, amount_said

_STEPS: dict[Unit, tuple[tuple[int, int], ...]] = {
    Unit.REPS: ((40, 5), (20, 2), (0, 1)),
    Unit.METRES: ((500, 50), (200, 25), (50, 10), (10, 5), (0, 1)),
    Unit.CALORIES: ((0, 1),),
    Unit.SECONDS: ((10, 5), (0, 1)),
}
"""From an amount on, in what is counted: whole reps under 20, even ones from 20, fives from 40."""
LIKELY = 0.7
"""A chance from here on is called likely, under the rest of it unlikely; what lies between is too close to call."""


def at_most(amount: Fraction | float, unit: Unit) -> Fraction:
    """The largest amount to say that is no more than this; 0 where there is none."""
    number = math.floor(amount)
    step = _step(number, unit)
    return Fraction(max(0, number // step * step))


def below(amount: Fraction, unit: Unit) -> Fraction:
    """The largest amount to say that is less than this; 0 where there is none."""
    return at_most(math.ceil(amount) - 1, unit)


def above(amount: Fraction, unit: Unit) -> Fraction:
    """The smallest amount to say that is more than this."""
    floor = math.floor(amount)
    step = _step(floor, unit)
    return Fraction((floor // step + 1) * step)


def _step(number: int, unit: Unit) -> int:
    return next((step for start, step in _STEPS[unit] if number >= start), 1)


said = amount_said


def chance_said(chance: float) -> str:
    """`likely`, `too close to call` or `unlikely`."""
    return "likely" if chance >= LIKELY else "unlikely" if chance <= 1 - LIKELY else "too close to call"
