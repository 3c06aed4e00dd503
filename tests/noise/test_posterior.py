"""The posterior of a standard deviation: against scipy's distributions, by laws, and by how often it holds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import linalg, stats
from scipy.optimize import brentq

from polylines import gauss_markov
from trackspread.noise.gauss_markov import LENGTH_UNIT_M, grid
from trackspread.noise.posterior import MOST_STATIONS, Posterior, independent, posterior

few = settings(max_examples=15, deadline=None, derandomize=True)
STEP_M = 5.0


def correlation(size: int, step_m: float) -> np.ndarray:
    """Return the correlation matrix of stations of a straight line under every kind, (K, S, S)."""
    apart = step_m * np.abs(np.subtract.outer(np.arange(size), np.arange(size)))
    return grid().correlation(apart.ravel() / LENGTH_UNIT_M).reshape(-1, size, size)


def residuals(seed: int, rides: int, size: int, length_m: float, sd_m: float = 1.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    errors = sd_m * gauss_markov(rng, rides, size, STEP_M, length_m)
    return errors - errors.mean(axis=0)


def sds(found: Posterior, shares: np.ndarray) -> np.ndarray:
    """Standard deviations below which shares of the posterior lie: square / chi-square, mixed, by scipy."""
    some = found.weight > 1e-7 * found.weight.max()
    square, dof = found.square_m2[some, None], found.dof[some, None]
    variance = np.geomspace(
        (square / stats.chi2.ppf(1 - 1e-9, dof)).min(), (square / stats.chi2.ppf(1e-6, dof)).max(), 1000
    )
    below = found.weight[some] / found.weight[some].sum() @ stats.chi2.sf(square / variance, dof)
    return np.sqrt(np.exp(np.interp(shares, below, np.log(variance))))


def sd(found: Posterior, share: float) -> float:
    return float(sds(found, np.array([share]))[0])


def straight(values: np.ndarray) -> Posterior:
    return posterior(values, np.zeros(values.shape[1]), STEP_M, (len(values) - 1.0) / len(values))


# --- against scipy ----------------------------------------------------------------------------------


def test_quantiles_are_those_of_a_mixture_of_inverse_gammas() -> None:
    """scipy.stats.invgamma: v = Q / chi-square(n) is inverse gamma with shape n / 2 and scale Q / 2."""
    weight, square, dof = np.array([0.3, 0.7]), np.array([4.0, 90.0]), np.array([6.0, 9.0])
    found = Posterior(weight=weight, square_m2=square, dof=dof)

    def below(variance: float) -> float:
        return float(weight @ stats.invgamma.cdf(variance, dof / 2, scale=square / 2))

    for share in (0.025, 0.5, 0.975):
        assert sd(found, share) ** 2 == pytest.approx(
            brentq(lambda v, share=share: below(v) - share, 1e-3, 1e4), rel=1e-3
        )


@pytest.mark.parametrize("slope", [False, True])
def test_a_level_or_a_slope_is_taken_off_by_generalised_least_squares(slope: bool) -> None:
    """numpy: what is left of y beside a column of ones or x, both whitened by the Cholesky factor of R."""
    rng = np.random.default_rng(6)
    values = 3.0 + rng.normal(size=(2, 12))
    values[1, 3:6] = np.nan
    about = rng.normal(size=(2, 12)) if slope else np.ones((2, 12))
    found = posterior(values, np.zeros(12), 50.0, about=about)
    covariance = correlation(12, 50.0) + 1e-6 * np.eye(12)
    assert found.dof[100] == 20.0
    for k in (0, 70, 140):
        whitened = []
        for row, column in zip(values, about, strict=True):
            m = np.isfinite(row)
            lower = np.linalg.cholesky(covariance[k][np.ix_(m, m)])
            whitened.append(np.linalg.solve(lower, np.stack([column[m], row[m]], axis=1)))
        both = np.concatenate(whitened)
        left = np.linalg.lstsq(both[:, :1], both[:, 1], rcond=None)[1]
        assert found.square_m2[k] == pytest.approx(float(left[0]), rel=1e-6)


def test_beside_a_slope_candidates_weigh_as_the_error_contrasts_have_it() -> None:
    """Restricted likelihood is that of contrasts without the slope (Harville 1974, Biometrika 61:383).

    With A of scipy.linalg.null_space, A'x = 0: |A'RA|^(-1/2) (y'A (A'RA)^-1 A'y)^(-(n - 1) / 2), by numpy.
    """
    rng = np.random.default_rng(11)
    values, about = rng.normal(size=(2, 1, 14))
    found = posterior(values, np.zeros(14), 60.0, about=about)
    covariance = correlation(14, 60.0)
    free = linalg.null_space(about)
    inner = free.T @ (covariance + 1e-6 * np.eye(14)) @ free
    left = values[0] @ free
    square = np.einsum("i,kij,j->k", left, np.linalg.inv(inner), left)
    likely = -0.5 * np.linalg.slogdet(inner)[1] - 6.5 * np.log(square)
    share = np.exp(likely * 20.0 / 21.0) * grid().prior
    share = np.tile(share / share.sum() / 2, 2)
    assert found.weight == pytest.approx(share, rel=1e-5)
    assert share.max() > 30 * np.median(share)


def test_errors_are_those_of_a_mixture_of_student_s() -> None:
    """scipy.stats.t with scale sqrt(share Q / n), mixed by weight; as far below 0 as above."""
    found = Posterior(weight=np.array([0.3, 0.7]), square_m2=np.array([4.0, 90.0]), dof=np.full(2, 6.0))
    share = np.array([0.5, 0.1])
    scale = np.sqrt(share * found.square_m2 / 6.0)
    shares = np.array([0.01, 0.3, 0.5, 0.7, 0.99])
    error = found.error(share, shares)
    assert stats.t.cdf(error[:, None], 6.0, scale=scale) @ found.weight == pytest.approx(shares, abs=1e-4)
    assert error[2] == pytest.approx(0.0, abs=1e-12)
    assert error[::-1] == pytest.approx(-error)


def test_what_is_nearly_impossible_does_not_count() -> None:
    """A candidate of weight 1e-9 with errors a million times larger changes no quantile by more than 0.1 %."""
    one = Posterior(weight=np.array([1.0]), square_m2=np.array([4.0]), dof=np.array([6.0]))
    other = Posterior(weight=np.array([1.0, 1e-9]), square_m2=np.array([4.0, 4e12]), dof=np.full(2, 6.0))
    shares = np.array([0.025, 0.5, 0.975])
    assert sds(other, shares) == pytest.approx(sds(one, shares), rel=1e-3)
    assert other.error(np.ones(2), shares) == pytest.approx(one.error(np.ones(1), shares), rel=1e-3)


def test_what_the_impossible_had_goes_to_the_rest() -> None:
    """A million candidates that hold half of the weight between them, each next to none."""
    weight = np.append(0.5, np.full(1_000_000, 5e-7))
    square = np.append(4.0, np.full(1_000_000, 1e6))
    found = Posterior(weight=weight, square_m2=square, dof=np.full(1_000_001, 6.0))
    ends = np.sqrt(4.0 / 6.0) * stats.t.ppf([0.025, 0.9, 0.975], 6.0)
    assert found.error(np.ones(1_000_001), np.array([0.025, 0.9, 0.975])) == pytest.approx(ends, rel=1e-3)


@pytest.mark.parametrize("about", [None, np.zeros((2, 30))])
def test_series_of_nothing_have_no_spread(about: np.ndarray | None) -> None:
    found = posterior(np.zeros((2, 30)), np.zeros(30), STEP_M, about=about)
    assert sd(found, 0.975) < 1e-5


def test_worth_of_first_order_processes() -> None:
    """n / (1 + 2 sum (1 - k/n) r_k), Bayley & Hammersley (1946), with r_k = rho_k^2, worked out here."""
    k = np.arange(1, 100)
    found = independent(np.ones((1, 100), dtype=bool), np.zeros(100), 25.0)
    rho = grid().correlation(25.0 * k / LENGTH_UNIT_M)
    by_hand = 100 / (1 + 2 * np.sum((1 - k / 100) * rho**2, axis=1))
    assert found == pytest.approx(np.tile(by_hand, 2))
    rides = independent(np.ones((7, 100), dtype=bool), np.zeros(100), 25.0)
    assert rides == pytest.approx(7 * found)


def test_worth_of_errors_that_turn_and_of_gaps() -> None:
    """On two legs of a right angle errors of the earth are twice what they are on one, alike over far more."""
    known = np.ones((2, 100), dtype=bool)
    known[1, 50:] = False
    heading = np.where(np.arange(100) < 50, 0.0, np.pi / 2)
    half = len(grid().prior)
    longest = int(np.flatnonzero(grid().quick == 7)[0])
    one = independent(np.ones((1, 100), dtype=bool), heading, 0.01)
    assert (one[longest], one[half + longest]) == pytest.approx((2.0, 1.0), rel=1e-3)
    two = independent(known, heading, 25.0)
    assert (two > independent(known[:1], heading, 25.0)).all()


def test_of_many_stations_even_pairs_are_asked() -> None:
    """1000 stations 100 m apart: 32 pairs of neighbours along all of them, N = 2 * 64 (NIST/SEMATECH 7.2.3.1)."""
    rng = np.random.default_rng(9)
    values = rng.normal(size=(3, 1000))
    values -= values.mean(axis=0)
    assert posterior(values, np.zeros(1000), 100.0, 2 / 3).dof == pytest.approx(2.0 * MOST_STATIONS)
    gone = values.copy()
    gone[:, np.round(np.linspace(0, 998, 32)).astype(int)] = np.nan
    gone[:, np.round(np.linspace(0, 998, 32)).astype(int) + 1] = np.nan
    assert posterior(gone[:, :999], np.zeros(999), 100.0, 2 / 3).dof.max() < 2.0 * MOST_STATIONS


def test_independent_errors_give_the_interval_by_chi_square() -> None:
    """Stations 2 km apart with white errors: N = (rides - 1) stations (NIST/SEMATECH 7.2.3.1)."""
    rng = np.random.default_rng(5)
    errors = rng.normal(size=(5, 30))
    values = errors - errors.mean(axis=0)
    found = posterior(values, np.zeros(30), 2000.0, 0.8)
    square = float(np.sum(values**2))
    for share in (0.025, 0.975):
        expected = np.sqrt(square / stats.chi2.ppf(1 - share, 120))
        assert sd(found, share) == pytest.approx(expected, rel=0.06)


# --- laws -------------------------------------------------------------------------------------------


@few
@given(st.integers(0, 10_000), st.floats(0.01, 100.0))
def test_twice_the_errors_twice_the_interval(seed: int, factor: float) -> None:
    values = residuals(seed, 4, 90, 200.0)
    one, other = straight(values), straight(factor * values)
    assert other.weight == pytest.approx(one.weight, abs=1e-9)
    assert sd(other, 0.975) == pytest.approx(factor * sd(one, 0.975), rel=1e-6)


@few
@given(st.integers(0, 10_000), st.floats(-3.0, 3.0))
@pytest.mark.slow
def test_order_of_rides_and_turning_of_the_route_change_nothing(seed: int, turn: float) -> None:
    rng = np.random.default_rng(seed)
    values = residuals(seed, 4, 90, 200.0)
    values[1, 20:40] = np.nan
    heading = np.cumsum(rng.normal(0, 0.1, 90))
    one = posterior(values, heading, STEP_M, 0.75)
    other = posterior(values[::-1], heading + turn, STEP_M, 0.75)
    assert sd(other, 0.975) == pytest.approx(sd(one, 0.975), rel=1e-6)
    assert sd(other, 0.025) == pytest.approx(sd(one, 0.025), rel=1e-6)


def test_stations_without_data_do_not_count() -> None:
    values = residuals(3, 4, 60, 200.0)
    longer = np.full((4, 70), np.nan)
    longer[:, 4:64] = values
    assert sd(straight(longer), 0.9) == pytest.approx(sd(straight(values), 0.9), rel=1e-12)


def test_rides_without_data_do_not_count() -> None:
    values = residuals(12, 3, 60, 200.0)
    one = posterior(values, np.zeros(60), STEP_M, 0.75)
    other = posterior(np.vstack([values, np.full(60, np.nan)]), np.zeros(60), STEP_M, 0.75)
    assert (other.weight, other.square_m2) == (pytest.approx(one.weight), pytest.approx(one.square_m2))


def test_noise_from_point_to_point_is_told_from_errors_that_last() -> None:
    """Ten rides of 3 km, errors alike over 5 km and 1 % of noise: 60 routes, standard error 0.028.

    Where shares of 5 % and 1 % stood side by side the variance was taken as half or twice what it is, and the
    interval held in three of four.
    """
    inside = []
    for seed in range(60):
        rng = np.random.default_rng(1000 + seed)
        noise = 0.1 * rng.normal(size=(10, 600))
        found = straight(residuals(seed, 10, 600, 5000.0) + noise - noise.mean(axis=0))
        inside.append(sd(found, 0.025) <= 1.0 <= sd(found, 0.975))
    assert np.mean(inside) >= 0.87


# --- the correlation --------------------------------------------------------------------------------


@pytest.mark.parametrize("length_m", [60.0, 400.0, 2000.0])
def test_it_finds_the_length_of_a_gauss_markov_process(length_m: float) -> None:
    """Many traces over a long route: exp(-d / length) comes back to half a step of the grid, a factor of 3, with a gap too."""
    values = gauss_markov(np.random.default_rng(int(length_m)), 40, 3000, 5.0, length_m)
    values[:, 500:620] = np.nan
    rho = posterior(values, np.zeros(3000), 5.0).correlation(np.zeros(3000), 5.0)
    lag = 5.0 * np.arange(1200)
    np.testing.assert_allclose(rho.by_lag[:1200], np.exp(-lag / length_m), atol=0.12)
    assert 3.0**-0.5 < rho.length_m() / length_m < 3.0**0.5


@few
@given(st.integers(0, 10_000), st.integers(2, 400), st.integers(1, 6))
def test_any_correlation_falls_from_one(seed: int, size: int, rows: int) -> None:
    values = np.random.default_rng(seed).standard_normal((rows, size))
    rho = posterior(values, np.zeros(size), 5.0).correlation(np.zeros(size), 5.0).by_lag
    assert rho[0] == pytest.approx(1.0)
    assert (np.diff(rho) < 0.0).all()
    assert rho.min() >= 0.0


def test_without_residuals_the_prior_speaks() -> None:
    rho = posterior(np.full((2, 800), np.nan), np.zeros(800), 5.0).correlation(np.zeros(800), 5.0)
    prior = grid().prior @ grid().correlation(5.0 * np.arange(800) / LENGTH_UNIT_M)
    assert rho.by_lag == pytest.approx(prior)


@pytest.mark.parametrize("earth_fixed", [True, False])
def test_errors_of_the_earth_give_a_correlation_that_turns(earth_fixed: bool) -> None:
    rng = np.random.default_rng(8)
    heading = np.repeat(np.tile([0.0, np.pi / 2, np.pi, np.pi / 2], 5), 40)
    east, north = (gauss_markov(rng, 12, 800, 5.0, 1500.0) for _ in range(2))
    across = east * np.sin(heading) - north * np.cos(heading) if earth_fixed else east
    rho = posterior(across, heading, 5.0).correlation(heading, 5.0)
    assert rho.turning is earth_fixed
    assert rho.at(500.0) == pytest.approx(np.exp(-1 / 3), abs=0.12)


# --- what it tells ----------------------------------------------------------------------------------


def test_errors_that_keep_their_direction_on_the_earth_are_told_from_those_that_keep_to_the_line() -> None:
    """On a circle an error that points one way changes its side; half of the weights are of each kind."""
    heading = np.linspace(0.0, 4 * np.pi, 200)
    rng = np.random.default_rng(8)
    east, north = rng.normal(size=(2, 6, 1))
    earth = north * np.cos(heading) - east * np.sin(heading)
    line = rng.normal(size=(6, 1)) + 0.0 * heading
    for values, first in ((earth, True), (line, False)):
        noisy = values + 0.1 * rng.normal(size=values.shape)
        found = posterior(noisy - noisy.mean(axis=0), heading, STEP_M, 5 / 6)
        half = len(found.weight) // 2
        assert (found.weight[:half].sum() > 0.99) == first


@pytest.mark.slow
@pytest.mark.parametrize(("rides", "length_m"), [(3, 100.0), (3, 5000.0), (6, 1500.0)])
def test_the_interval_holds_as_often_as_it_says(rides: int, length_m: float) -> None:
    """60 routes of 3 km with sigma 1; the Monte Carlo standard error is 0.028."""
    inside = []
    for seed in range(60):
        found = straight(residuals(seed, rides, 600, length_m))
        inside.append(sd(found, 0.025) <= 1.0 <= sd(found, 0.975))
    assert np.mean(inside) >= 0.87


def test_it_is_wide_where_little_is_known_and_narrow_where_much_is() -> None:
    """Short errors from ten rides are known better than short from three, those better than long from three."""

    def width(rides: int, length_m: float) -> float:
        found = straight(residuals(1, rides, 600, length_m))
        return float(np.log(sd(found, 0.975) / sd(found, 0.025)))

    assert width(10, 60.0) < 0.3 < width(3, 60.0) < width(3, 5000.0)
