"""Amounts: the short ways give what plain arithmetic with fractions gives. The reference is `fractions` itself."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pytest

from floorclock.pace.amounts import later, moved, ratio, same, whole

SOME = [Fraction(0), Fraction(1), Fraction(14), Fraction(-3), Fraction(25, 2), Fraction(7, 3)]


@pytest.mark.parametrize(("one", "other"), product([*SOME, None], repeat=2))
def test_amounts_are_the_same_when_fractions_are_equal(one: Fraction | None, other: Fraction | None) -> None:
    assert same(one, other) == (one == other)


@pytest.mark.parametrize(("amount", "step", "rounds"), product(SOME, SOME, (-4, 0, 1, 5)))
def test_a_later_round_has_the_steps_between_and_never_less_than_nothing(amount: Fraction, step: Fraction, rounds: int) -> None:
    assert moved(amount, step, rounds) == amount + step * rounds
    assert later(amount, step, rounds) == max(Fraction(0), amount + step * rounds)


@pytest.mark.parametrize(("one", "other"), [pair for pair in product(SOME, repeat=2) if pair[1]])
def test_a_ratio_is_rounded_once(one: Fraction, other: Fraction) -> None:
    assert ratio(one, other) == float(one / other)


def test_a_whole_amount_is_a_fraction() -> None:
    assert whole(12) == Fraction(12)
    assert isinstance(whole(12), Fraction)
