"""Scales, intervals and correlations against handbooks, certified data sets and published tables.

Each value stands beside its source. Where one is from memory and was recomputed, the docstring says so.
"""

from __future__ import annotations

import math
from importlib.resources import files
from statistics import NormalDist

import numpy as np
import pytest

from trackspread.noise.correlation import lagged
from trackspread.noise.effective import sum_share
from trackspread.numeric.intervals import median_interval, sd_factors
from trackspread.numeric.robust import MAD_TO_SD, bisquare_location, mad_factor, mad_scale
from trackspread.statistics.spread import across_rides, pooled, variance

# NIST StRD "Michelso": 100 measurements of the speed of light, km/s less 299000.
MICHELSON = """
850 740 900 1070 930 850 950 980 980 880 1000 980 930 650 760 810 1000 1000 960 960 960 940 960 940 880
800 850 880 900 840 830 790 810 880 880 830 800 790 760 800 880 880 880 860 720 720 620 860 970 950
880 910 850 870 840 840 850 840 840 840 890 810 810 820 800 770 760 740 750 760 910 920 890 860 880
720 840 850 850 780 890 840 780 810 760 810 790 810 820 850 870 870 810 740 810 940 950 800 810 870
"""
# NIST StRD "Mavro": transmittance, 2.00000 and so many hundred-thousandths.
MAVRO = """
180 170 180 190 180 170 150 140 150 150 170 180 180 190 190 210 200 160 140 130 130 150 150 160 150
140 130 140 150 140 150 160 150 160 190 200 200 210 220 230 240 250 270 260 260 260 270 260 250 240
"""


def michelson() -> np.ndarray:
    return 299 + np.array(MICHELSON.split(), float) / 1000


def mavro() -> np.ndarray:
    return 2 + np.array(MAVRO.split(), float) / 1e5


def numacc(b: float) -> np.ndarray:
    return np.concatenate([[b], np.tile([b - 0.1, b + 0.1], 500)])


@pytest.mark.parametrize(
    ("values", "mean", "sd", "r1", "tolerance"),
    [
        (michelson(), 299.8524, 0.0790105478190518, 0.535199668621283, 1e-12),
        (mavro(), 2.001856, 0.000429123454003053, 0.937989183438248, 1e-9),  # certified values from memory
        (numacc(1_000_000.2), 1_000_000.2, 0.1, -0.999, 1e-6),  # from memory
        (numacc(10_000_000.2), 10_000_000.2, 0.1, -0.999, 1e-6),  # from memory
    ],
    ids=["Michelso", "Mavro", "NumAcc3", "NumAcc4"],
)
def test_nist_certified_autocorrelation(
    values: np.ndarray, mean: float, sd: float, r1: float, tolerance: float
) -> None:
    """NIST StRD univariate data sets: certified lag-1 autocorrelation; the large numbers guard northings.

    NIST's r_k = sum (y_t - m)(y_t+k - m) / sum (y_t - m)^2.
    """
    assert values.mean() == pytest.approx(mean, rel=1e-12)
    assert values.std(ddof=1) == pytest.approx(sd, rel=max(tolerance, 1e-8))
    sums = lagged((values - values.mean())[None, :])
    assert sums[1] / sums[0] == pytest.approx(r1, abs=tolerance)


def effective_size(rho: np.ndarray) -> float:
    """How many independent values have a mean as sure as so many correlated ones."""
    return 1.0 / float(sum_share(np.full((1, len(rho)), 1.0 / len(rho)), np.zeros(len(rho)), rho))


def test_effective_size_of_a_first_order_process() -> None:
    """n / (1 + 2 sum (1 - k/n) r_k), Bayley & Hammersley (1946); AR(1) tends to n (1 - phi) / (1 + phi)."""
    k = np.arange(100)
    assert effective_size(0.9**k) == pytest.approx(5.814, abs=5e-4)
    assert effective_size(0.9 ** np.arange(100_000)) / 100_000 == pytest.approx(0.1 / 1.9, rel=1e-3)
    assert effective_size(np.eye(1, 50)[0]) == pytest.approx(50)


