"""Intervals and trends against reference libraries and published examples."""

from __future__ import annotations

from itertools import product
from random import Random
from typing import TypeVar

import numpy as np
import pytest
import statsmodels.api as sm  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint  # type: ignore[import-untyped]

from floorclock.insight.statistics import over_time, strata_interval, t_reach, wilson

T = TypeVar("T")

# Cushny and Peebles 1905, as in Student 1908, Biometrika 6:1-25: extra hours of sleep of ten people by two drugs. The data and
# the figures of the paired test (mean 1.58, t = 4.06 with 9 degrees of freedom) are from memory, sure; scipy agrees below.
FIRST_DRUG = (0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0)
SECOND_DRUG = (1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4)


def some(found: T | None) -> T:
    assert found is not None
    return found


def test_students_t_reaches_as_far_as_scipys() -> None:
    for freedom, share in product((1, 2, 3, 4, 5, 7, 8, 12, 29, 30, 101, 400), (0.5, 0.8, 0.9, 0.95, 0.999)):
        assert t_reach(freedom, share) == pytest.approx(stats.t.ppf((1 + share) / 2, freedom), rel=1e-9)


def test_no_interval_from_no_freedom_and_no_share_of_nothing() -> None:
    for freedom, share in ((0, 0.9), (3, 0.0), (3, 1.0)):
        with pytest.raises(ValueError, match="Student's t"):
            t_reach(freedom, share)
    for count, of in ((0, 0), (3, 2), (-1, 4)):
        with pytest.raises(ValueError, match="no share"):
            wilson(count, of)


def test_the_paired_test_is_students_own_example() -> None:
    changes = [after - before for before, after in zip(FIRST_DRUG, SECOND_DRUG, strict=True)]
    found = some(strata_interval([changes], 0.95))
    assert found.middle == pytest.approx(1.58)
    expected = stats.ttest_rel(SECOND_DRUG, FIRST_DRUG)
    assert expected.statistic == pytest.approx(4.0621, abs=1e-4)
    span = expected.confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((span.low, span.high))
    assert found.is_told


@given(st.lists(st.floats(-1, 1), min_size=2, max_size=12).filter(lambda values: np.std(values) > 1e-6))
def test_a_mean_is_known_as_well_as_scipy_says(values: list[float]) -> None:
    found, span = some(strata_interval([values])), stats.ttest_1samp(values, 0).confidence_interval(0.9)
    assert (found.low, found.high) == pytest.approx((span.low, span.high), abs=1e-9)


def test_groups_are_pooled_as_in_a_least_squares_fit_with_a_level_each() -> None:
    dice = Random(5)
    groups = [[dice.gauss(level, 0.05) for _ in range(count)] for level, count in ((-0.1, 5), (0.02, 4), (0.3, 3))]
    values = np.array([value for group in groups for value in group])
    levels = np.zeros((len(values), len(groups)))
    levels[np.arange(len(values)), np.repeat(range(len(groups)), [len(group) for group in groups])] = 1
    weights = levels.sum(axis=0) / len(values)
    expected = sm.OLS(values, levels).fit().t_test(weights)
    low, high = expected.conf_int(alpha=0.1)[0]
    found = some(strata_interval(groups))
    assert found.middle == pytest.approx(float(expected.effect[0]))
    assert (found.low, found.high) == pytest.approx((low, high))


def test_nothing_is_known_from_one_value_a_group() -> None:
    assert strata_interval([[0.3]]) is None
    assert strata_interval([[0.3], [0.1], []]) is None


def test_rounds_that_agree_to_the_millisecond_are_not_taken_for_sure() -> None:
    bare, careful = (some(strata_interval([[0.01] * 4], least_variance=variance)) for variance in (0.0, 0.02**2))
    assert bare.is_told
    assert not careful.is_told
    assert careful.high - careful.middle == pytest.approx(t_reach(3, 0.9) * 0.01)


def test_the_interval_holds_its_share_of_athletes_who_did_not_change() -> None:
    dice = Random(8)
    called = 0
    for _ in range(2000):
        found = strata_interval([[dice.gauss(0, 0.05) for _ in range(5)] for _ in range(3)])
        called += found is not None and found.is_told
    # 10 % of 2000 are 200, with a standard deviation of 13.
    assert 146 < called < 254


def test_a_share_has_the_wilson_interval_of_statsmodels() -> None:
    counts = ((0, 1), (1, 1), (1, 3), (0, 10), (7, 10), (10, 10), (73, 100), (500, 20_000))
    for (count, of), share in product(counts, (0.8, 0.9)):
        low, high = proportion_confint(count, of, alpha=1 - share, method="wilson")
        found = wilson(count, of, share)
        assert found.middle == count / of
        assert (found.low, found.high) == pytest.approx((low, high), abs=1e-12)


def test_a_trend_is_kendalls_and_sens() -> None:
    dice = Random(3)
    days = sorted(dice.sample(range(300), 25))
    values = [0.002 * day + dice.gauss(0, 0.2) for day in days]
    found = some(over_time([list(zip(days, values, strict=True))]))
    slope = stats.theilslopes(values, days).slope
    assert found.change == pytest.approx(slope * (days[-1] - days[0]))
    # The same normal approximation, but for the continuity correction of one, which makes p a little larger.
    p = stats.kendalltau(days, values, method="asymptotic").pvalue
    assert p < found.p < 1.5 * p
    assert found.is_told
    assert (found.days, found.n) == (days[-1] - days[0], 25)


def test_series_are_compared_within_themselves() -> None:
    # Each rises; the second lies lower and comes later, so that together they would seem to fall.
    high, low = [(day, 5.0 + day / 100) for day in range(0, 60, 10)], [(day, day / 100) for day in range(60, 120, 10)]
    found = some(over_time([high, low]))
    assert found.change == pytest.approx(1.1)
    assert found.is_told
    alone = some(over_time([high + low]))
    assert alone.change < 0


def test_the_slope_within_seasons_is_scipys() -> None:
    dice = Random(4)
    table = np.array([[0.3 * year + season + dice.gauss(0, 1) for season in range(3)] for year in range(12)])
    _, expected = stats.mstats.sen_seasonal_slopes(table)
    found = some(over_time([[(year, float(table[year, season])) for year in range(12)] for season in range(3)]))
    assert found.change == pytest.approx(float(expected) * 11)


def test_one_day_has_no_trend() -> None:
    assert over_time([[(5, 1.0), (5, 2.0)]]) is None
    assert over_time([]) is None
