"""Standard deviations of two receivers without a ground truth, and whether they differ."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from ridden_together import SHORT, campaign
from trackspread.model import Reason
from trackspread.noise.effective import Along
from trackspread.pairs.compare import hat_reference
from trackspread.pairs.own_errors import OwnErrors, moments, own_errors
from trackspread.results.words.reasons import said


def offsets(
    seed: int, rides: int = 6, size: int = 400, sigmas: tuple[float, ...] = (1.0, 2.0, 1.5)
) -> np.ndarray:
    """White errors, what is common included, shape (receivers, rides, size)."""
    rng = np.random.default_rng(seed)
    common = rng.normal(0.0, 0.8, (rides, size))
    return np.stack([common + sigma * rng.standard_normal((rides, size)) for sigma in sigmas])


def judged(a: np.ndarray, b: np.ndarray, middle: np.ndarray | float = 0.0, step_m: float = 5.0) -> OwnErrors:
    along = Along.of(step_m * np.arange(a.shape[1]))
    found = own_errors(a, b, np.broadcast_to(middle, a.shape), along, 0.95)
    assert isinstance(found, OwnErrors)
    return found


def covariances(*y: np.ndarray) -> np.ndarray:
    """Mean over stations of numpy's sample covariance across rides."""
    return np.mean([np.cov(np.stack([x[:, k] for x in y])) for k in range(y[0].shape[1])], axis=0)


def test_two_receivers_are_the_estimators_of_grubbs() -> None:
    """var_a = s_aa - s_ab, var_b = s_bb - s_ab, common = s_ab (Grubbs 1948), covariances by numpy."""
    a, b, _ = offsets(1)
    s = covariances(a, b)
    found = judged(a, b)
    assert found.sd_a.value**2 == pytest.approx(s[0, 0] - s[0, 1])
    assert found.sd_b.value**2 == pytest.approx(s[1, 1] - s[0, 1])
    assert found.common.value**2 == pytest.approx(s[0, 1])
    assert found.difference.value == pytest.approx(found.sd_a.value - found.sd_b.value)


def test_three_receivers_are_the_three_cornered_hat() -> None:
    """var_a = (v_ab + v_ac - v_bc) / 2 with v the variances of differences (Gray & Allan 1974)."""
    a, b, c = offsets(2)
    v = [covariances(p - q, p - q)[0, 0] for p, q in ((a, b), (a, c), (b, c))]
    found = judged(a, b, hat_reference(a, b, [c], weight=1.0))
    assert found.sd_a.value**2 == pytest.approx((v[0] + v[1] - v[2]) / 2)
    assert found.sd_b.value**2 == pytest.approx((v[0] + v[2] - v[1]) / 2)


def test_a_bad_third_receiver_does_no_harm() -> None:
    errors: dict[str, list[float]] = {"hat": [], "weighted": []}
    for seed in range(30):
        a, b, c = offsets(100 + seed, rides=4, size=60, sigmas=(1.0, 2.0, 12.0))
        for name, weight in (("hat", 1.0), ("weighted", None)):
            value = judged(a, b, hat_reference(a, b, [c], weight)).sd_a.value
            errors[name].append(abs(value - 1.0) if np.isfinite(value) else 1.0)
    assert np.median(errors["weighted"]) < 0.5 * np.median(errors["hat"])


def test_the_weight_of_a_third_receiver_is_a_regression() -> None:
    """Of the mean of a and b, centred, on c, centred, where all are known: numpy's least squares."""
    a, b, c = offsets(20, rides=4, size=60)
    a[1, 10:30] = np.nan
    c[2, 40:] = np.nan
    mean, third = (x - np.nanmean(x, axis=0) for x in ((a + b) / 2, c))
    known = np.isfinite(mean) & np.isfinite(third)
    ((weight,), *_) = np.linalg.lstsq(third[known][:, None], mean[known])
    assert 0.1 < weight < 0.9
    assert hat_reference(a, b, [c]) == pytest.approx(weight * np.nan_to_num(third))


def test_the_weight_of_a_third_receiver_is_a_share() -> None:
    """Against the other two it counts nothing, with much smaller swings no more than they are."""
    a, b, c = offsets(21, rides=4, size=60, sigmas=(0.1, 0.1, 0.1))
    assert not hat_reference(a, b, [-c]).any()
    third = c - c.mean(axis=0)
    assert hat_reference(a, b, [0.01 * c]) == pytest.approx(0.01 * third)
    assert hat_reference(50.0 * a, 50.0 * b, [c]) == pytest.approx(third)
    assert not hat_reference(a, b, [np.full(c.shape, np.nan)]).any()
    assert not hat_reference(a, b, [np.where(np.arange(4)[:, None] == 1, c, np.nan)]).any()