@pytest.mark.parametrize(("tau_s", "worth"), [(10, 180), (60, 30), (300, 6)])
def test_an_hour_of_correlated_error_is_worth_its_length_over_twice_tau(tau_s: float, worth: float) -> None:
    """T / (2 tau) for a densely sampled first-order Gauss-Markov process (common practice), and its ends."""
    rho = np.exp(-np.arange(3600) / tau_s)
    exact = 3600 / (2 * tau_s * (1 - tau_s / 3600 * (1 - math.exp(-3600 / tau_s))))
    assert effective_size(rho) == pytest.approx(exact, rel=2e-3)
    assert effective_size(rho) == pytest.approx(worth, rel=0.1)


@pytest.mark.parametrize(
    ("n", "low", "high"),
    [
        (2, 0.4461, 31.9102), (3, 0.5207, 6.2847), (4, 0.5665, 3.7285), (5, 0.5991, 2.8736),
        (6, 0.6242, 2.4526), (8, 0.6612, 2.0353), (10, 0.6878, 1.8256), (20, 0.7605, 1.4606),
        (30, 0.7964, 1.3443), (100, 0.8780, 1.1617),
    ],
)  # fmt: skip
def test_multipliers_of_a_standard_deviation(n: int, low: float, high: float) -> None:
    """95 % limits of a standard deviation as multiples of it: Boost.Math, example chi_square_std_dev."""
    np.testing.assert_allclose(sd_factors(n - 1, 0.95), (low, high), atol=6e-5)


def test_nist_handbook_intervals_of_a_standard_deviation() -> None:
    """NIST/SEMATECH e-Handbook 7.2.3 (wafers, as Boost.Math quotes it) and 1.3.5.8 (GEAR.DAT)."""
    wafers, gears = 13.97 * np.array(sd_factors(9, 0.95)), 0.006278908 * np.array(sd_factors(99, 0.95))
    np.testing.assert_allclose(wafers, (9.60906, 25.50377), atol=2e-3)
    np.testing.assert_allclose(gears, (0.00551, 0.00729), atol=6e-6)


def test_nist_handbook_pooled_standard_deviation() -> None:
    """NIST/SEMATECH e-Handbook 2.4.4.3: five standard deviations of one degree of freedom pool to 0.0197.

    Here five stations of two rides, which lie apart by sqrt(2) of each standard deviation.
    """
    offset = np.outer([0.0, math.sqrt(2.0)], [0.0223, 0.0027, 0.0289, 0.0133, 0.0205])
    logged, two = np.zeros(offset.shape), np.arange(2)
    found = variance(offset, logged, logged > 0, two, np.zeros(2, int), np.zeros(5), 5.0)
    assert (found.dof == 1.0).all()
    assert pooled(found, 0, 5, 0.95).value == pytest.approx(0.0197, abs=5e-5)


def test_nist_certified_residual_standard_deviation() -> None:
    """NIST StRD, ANOVA data set SiRstv (installed with scipy): certified residual SD 0.104076068334656.

    Within cells: once each cell is a ride of five traces, once a station of five rides.
    """
    text = (files("scipy.stats") / "tests/data/nist_anova/SiRstv.dat").read_text().splitlines()[60:85]
    rows = np.array([line.split() for line in text], float)
    _, within = across_rides(rows[:, 1:], rows[:, 0].astype(int))
    assert math.sqrt(within[0]) == pytest.approx(0.104076068334656, rel=1e-9)
    by_station, _ = across_rides(rows[:, 1].reshape(5, 5).T, np.arange(5))
    assert math.sqrt(by_station.mean()) == pytest.approx(0.104076068334656, rel=1e-9)


@pytest.mark.parametrize(
    ("cells", "repeatability", "reproducibility"),
    [
        (
            "193.71 193.59 193.65 190.88 200.14 194.30 192.71 193.28 190.28 195.85 196.36 199.43 "
            "192.59 191.44 195.12 195.34 198.26 198.13 194.66 191.99 187.13 197.56 195.99 200.82",
            2.6251,
            3.3657,
        ),
        (
            "41.03 41.45 41.37 41.17 42.00 41.15 41.01 40.68 42.66 39.37 42.37 42.63 "
            "41.88 41.19 41.32 43.28 40.50 42.28 41.08 41.27 39.02 43.36 42.65 41.72",
            1.0632,
            1.0632,
        ),
    ],
    ids=["material D", "material A"],
)
def test_astm_e691_repeatability_and_reproducibility(
    cells: str, repeatability: float, reproducibility: float
) -> None:
    """ASTM E691, glucose in serum, eight laboratories by three: s_r, s_R (results from memory, recomputed).

    A laboratory is a ride of three traces. E691 takes s_r for s_R where it comes out smaller.
    """
    across, within = across_rides(np.array(cells.split(), float)[:, None], np.repeat(np.arange(8), 3))
    assert math.sqrt(within[0]) == pytest.approx(repeatability, abs=6e-5)
    assert math.sqrt(max(across[0], within[0])) == pytest.approx(reproducibility, abs=6e-5)


