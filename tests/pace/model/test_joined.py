"""How likely several rounds all hold, against what is published of normal draws that go together."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from floorclock.pace.model.forecast import joined

shares = st.floats(0, 1)
chances = st.lists(shares, min_size=1, max_size=6)


@pytest.mark.parametrize("shared", [0.0, 0.25, 0.5, 0.75, 0.9])
def test_two_even_chances_agree_with_the_arcsine_rule(shared: float) -> None:
    # Sheppard 1899: 1/4 + arcsin(r) / 2 pi (the source from memory, sure; scipy below agrees).
    assert joined([(0.5, shared)] * 2) == pytest.approx(0.25 + math.asin(shared) / (2 * math.pi), abs=0.01)


@pytest.mark.parametrize("shared", [0.1, 0.4, 0.8])
@pytest.mark.parametrize("single", [(0.9, 0.9, 0.9), (0.99, 0.95, 0.8), (0.7, 0.6), (0.97, 0.96, 0.95, 0.94, 0.93)])
def test_several_chances_agree_with_scipys_normal_distribution(single: tuple[float, ...], shared: float) -> None:
    size = len(single)
    covariance = np.full((size, size), shared) + np.eye(size) * (1 - shared)
    reference = multivariate_normal(np.zeros(size), covariance, seed=1).cdf(norm.ppf(single))
    assert joined([(chance, shared) for chance in single]) == pytest.approx(reference, abs=0.01)


def test_rounds_that_share_everything_hold_like_the_worst_of_them() -> None:
    assert joined([(0.9, 1), (0.8, 1), (0.95, 1)]) == pytest.approx(0.8, abs=0.03)


def test_rounds_that_share_nothing_are_multiplied() -> None:
    assert joined([(0.9, 0), (0.8, 0), (0.95, 0)]) == pytest.approx(0.9 * 0.8 * 0.95)


def test_no_round_always_holds_and_one_that_cannot_never_does() -> None:
    assert joined([]) == 1
    assert joined([(1.0, 0.5)] * 2) == 1
    assert joined([(0.9, 0.5), (0.0, 0.5)]) == 0


@given(chances, shares)
def test_it_lies_between_the_product_and_the_least(single: list[float], shared: float) -> None:
    found = joined([(chance, shared) for chance in single])
    assert math.prod(single) - 0.02 <= found <= min(single)
