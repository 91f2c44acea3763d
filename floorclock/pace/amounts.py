"""Exact amounts, compared and moved on from round to round by the thousand.

Invariant: what comes out is what plain arithmetic with fractions gives. Nearly every amount is a whole number, and a `Fraction`
takes ten times as long to find that out as it takes to look.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache


@lru_cache(maxsize=4096)
def whole(number: int) -> Fraction:
    """A whole amount."""
    return Fraction(number)


NOTHING = whole(0)


def same(one: Fraction | None, other: Fraction | None) -> bool:
    """Whether two amounts are equal, None being equal to None alone."""
    if one is other:
        return True
    if one is None or other is None:
        return False
    return one.numerator == other.numerator and one.denominator == other.denominator


def moved(amount: Fraction, step: Fraction, rounds: int) -> Fraction:
    """`amount + step * rounds`."""
    if not rounds or not step.numerator:
        return amount
    if amount.denominator == 1 and step.denominator == 1:
        return whole(amount.numerator + step.numerator * rounds)
    return amount + step * rounds


def later(amount: Fraction, step: Fraction, rounds: int) -> Fraction:
    """What a target gives so many rounds later (earlier, where negative); a falling ladder stops at zero."""
    found = moved(amount, step, rounds)
    return found if found.numerator > 0 else NOTHING


def ratio(one: Fraction, other: Fraction) -> float:
    """One amount by another, rounded once."""
    return (one.numerator * other.denominator) / (one.denominator * other.numerator)