def test_a_third_receiver_that_stops_costs_nothing() -> None:
    a, b, c = offsets(3)
    c[:, 40:] = np.nan
    c[4] = np.nan
    found, alone = judged(a, b, hat_reference(a, b, [c])), judged(a, b)
    assert found.sd_a.value == pytest.approx(alone.sd_a.value, rel=0.05)
    assert found.sd_b.high <= alone.sd_b.high * 1.02


def test_told_apart_is_the_test_of_pitman_and_morgan() -> None:
    """Student's test of the correlation of sum and difference; stations 10,000 km apart are independent."""
    decided = set()
    for seed in range(20):
        a, b, _ = offsets(300 + seed, rides=6, size=40, sigmas=(1.0, 1.2, 1.0))
        total, apart = (x - x.mean(axis=0) for x in (a + b, a - b))
        r = np.sum(total * apart) / np.sqrt(np.sum(total**2) * np.sum(apart**2))
        found = judged(a, b, step_m=1e7)
        free = 5 * 40 - 1
        p = 2 * stats.t.sf(abs(r) * np.sqrt(free / (1 - r**2)), free)
        assert found.told_apart == (p < 0.05)
        decided.add(found.told_apart)
    assert decided == {True, False}


def test_moments_of_independent_errors_are_chi_square_and_student_s() -> None:
    """Stations 10,000 km apart: 5 * 40 degrees of freedom (NIST/SEMATECH 7.2.3.1), slope of scipy's regression."""
    a, b, _ = offsets(4, rides=6, size=40)
    found = moments(a, b, Along.of(1e7 * np.arange(40)))
    assert found is not None
    u, v = a - a.mean(axis=0), b - b.mean(axis=0)
    assert found.dof == pytest.approx(5 * 40)
    share = (np.arange(240) + 0.5) / 240
    assert found.square == pytest.approx(np.sum(v**2) / stats.chi2.isf(share, 200), rel=3e-3)
    slope = np.sum(u * v) / np.sum(v**2)
    error = np.sqrt(np.sum((u - slope * v) ** 2) / 199 / np.sum(v**2))
    assert found.slope == pytest.approx(slope + stats.t.ppf(share, 199) * error, abs=1e-3 * error)


def test_values_that_are_missing_tell_nothing_of_a_slope() -> None:
    """Stations 10,000 km apart: as many independent values as there are, less one of each station."""
    a, b, _ = offsets(35, rides=4, size=60)
    a[0, :20] = b[1:3, 10:30] = np.nan
    found = moments(a, b, Along.of(1e7 * np.arange(60)))
    assert found is not None
    count = np.isfinite(a + b).sum(axis=0)
    assert sorted(set(count.tolist())) == [1, 2, 3, 4]
    assert found.dof == pytest.approx(np.sum(count - 1))


def test_of_many_rides_some_speak_for_the_likeness_and_all_for_the_figure() -> None:
    """60 rides: the variance is of all, its relative error that of 59 * 100 independent values at best."""
    a, b, _ = offsets(12, rides=60, size=100)
    found = moments(a, b, Along.of(1e7 * np.arange(100)))
    assert found is not None
    assert found.s_vv == pytest.approx(covariances(b, b)[0, 0])
    assert found.dof == pytest.approx(59 * 100)
    assert np.std(found.slope) == pytest.approx(np.sqrt(found.s_uu / found.s_vv / 5900 * 0.92), rel=0.1)


def test_a_negative_variance_is_no_figure() -> None:
    rng = np.random.default_rng(7)
    a = rng.normal(0.0, 1.0, (4, 100))
    b = 2.0 * a + rng.normal(0.0, 0.1, a.shape)
    one, other = judged(0.8 * a, b), judged(b, 0.8 * a)
    for found, bad, good in ((one, one.sd_a, one.sd_b), (other, other.sd_b, other.sd_a)):
        assert np.isnan(bad.value)
        words = r"not separable: the variance comes out negative; at most \d\.\d m \(95%\)"
        assert re.fullmatch(words, said(bad.reason))
        assert np.isfinite(good.value)
        assert np.isnan(found.difference.value)
        assert said(found.difference.reason) == "one of the two is not separable"
        assert found.told_apart
    assert (one.ratio, other.ratio) == pytest.approx((np.sqrt(0.01 / 1.99), np.sqrt(1.99 / 0.01)))


