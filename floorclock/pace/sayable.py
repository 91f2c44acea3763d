"""Amounts and chances that a coach would say: nobody calls `13.7 reps`, `187 m` or `a chance of 0.63` across a room.

Invariant: an amount that comes out of here is a multiple of what is counted in at its size.
All steps: common practice, no source.
"""

from __future__ import annotations

import math
from fractions import Fraction

from floorclock.plan.work import Unit, amount_said

TENTH = Fraction(1, 10)
_STEPS: dict[Unit, tuple[tuple[int, int | Fraction], ...]] = {
    Unit.REPS: ((40, 5), (20, 2), (0, 1)),
    Unit.METRES: ((500, 50), (200, 25), (50, 10), (10, 5), (0, 1)),
    Unit.CALORIES: ((0, 1),),
    Unit.SECONDS: ((10, 5), (0, 1)),
    Unit.WHOLE: ((0, TENTH),),
}
"""From an amount on, in what is counted: whole reps under 20, even ones from 20, fives from 40; of several moves, tenths."""
LIKELY = 0.7
"""A chance from here on is called likely, under the rest of it unlikely; what lies between is too close to call."""


def at_most(amount: Fraction | float, unit: Unit) -> Fraction:
    """The largest amount to say that is no more than this; 0 where there is none."""
    counted = _counted(amount, unit)
    step = _step(counted, unit)
    return max(Fraction(0), counted // step * Fraction(step))


def below(amount: Fraction, unit: Unit) -> Fraction:
    """The largest amount to say that is less than this; 0 where there is none."""
    counted = _counted(amount, unit)
    return at_most(counted if counted < amount else counted - smallest(unit), unit)


def above(amount: Fraction, unit: Unit) -> Fraction:
    """The smallest amount to say that is more than this."""
    counted = _counted(amount, unit)
    step = _step(counted, unit)
    return (counted // step + 1) * Fraction(step)


def smallest(unit: Unit) -> Fraction:
    """The least of it that can be said."""
    return Fraction(_STEPS[unit][-1][1])


def _counted(amount: Fraction | float, unit: Unit) -> Fraction:
    """Rounded down to what is counted in at the least."""
    return math.floor(amount / smallest(unit)) * smallest(unit)


def _step(amount: Fraction, unit: Unit) -> int | Fraction:
    return next((step for start, step in _STEPS[unit] if amount >= start), smallest(unit))


said = amount_said


def chance_said(chance: float) -> str:
    """`likely`, `too close to call` or `unlikely`."""
    return "likely" if chance >= LIKELY else "unlikely" if chance <= 1 - LIKELY else "too close to call"
