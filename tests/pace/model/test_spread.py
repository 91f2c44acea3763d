"""How a number to come is spread, against scipy's distributions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate
from scipy import stats as reference

from floorclock.pace.model.spread import NORMAL, Nodes, Spread, reaches, t_nodes, unders

scales = st.floats(0.001, 1.0)


class TestNormal:
    @pytest.mark.parametrize("share", [0.001, 0.1, 0.5, 0.9, 0.975, 0.9999])
    def test_a_normal_has_the_quantiles_of_a_normal(self, share: float) -> None:
        spread = Spread(3.6, 0.03**2, 0.04)
        assert spread.nodes == NORMAL
        assert spread.quantile(share) == pytest.approx(reference.norm.ppf(share, 3.6, 0.05), abs=1e-9)

    @pytest.mark.parametrize("value", [3.0, 3.55, 3.6, 3.65, 4.0])
    def test_a_normal_has_the_shares_of_a_normal(self, value: float) -> None:
        assert Spread(3.6, 0.0025, 0).below(value) == pytest.approx(reference.norm.cdf(value, 3.6, 0.05), abs=1e-12)


class TestStudent:
    @pytest.mark.parametrize(("freedom", "off"), [(3.0, 0.004), (4.0, 0.002), (5.0, 0.001), (8.0, 0.0005), (30.0, 0.0001)])
    def test_the_mixture_is_students_t(self, freedom: float, off: float) -> None:
        spread = Spread(0, 0, 1, t_nodes(freedom))
        for value in np.linspace(-4, 4, 33):
            assert spread.below(float(value)) == pytest.approx(reference.t.cdf(value, freedom), abs=off)

    @pytest.mark.parametrize("freedom", [3.0, 5.0, 12.0])
    def test_shares_and_precisions_are_those_of_the_gamma_distribution(self, freedom: float) -> None:
        nodes = t_nodes(freedom)
        gamma = reference.gamma(freedom / 2, scale=2 / freedom)
        for power in range(4):
            assert math.fsum(share * precision**power for share, precision in nodes) == pytest.approx(
                gamma.moment(power), rel=0.002
            )

    def test_a_t_and_a_normal_add_up(self) -> None:
        """Against the integral of one distribution function over the density of the other."""
        spread = Spread(0, 0.8**2, 1, t_nodes(5))
        for value in (-2.0, 0.3, 1.0, 2.5):
            expected, _ = integrate.quad(lambda u, v=value: reference.t.cdf(v - u, 5) * reference.norm.pdf(u, 0, 0.8), -8, 8)
            assert spread.below(value) == pytest.approx(expected, abs=5e-4)

    def test_without_end_of_freedom_it_is_a_normal(self) -> None:
        assert t_nodes(math.inf) == NORMAL


class TestTableOfShares:
    @pytest.mark.parametrize("nodes", [NORMAL, t_nodes(3), t_nodes(5), t_nodes(30)])
    def test_it_has_the_same_shares(self, nodes: Nodes) -> None:
        variance, off = np.meshgrid(np.linspace(0, 1, 41), np.append(np.linspace(-6, 6, 121) + 0.007, [-40, 40, 0]))
        variance, off = variance.ravel() * 0.01, off.ravel() * 0.1
        scale = np.sqrt(0.01 - variance)
        many = unders(off, variance, scale, nodes)
        for at, (value, part, chance) in enumerate(zip(off.tolist(), variance.tolist(), scale.tolist(), strict=True)):
            spread = Spread(3.6, part, chance, nodes)
            assert spread.under(3.6 + value) == pytest.approx(spread.below(3.6 + value), abs=1e-4)
            assert many[at] == pytest.approx(spread.under(3.6 + value), abs=1e-9)

    @given(st.floats(0, 1), scales, st.floats(-9, 9), st.floats(0, 1))
    def test_more_cases_are_under_a_larger_value(self, variance: float, scale: float, value: float, more: float) -> None:
        spread = Spread(0, variance, scale, t_nodes(5))
        assert 0 <= spread.under(value) <= spread.under(value + more) + 1e-12 <= 1 + 2e-12

    def test_a_t_and_a_normal_add_up_as_scipy_has_it(self) -> None:
        spread = Spread(0, 0.8**2, 1, t_nodes(5))
        expected, _ = integrate.quad(lambda u: reference.t.cdf(1.3 - u, 5) * reference.norm.pdf(u, 0, 0.8), -8, 8)
        assert spread.under(1.3) == pytest.approx(expected, abs=5e-4)

    def test_what_is_certain_has_no_width_there_either(self) -> None:
        assert Spread(3.6, 0, 0).under(3.5) == 0
        assert Spread(3.6, 0, 0).under(3.7) == 1


class TestQuantiles:
    @given(st.floats(-5, 5), st.floats(0, 1), scales, st.floats(1e-4, 1 - 1e-4))
    def test_so_many_cases_are_under_a_quantile(self, centre: float, variance: float, scale: float, share: float) -> None:
        spread = Spread(centre, variance, scale, t_nodes(5))
        assert spread.below(spread.quantile(share)) == pytest.approx(share, abs=1e-7)

    @given(st.floats(0, 1), scales, st.floats(0.5, 0.999))
    def test_it_is_symmetric(self, variance: float, scale: float, share: float) -> None:
        spread = Spread(0, variance, scale, t_nodes(5))
        assert spread.quantile(1 - share) == pytest.approx(-spread.quantile(share), abs=1e-9)

    def test_what_is_certain_has_no_width(self) -> None:
        certain = Spread(3.6, 0, 0)
        assert certain.quantile(0.9) == pytest.approx(3.6)
        assert certain.below(3.5) == 0
        assert certain.below(3.7) == 1

    @pytest.mark.parametrize("nodes", [NORMAL, t_nodes(3), t_nodes(5), t_nodes(30)])
    @pytest.mark.parametrize("share", [0.6, 0.9, 0.95, 0.999])
    def test_the_table_has_the_same_quantiles(self, nodes: Nodes, share: float) -> None:
        variance, scale = np.append(np.linspace(0, 0.01, 97), [1.0, 1e-9]), np.append(np.full(97, 0.04), [0.001, 1.0])
        many = reaches(variance, scale, nodes, share)
        for at, (part, chance) in enumerate(zip(variance, scale, strict=True)):
            spread = Spread(3.6, float(part), float(chance), nodes)
            assert spread.reach(share) == pytest.approx(spread.quantile(share) - 3.6, rel=1e-5)
            assert many[at] == pytest.approx(spread.reach(share), rel=1e-12)

    def test_the_table_of_a_normal_is_that_of_a_normal(self) -> None:
        assert Spread(0, 0.03**2, 0.04).reach(0.9) == pytest.approx(reference.norm.ppf(0.9, 0, 0.05), rel=1e-8)
        assert Spread(0, 0, 0).reach(0.9) == 0
        assert Spread(0, 1, 1).reach(0.5) == 0

    @pytest.mark.parametrize("share", [0.0, 1.0, -0.1, 1.1])
    def test_there_is_no_quantile_for_everything_or_nothing(self, share: float) -> None:
        with pytest.raises(ValueError, match="between 0 and 1"):
            Spread(0, 1, 1).quantile(share)

    def test_moving_it_makes_it_less_sure(self) -> None:
        moved = Spread(0, 0.01, 0.1, t_nodes(5)).moved(0.5, 0.03)
        assert moved.centre == 0.5
        assert moved.variance == pytest.approx(0.04)
        assert moved.scale == 0.1