def test_the_ratio_is_that_of_the_standard_deviations() -> None:
    found = judged(*offsets(30)[:2])
    assert found.ratio == pytest.approx(found.sd_a.value / found.sd_b.value)


def test_intervals_are_as_wide_as_the_figures_scatter() -> None:
    """120 campaigns of errors that are white at stations 100 m apart: 1.96 standard deviations either way, to 25 %; 105 or more cover.

    (The 0.1 % point of Binomial(120, 0.95) is 105.)
    """
    found = [judged(*offsets(700 + seed, size=1000)[:2], step_m=100.0) for seed in range(120)]
    for name, truth in (("sd_a", 1.0), ("sd_b", 2.0), ("common", 0.8), ("difference", -1.0)):
        figures = [getattr(own, name) for own in found]
        value, low, high = np.array([(e.value, e.low, e.high) for e in figures]).T
        known = np.isfinite(value)
        assert known.sum() >= 110
        assert np.sum((low <= truth) & (truth <= high)) >= known.sum() - 15
        assert np.mean((high - low)[known]) == pytest.approx(2 * 1.96 * np.std(value[known]), rel=0.25)


@pytest.mark.parametrize("confidence", [0.95, 0.6])
def test_intervals_of_independent_errors_are_those_of_sample_covariances(confidence: float) -> None:
    """Cov(s_ij, s_kl) = (s_ik s_jl + s_il s_jk) / N of normal values (Wishart 1928, Biometrika 20A:32; from memory).

    var_a = s_ad and var_b = -s_bd with d = a - b, what is common is s_ab; by the delta method for their roots.
    Stations 10,000 km apart: N = 5 * 400.
    """
    a, b, _ = offsets(34)
    s = covariances(a, b, a - b)

    def shared(i: int, j: int, k: int, m: int) -> float:
        return float(s[i, k] * s[j, m] + s[i, m] * s[j, k]) / 2000.0

    sd_a, sd_b, sd_ab = np.sqrt([s[0, 2], -s[1, 2], s[0, 1]])
    error_a, error_b, error_ab = shared(0, 2, 0, 2), shared(1, 2, 1, 2), shared(0, 1, 0, 1)
    both = error_a / sd_a**2 + error_b / sd_b**2 + 2.0 * shared(0, 2, 1, 2) / (sd_a * sd_b)
    expected = {
        "sd_a": (sd_a, np.sqrt(error_a) / (2.0 * sd_a)),
        "sd_b": (sd_b, np.sqrt(error_b) / (2.0 * sd_b)),
        "common": (sd_ab, np.sqrt(error_ab) / (2.0 * sd_ab)),
        "difference": (sd_a - sd_b, np.sqrt(both) / 2.0),
    }
    along, reach = Along.of(1e7 * np.arange(400)), stats.norm.ppf(0.5 + 0.5 * confidence)
    found = own_errors(a, b, np.zeros_like(a), along, confidence)
    assert isinstance(found, OwnErrors)
    for name, (value, error) in expected.items():
        figure = getattr(found, name)
        assert figure.value == pytest.approx(value)
        assert (figure.low - value, figure.high - value) == pytest.approx(
            (-reach * error, reach * error), rel=0.06
        ), name
    assert found.dof == pytest.approx(2000.0)


@pytest.mark.parametrize("rides", [2, 3])
def test_few_rides_are_the_estimators_of_grubbs_too(rides: int) -> None:
    a, b, _ = offsets(31, rides=rides, size=300)
    s, found = covariances(a, b), judged(a, b)
    assert found.sd_a.value**2 == pytest.approx(s[0, 0] - s[0, 1])
    assert found.common.value**2 == pytest.approx(s[0, 1])


def test_one_ride_beside_a_known_line() -> None:
    """Nothing is removed: second moments about the line, var_a = (mean D^2 + mean S D) / 4."""
    a, b, _ = offsets(32, rides=1)
    line = np.sin(np.arange(400) / 30.0)[None]
    found = judged(a + line, b + line, line)
    assert found.sd_a.value**2 == pytest.approx(np.mean((a - b) ** 2 + (a + b) * (a - b)) / 2)
    assert said(found.common.reason) == "one ride together cannot part what is common from the consensus"


def test_a_gap_of_one_is_a_gap_of_both() -> None:
    a, b, _ = offsets(33)
    a[2, 100:200] = np.nan
    one = judged(a, b)
    b[2, 100:200] = np.nan
    assert judged(a, b) == one


