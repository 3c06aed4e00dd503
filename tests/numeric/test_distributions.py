"""Quantiles and tails against scipy.stats."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special, stats

from trackspread.numeric import distributions

P = np.array([1e-6, 0.025, 0.3, 0.5, 0.975, 1 - 1e-6])
DOF = np.array([0.4, 1.0, 2.5, 9.0, 200.0])


@pytest.mark.parametrize("dof", DOF)
def test_chi_square(dof: float) -> None:
    np.testing.assert_allclose(distributions.chi2_quantile(P, dof), stats.chi2.ppf(P, dof), rtol=1e-9)
    x = np.array([0.01, 0.5, 3.0, 40.0])
    np.testing.assert_allclose(distributions.chi2_below(x, dof), stats.chi2.cdf(x, dof), rtol=1e-9)


@pytest.mark.parametrize("dof", [1.0, 2.5, 9.0, 200.0, 1e6])
def test_student_s_t(dof: float) -> None:
    np.testing.assert_allclose(distributions.t_quantile(P, dof), stats.t.ppf(P, dof), rtol=1e-6, atol=1e-12)


def test_a_mixture_of_student_s_t() -> None:
    """scipy.stats.t, with scales from a tenth to hundreds and degrees of freedom that differ."""
    weight, centre, scale = np.array([0.9, 0.1]), np.array([1.0, 40.0]), np.array([0.1, 200.0])
    for dof in (3.0, np.array([1.0, 50.0])):
        at = distributions.t_mixture_quantile(P, weight, centre, scale, dof)
        below = stats.t.cdf(at[:, None], dof, loc=centre, scale=scale) @ weight
        np.testing.assert_allclose(below, P, rtol=1e-7, atol=1e-12)


def test_a_mixture_of_one_is_that_one() -> None:
    one = np.ones(1)
    found = distributions.t_mixture_quantile(P, one, 2.0 * one, 3.0 * one, 4.0)
    np.testing.assert_allclose(found, stats.t.ppf(P, 4.0, loc=2.0, scale=3.0), rtol=1e-6)


@pytest.mark.parametrize(("above", "below"), [(3.0, 3.0), (2.5, 9.0), (40.0, 1.5)])
def test_fisher_s_f(above: float, below: float) -> None:
    p = P[1:-1]
    np.testing.assert_allclose(
        distributions.f_quantile(p, above, below), stats.f.ppf(p, above, below), rtol=1e-7
    )


def test_the_normal_and_the_coin() -> None:
    x = np.array([-3.0, 0.0, 1.96, 9.0])
    np.testing.assert_allclose(distributions.normal_above(x), stats.norm.sf(x), rtol=1e-9)
    k = np.arange(11.0)
    np.testing.assert_allclose(distributions.coin_at_most(k, 10), stats.binom.cdf(k, 10, 0.5), rtol=1e-12)


@pytest.mark.parametrize("shift", [0.0, 1.5, 4.0])
def test_the_noncentral_t(shift: float) -> None:
    x = np.array([-1.0, 0.5, 2.8, 7.0])
    np.testing.assert_allclose(
        distributions.noncentral_t_above(x, 5.0, shift), stats.nct.sf(x, 5.0, shift), rtol=1e-6, atol=1e-9
    )


def test_the_noncentral_t_lost_in_its_tail_is_all() -> None:
    """Where scipy's series gives up (NaN) the shift is tens of standard deviations beyond."""
    x, dof, shift = np.array([2.0, -5.0, -100.0]), np.array([50.0, 5.0, 1.0]), np.array([40.0, 38.0, 60.0])
    assert np.isnan(special.nctdtr(dof, shift, x)).all()
    np.testing.assert_array_equal(distributions.noncentral_t_above(x, dof, shift), 1.0)
