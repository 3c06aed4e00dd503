"""The standard deviation over rides, against the chi-square interval and by coverage under unequal rides."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from trackspread.statistics.ride_spread import sd_posterior


def sd_ends(square: np.ndarray, dof: float) -> np.ndarray:
    found = sd_posterior(square, np.full(len(square), dof))
    assert found is not None
    return found.quantile(np.array([0.025, 0.975]))


def test_equal_rides_of_many_values_give_the_chi_square_interval() -> None:
    """s sqrt(dof / chi-square) (NIST/SEMATECH e-Handbook 7.2.3.1), a little wider: rides may be unequal."""
    square = np.random.default_rng(3).chisquare(20, 60) / 20
    ends, usual = sd_ends(square, 20.0), np.sqrt(1200 * square.mean() / stats.chi2.ppf([0.975, 0.025], 1200))
    assert ends == pytest.approx(usual, rel=0.04)
    assert ends[0] <= usual[0] < usual[1] <= ends[1]


def test_no_ride_no_figure() -> None:
    assert sd_posterior(np.zeros(0), np.zeros(0)) is None


@pytest.mark.parametrize("unequal", [0.0, 0.8])
def test_intervals_hold_the_sd_of_four_rides(unequal: float) -> None:
    """Mean squares of 8 values a ride, whose power varies by a log-normal factor between rides."""
    random = np.random.default_rng(11)
    held = 0
    for _ in range(300):
        power = np.exp(unequal * random.standard_normal(4) - unequal**2 / 2)
        low, high = sd_ends(power * random.chisquare(8, 4) / 8, 8.0)
        held += low <= 1.0 <= high
    assert held / 300 >= 0.93


def test_the_posterior_is_that_of_the_integral() -> None:
    """The median against a plain double integral by scipy.integrate over tau and the quality of one ride each."""
    square = np.array([0.6, 1.1, 2.9, 0.9])
    spread = 0.6
    found = sd_posterior(square, np.full(4, np.exp(2.0)))
    assert found is not None
    tau = np.linspace(0.01, 2.7, 120)
    z = np.linspace(-6.0, 6.0, 301)
    log_sd = np.linspace(-2.0, 2.0, 161)
    posterior = np.zeros(len(log_sd))
    for t in tau:
        power = np.exp(t * z - t**2 / 2)
        each = [
            integrate.trapezoid(
                stats.norm.pdf(z)
                * stats.chi2.pdf(np.exp(2.0) * one / (np.exp(2 * log_sd)[:, None] * power), np.exp(2.0))
                / (np.exp(2 * log_sd)[:, None] * power),
                z,
                axis=1,
            )
            for one in square
        ]
        posterior += t**2 * np.exp(-0.5 * (t / spread) ** 2) * np.prod(each, axis=0)
    below = np.cumsum(posterior) / posterior.sum()
    for share in (0.025, 0.5, 0.975):
        asked = float(np.exp(np.interp(share, below, log_sd + 0.5 * (log_sd[1] - log_sd[0]))))
        assert found.quantile(np.array([share]))[0] == pytest.approx(asked, rel=0.06)