def test_mad_constant() -> None:
    """1 / Phi^-1(3/4) = 1.4826022185056 (Rousseeuw & Croux, JASA 88 (1993) 1273)."""
    assert pytest.approx(1.4826022185056, abs=1e-13) == MAD_TO_SD
    assert pytest.approx(1 / NormalDist().inv_cdf(0.75), rel=1e-12) == MAD_TO_SD


def test_mad_factors_of_croux_and_rousseeuw() -> None:
    """Croux & Rousseeuw, COMPSTAT (1992): b_n for n = 2 … 9, n / (n - 0.8) above."""
    table = [1.196, 1.495, 1.363, 1.206, 1.200, 1.140, 1.129, 1.107, 10 / 9.2, 30 / 29.2]
    np.testing.assert_allclose(mad_factor(np.array([*range(2, 10), 10.0, 30.0])), table, rtol=1e-12)


@pytest.mark.parametrize(
    ("n", "williams", "park"),
    [
        (2, 1.197, 1.77215), (3, 1.490, 2.20491), (4, 1.360, 2.01667), (5, 1.217, 1.80393),
        (6, 1.189, 1.76379), (7, 1.138, 1.68681), (8, 1.127, 1.67184), (9, 1.101, 1.63294),
        (10, 10 / 9.199, 1.62468),
    ],
)  # fmt: skip
def test_mad_scale_agrees_with_later_tables(n: int, williams: float, park: float) -> None:
    """Williams (2011) and Park, Kim & Wang (2020) simulated the factors anew: within 1 %."""
    sample = np.arange(float(n))[:, None]
    unit = np.median(np.abs(sample - np.median(sample)))
    found = mad_scale(sample)[0] / unit
    assert found == pytest.approx(MAD_TO_SD * williams, rel=0.01)
    assert found == pytest.approx(park, rel=0.01)


def test_mad_scale_of_two_is_exact() -> None:
    """For two values the factor is sqrt(pi): E|x - y| / 2 = sigma / sqrt(pi), within the table's rounding."""
    assert mad_scale(np.array([[0.0], [2.0]]))[0] == pytest.approx(math.sqrt(math.pi), rel=5e-4)


@pytest.mark.parametrize("n", [3, 4, 6, 10])
def test_mad_scale_is_unbiased_for_normal_samples(n: int) -> None:
    """The defining property of the factors, by simulation: 40,000 normal samples, 1 % (Monte Carlo 0.3 %)."""
    values = np.random.default_rng(n).standard_normal((n, 40_000))
    assert mad_scale(values).mean() == pytest.approx(1.0, abs=0.012)


def test_bisquare_location_has_its_efficiency() -> None:
    """Tuning 4.685 has 95 % efficiency at the normal (Huber & Ronchetti, Robust Statistics, 2009)."""
    values = np.random.default_rng(1).standard_normal((200, 4000))
    location = bisquare_location(values, np.ones(4000))
    assert (1 / 200) / location.var() == pytest.approx(0.95, abs=0.04)
    values[:20] += 50.0
    assert np.abs(bisquare_location(values, np.ones(4000)).mean()) < 0.01


@pytest.mark.parametrize(
    ("n", "order", "level"),
    [(5, 1, 0.9375), (6, 1, 0.9688), (10, 2, 0.9785), (15, 4, 0.9648), (20, 6, 0.9586)],
)
def test_interval_of_a_median(n: int, order: int, level: float) -> None:
    """Thompson (1936); orders and levels as tabulated for the sign test (from memory, recomputed)."""
    values = np.arange(1.0, n + 1)
    np.random.default_rng(3).shuffle(values)
    middle, low, high, reached = median_interval(values)
    assert (low, high) == (order, n + 1 - order)
    assert middle == np.median(values)
    assert reached == pytest.approx(level, abs=5e-5)
    assert reached == pytest.approx(1 - 2 * sum(math.comb(n, k) for k in range(order)) / 2**n, rel=1e-12)