def test_no_common_part_is_said_and_bounds_the_rest() -> None:
    a, b, _ = offsets(8)
    found = judged(a, -b)
    s = covariances(a, -b)
    assert s[0, 1] < 0
    assert np.isnan(found.common.value)
    assert said(found.common.reason) == "shared error not detectable"
    rng = np.random.default_rng(0)
    nothing = next(
        own.common
        for own in (judged(*rng.normal(0.0, 3.0, (2, 4, 40))) for _ in range(50))
        if np.isnan(own.common.value) and "below" in said(own.common.reason)
    )
    words = r"shared error not detectable \(below [1-4]\.\d m, 95 %\)"
    assert re.fullmatch(words, said(nothing.reason))
    small = next(
        said(own.common.reason)
        for own in (judged(*rng.normal(0.0, 0.3, (2, 4, 40))) for _ in range(50))
        if "below" in said(own.common.reason)
    )
    assert re.fullmatch(words.replace("[1-4]", "0"), small)
    assert found.sd_a.value**2 == pytest.approx(s[0, 0])


def test_where_nothing_is_possible_all_doubt_lies_above() -> None:
    """The upper end of a figure that may be 0 leaves 5 % of its posterior above it, of others 2.5 % either way."""
    a, b, _ = offsets(0, rides=3, size=60, sigmas=(0.2, 2.0, 1.0))
    found, pooled = judged(a, b, step_m=100.0), moments(a + b, a - b, Along.of(100.0 * np.arange(60)))
    assert pooled is not None
    lean = np.clip(pooled.slope, -1.0, 1.0)
    draws_a, draws_b = (np.sqrt(0.5 * np.outer(pooled.square, 1.0 + x)) for x in (lean, -lean))
    assert found.sd_a.low == 0.0
    assert np.mean(draws_a > found.sd_a.high) == pytest.approx(0.05, abs=0.002)
    assert np.mean(draws_b > found.sd_b.high) == pytest.approx(0.025, abs=0.002)
    assert np.mean(draws_b < found.sd_b.low) == pytest.approx(0.025, abs=0.002)


def test_too_little_to_say() -> None:
    a, b, _ = offsets(9, size=400)
    along = Along.of(5.0 * np.arange(400))
    words = Reason.of("little_in_common", least=20)
    assert own_errors(b, b, np.zeros_like(b), along, 0.95) == words
    a[:, 20:] = np.nan
    assert isinstance(own_errors(a, b, np.zeros_like(a), along, 0.95), OwnErrors)
    a[:, 19:] = np.nan
    assert own_errors(a, b, np.zeros_like(a), along, 0.95) == words


def test_what_returns_at_a_place_is_no_error() -> None:
    """A bias of each receiver that is the same on every ride leaves all figures as they are."""
    a, b, _ = offsets(10)
    rng = np.random.default_rng(0)
    one, other = judged(a, b), judged(a + rng.normal(0, 9, 400), b + rng.normal(0, 9, 400))
    assert other.sd_a.value == pytest.approx(one.sd_a.value)
    assert other.difference.low == pytest.approx(one.difference.low)


@settings(max_examples=20, deadline=None)
@given(st.floats(0.01, 100.0), st.integers(0, 1000))
def test_figures_scale_with_the_offsets_and_swap_with_the_receivers(scale: float, seed: int) -> None:
    a, b, _ = offsets(seed, rides=3, size=80)
    one, scaled, swapped = judged(a, b), judged(scale * a, scale * b), judged(b, a)
    assert scaled.sd_b.value == pytest.approx(scale * one.sd_b.value, rel=1e-6, nan_ok=True)
    assert swapped.sd_a.value == pytest.approx(one.sd_b.value, nan_ok=True)
    assert swapped.difference.low == pytest.approx(-one.difference.high, nan_ok=True)
    assert scaled.told_apart == one.told_apart == swapped.told_apart


def test_intervals_cover_and_equal_receivers_are_not_told_apart() -> None:
    """60 campaigns: cover at least 53 times, told apart at most 7 times.

    (The 5 % point of Binomial(60, 0.95) is 54, the 95 % point of Binomial(60, 0.05) is 6.)
    """
    cover, apart = 0, 0
    for seed in range(60):
        made = campaign(500 + seed, sigmas_m=(3.0, 3.0), taus=SHORT)
        along = Along.of(made.station_m)
        found = own_errors(
            made.offset_m[0::2], made.offset_m[1::2], np.zeros((5, len(made.station_m))), along, 0.95
        )
        assert isinstance(found, OwnErrors)
        cover += found.sd_a.low <= 3.0 <= found.sd_a.high
        apart += found.told_apart
    assert cover >= 53
    assert apart <= 7
