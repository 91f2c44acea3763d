"""The statistics against published values and against scipy."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as reference
from scipy.stats import mstats

from floorclock.pace.stats import (
    coefficient_of_variation,
    decrement_percent,
    median,
    pairwise_slopes,
    seasonal_kendall,
    theil_sen,
)
from tests.checks.reading import rows
from tests.pace.taps import split

splits_ms = st.lists(st.integers(1_000, 120_000), min_size=3, max_size=12)


def sen_1968() -> tuple[list[int], list[int]]:
    found = rows("sen1968.csv")
    return [int(row["x"]) for row in found], [int(row["y"]) for row in found]


class TestTheilSen:
    def test_sens_worked_example_gives_his_slope_and_intercept(self) -> None:
        assert theil_sen(*sen_1968()) == (4, 6)

    def test_sens_twenty_one_slopes_come_out_in_his_order(self) -> None:
        published = "1 5/2 11/3 26/7 15/4 23/6 59/15 63/16 4 4 4 4 69/17 33/8 29/7 25/6 46/11 35/8 5 5 6"
        assert pairwise_slopes(*sen_1968()) == [float(Fraction(slope)) for slope in published.split()]

    @given(splits_ms)
    def test_agrees_with_scipy(self, values: list[int]) -> None:
        rounds = list(range(1, len(values) + 1))
        slope, intercept = theil_sen(rounds, values)
        assert slope == pytest.approx(reference.theilslopes(values, rounds).slope, rel=1e-12, abs=1e-9)
        # scipy's stubs do not know its method "joint", which is the median of the residuals about zero.
        residuals = np.array(values) - slope * np.array(rounds)
        assert intercept == pytest.approx(float(np.median(residuals)), rel=1e-12, abs=1e-6)

    def test_too_little_is_refused(self) -> None:
        for x, y in (([], []), ([1], [2]), ([3, 3], [1, 2]), ([1, 2], [1, 2, 3])):
            with pytest.raises(ValueError, match=r"slope|longer|shorter"):
                theil_sen(x, y)


class TestSpread:
    @given(splits_ms)
    def test_the_spread_agrees_with_scipys_sample_variation(self, values: list[int]) -> None:
        assert coefficient_of_variation(values) == pytest.approx(
            100 * float(reference.variation(values, ddof=1)), rel=1e-9, abs=1e-9
        )

    def test_a_spread_or_a_median_of_nothing_is_refused(self) -> None:
        for values in ([], [5], [0, 0], [-1, -2]):
            with pytest.raises(ValueError, match="a spread"):
                coefficient_of_variation(values)
        with pytest.raises(ValueError, match="median"):
            median([])

    @given(st.lists(st.integers(-1000, 1000), min_size=1))
    def test_the_median_agrees_with_numpy(self, values: list[int]) -> None:
        assert median(values) == float(np.median(values))


class TestDecrement:
    def test_the_published_formula_for_any_splits(self) -> None:
        formula = next(row["value"] for row in rows("pacing.csv") if row["item"] == "decrement formula")
        splits = [4.16, 4.20, 4.26, 4.31, 4.35, 4.42]
        total, best, n = sum(splits), min(splits), len(splits)
        assert formula == "100*total/(best*n) - 100"
        by_formula = 100 * total / (best * n) - 100
        assert by_formula == pytest.approx(2.964743589)
        assert decrement_percent(splits) == pytest.approx(by_formula)

    @given(splits_ms)
    def test_it_is_never_negative_and_knows_no_order(self, values: list[int]) -> None:
        assert decrement_percent(values) == pytest.approx(decrement_percent(values[::-1]), abs=1e-9)
        assert decrement_percent(values) >= -1e-9

    def test_the_published_send_off_leaves_what_it_says(self) -> None:
        (row,) = rows("sendoff.csv")
        first, last = Fraction(row["effort_first_s"]), Fraction(row["effort_last_s"])
        for effort_s, margin_s in ((first, row["margin_first_s"]), (last, row["margin_last_s"])):
            taken = replace(split(0), window_ms=1000 * int(row["cycle_s"]), split_ms=int(1000 * effort_s))
            assert taken.rest_ms == 1000 * Fraction(margin_s)
        assert 100 * (last - first) / first == pytest.approx(float(row["pct_change_first_last"]))

    def test_nonsense_is_refused(self) -> None:
        for splits in ([], [0, 1], [-1]):
            with pytest.raises(ValueError, match="decrement"):
                decrement_percent(splits)


class TestSeasonalKendall:
    def test_one_series_agrees_with_scipys_tau(self) -> None:
        values = [31, 30, 33, 35, 34, 38, 36]
        trend = seasonal_kendall([values])
        tau = reference.kendalltau(range(7), values)
        assert trend.statistic == pytest.approx(tau.statistic * 21)
        asymptotic = reference.kendalltau(range(7), values, method="asymptotic").pvalue
        assert 2 * reference.norm.sf(trend.statistic / trend.variance**0.5) == pytest.approx(asymptotic)

    @given(st.lists(st.integers(1, 6), min_size=4, max_size=9).filter(lambda values: len(set(values)) > 1))
    def test_the_tie_correction_agrees_with_scipys_asymptotic_test(self, values: list[int]) -> None:
        trend = seasonal_kendall([values])
        asymptotic = reference.kendalltau(range(len(values)), values, method="asymptotic").pvalue
        assert 2 * reference.norm.sf(abs(trend.statistic) / trend.variance**0.5) == pytest.approx(asymptotic)

    @given(st.lists(st.permutations(range(6)), min_size=1, max_size=5))
    def test_stations_pool_as_scipys_seasonal_test_pools_seasons(self, stations: list[list[int]]) -> None:
        trend = seasonal_kendall(stations)
        theirs = mstats.kendalltau_seasonal(np.array(stations).T)["global p-value (indep)"]
        assert 2 * reference.norm.sf(abs(trend.z)) == pytest.approx(min(float(theirs), 1.0))

    def test_nothing_to_compare_is_no_trend(self) -> None:
        nothing: list[list[list[int]]] = [[], [[]], [[5]], [[5], [6], [7]], [[4, 4, 4]]]
        assert [seasonal_kendall(series).z for series in nothing] == [0] * 5
