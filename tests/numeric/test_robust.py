"""Robust location and scale against numpy, scipy and the equations that define them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import brentq

from trackspread.numeric import robust

few = settings(max_examples=40, deadline=None, derandomize=True)
seeds = st.integers(0, 10_000)


def with_gaps(seed: int, rows: int, columns: int, share: float = 0.3) -> np.ndarray:
    rng = np.random.default_rng(seed)
    values = rng.standard_normal((rows, columns))
    values[rng.random(values.shape) < share] = np.nan
    return values


@few
@given(seeds, st.integers(1, 9))
def test_median_is_numpy_s_where_there_are_values(seed: int, rows: int) -> None:
    values = with_gaps(seed, rows, 30)
    some = np.isfinite(values).any(axis=0)
    found = robust.nan_median(values)
    np.testing.assert_array_equal(np.isfinite(found), some)
    np.testing.assert_allclose(found[some], np.nanmedian(values[:, some], axis=0))


@few
@given(seeds, st.integers(1, 14))
def test_mad_scale_is_scipy_s_times_the_factor_of_its_sample_size(seed: int, rows: int) -> None:
    values = with_gaps(seed, rows, 20, 0.2)
    count = np.isfinite(values).sum(axis=0)
    found = robust.mad_scale(values)
    np.testing.assert_array_equal(np.isnan(found), count < 2)
    for k in np.flatnonzero(count >= 2):
        mad = stats.median_abs_deviation(values[:, k], nan_policy="omit", scale="normal")
        assert found[k] == pytest.approx(mad * robust.mad_factor(count[k]), rel=1e-9)


def test_no_factor_below_two_values_and_the_formula_above_nine() -> None:
    assert np.isnan(robust.mad_factor(np.array([0.0, 1.0]))).all()
    np.testing.assert_allclose(
        robust.mad_factor(np.array([10.0, 11.0, 500.0])), [10 / 9.2, 11 / 10.2, 500 / 499.2]
    )


@few
@given(seeds, st.integers(0, 12), st.integers(1, 3))
def test_running_mean_is_the_mean_of_the_neighbours_there_are(seed: int, half: int, rows: int) -> None:
    values = with_gaps(seed, rows, 25, 0.4)
    found = robust.running_mean(values, half)
    assert found.shape == values.shape
    for row in range(rows):
        for k in range(25):
            near = values[row, max(0, k - half) : k + half + 1]
            near = near[np.isfinite(near)]
            if len(near):
                assert found[row, k] == pytest.approx(near.mean(), abs=1e-12)
            else:
                assert np.isnan(found[row, k])


def test_running_mean_of_one_row() -> None:
    np.testing.assert_allclose(robust.running_mean(np.array([1.0, 2, 6, np.nan, 10]), 1), [1.5, 3, 4, 8, 10])


def test_pooled_scale_is_a_running_mean_of_mad_scales() -> None:
    values = np.random.default_rng(3).standard_normal((5, 60))
    own = robust.mad_scale(values)
    expected = [own[max(0, k - 10) : k + 11].mean() for k in range(60)]
    assert min(expected) > 0.5 * np.median(expected)
    np.testing.assert_allclose(robust.pooled_scale(values, 10), expected)


def test_pooled_scale_never_falls_below_half_of_the_route_s() -> None:
    values = np.random.default_rng(3).standard_normal((5, 400))
    values[:, 100:160] *= 1e-3
    found = robust.pooled_scale(values, 10)
    own = robust.running_mean(robust.mad_scale(values), 10)
    np.testing.assert_allclose(found[115:145], 0.5 * np.median(own))
    np.testing.assert_allclose(found[:80], np.maximum(own[:80], 0.5 * np.median(own)))


def test_pooled_scale_without_data() -> None:
    assert np.isnan(robust.pooled_scale(np.full((4, 6), np.nan), 2)).all()
    lonely = np.array([[1.0, 2.0, 3.0]])
    assert np.isnan(robust.pooled_scale(lonely, 1)).all()


def test_pooled_scale_of_traces_that_agree_is_a_millimetre_and_fills_the_gaps() -> None:
    values = np.ones((4, 50))
    values[:, 20:40] = np.nan
    np.testing.assert_allclose(robust.pooled_scale(values, 3), 1e-3)


@few
@given(seeds, st.integers(4, 12))
def test_bisquare_location_solves_its_estimating_equation(seed: int, rows: int) -> None:
    """sum psi((x - mu) / s) = 0 with psi(u) = u (1 - (u / c)^2)^2 inside c (Beaton & Tukey 1974)."""
    values = np.random.default_rng(seed).standard_normal(rows)
    values[0] += 3.0

    def psi(mu: float) -> float:
        u = (values - mu) / robust.BISQUARE_TUNING
        return float(np.sum(np.where(np.abs(u) < 1, u * (1 - u**2) ** 2, 0.0)))

    found = float(robust.bisquare_location(values[:, None], np.ones(1))[0])
    root = brentq(psi, found - 0.3, found + 0.3)
    assert found == pytest.approx(root, abs=1e-2)


def test_bisquare_weights_are_those_of_the_location() -> None:
    values = with_gaps(5, 6, 40, 0.2)
    scale = np.full(40, 0.8)
    location, weight = robust.bisquare_weights(values, scale)
    u = (values - location) / (4.685 * scale)
    expected = np.where(np.isfinite(u) & (np.abs(u) < 1), (1 - u**2) ** 2, 0.0)
    np.testing.assert_allclose(weight, expected, atol=6e-3)
    assert (weight[np.isnan(values)] == 0).all()


def test_bisquare_throws_a_far_value_out_and_keeps_a_near_one() -> None:
    values = np.array([[0.0, 0.0], [0.2, 0.2], [-0.2, -0.2], [50.0, 1.0]])
    location, weight = robust.bisquare_weights(values, np.ones(2))
    assert location[0] == pytest.approx(0.0, abs=1e-9)
    assert weight[3, 0] == 0.0
    assert 0.1 < location[1] < 0.25
    assert weight[3, 1] > 0.8


def beyond_a_gap(level: np.ndarray, scale: float) -> set[int]:
    """The traces of one station that stand apart from most, by going through every gap from both sides."""
    out: set[int] = set()
    for side in (1.0, -1.0):
        order = [k for k in np.argsort(side * level) if np.isfinite(level[k])]
        for size in range(5, len(order) - 1):
            most = level[order[:size]]
            gap = side * (level[order[size]] - level[order[size - 1]])
            if 2 * size > len(order) and gap > 3.0 * max(float(most.std(ddof=1)), scale):
                out |= set(order[size:])
                break
    return out


@few
@given(seeds, st.integers(2, 14), st.sampled_from([0.0, 4.0, 7.0, -7.0]))
def test_majority_leaves_out_what_lies_beyond_a_gap(seed: int, rows: int, aside: float) -> None:
    values = with_gaps(seed, rows, 40, 0.1)
    values[: round(0.4 * rows)] += aside
    level = robust.running_mean(values, 1)
    level[np.isnan(values)] = np.nan
    kept = values.copy()
    found = robust.majority(values, level, 0.8)
    np.testing.assert_array_equal(values, kept)
    for k in range(40):
        expected = values[:, k].copy()
        expected[list(beyond_a_gap(level[:, k], 0.8))] = np.nan
        np.testing.assert_array_equal(found[:, k], expected)


@pytest.mark.parametrize("rows", [9, 10, 20])
def test_majority_parts_four_in_ten_but_hardly_ever_a_normal_sample(rows: int) -> None:
    """Shares of 2,000 normal samples; where all are three times as restless, few are parted as well."""
    values = np.random.default_rng(rows).standard_normal((rows, 2000))
    aside = values.copy()
    aside[: round(0.4 * rows)] += 7.0

    def parted(values: np.ndarray) -> float:
        return float(np.isnan(robust.majority(values, values, 1.0)).any(axis=0).mean())

    assert parted(values) <= 0.002
    assert parted(3.0 * values) < 0.1
    assert parted(aside) > 0.75
    assert np.isnan(robust.majority(aside, aside, 1.0)[round(0.4 * rows) :]).mean() < 0.01


def test_majority_of_few_or_of_halves_is_everybody() -> None:
    for low, high in ((4, 2), (5, 1), (5, 5), (3, 3)):
        values = np.concatenate([np.arange(low) * 0.1, 50.0 + np.arange(high) * 0.1])[:, None]
        np.testing.assert_array_equal(robust.majority(values, values, 0.1), values)


@pytest.mark.parametrize("scale", [np.nan, 0.0, -1.0])
def test_bisquare_without_a_scale_is_the_mean(scale: float) -> None:
    values = np.array([[0.0], [1.0], [8.0], [np.nan]])
    assert robust.bisquare_location(values, np.array([scale]))[0] == pytest.approx(3.0)


def test_bisquare_of_nothing_is_nan_and_of_one_is_itself() -> None:
    values = np.array([[np.nan, 4.0], [np.nan, np.nan]])
    location, weight = robust.bisquare_weights(values, np.ones(2))
    assert np.isnan(location[0])
    assert location[1] == 4.0
    assert weight.tolist() == [[0.0, 1.0], [0.0, 0.0]]


@few
@given(seeds, st.floats(-1000, 1000), st.floats(0.01, 100.0))
def test_robust_figures_shift_and_scale_with_the_values(seed: int, shift: float, factor: float) -> None:
    values, scale = with_gaps(seed, 6, 12, 0.2), np.full(12, 0.9)
    moved = factor * values + shift
    np.testing.assert_allclose(
        robust.mad_scale(moved), factor * robust.mad_scale(values), rtol=1e-6, atol=1e-9
    )
    here, there = robust.bisquare_location(values, scale), robust.bisquare_location(moved, factor * scale)
    np.testing.assert_allclose(there, factor * here + shift, atol=3e-3 * max(factor, 1.0))


@few
@given(seeds, st.permutations(range(6)))
def test_the_order_of_traces_does_not_matter(seed: int, order: list[int]) -> None:
    values, scale = with_gaps(seed, 6, 12, 0.2), np.full(12, 0.9)
    location, weight = robust.bisquare_weights(values, scale)
    shuffled, mixed = robust.bisquare_weights(values[order], scale)
    np.testing.assert_allclose(shuffled, location, atol=1e-12)
    np.testing.assert_allclose(mixed, weight[order], atol=1e-12)
    np.testing.assert_allclose(robust.mad_scale(values[order]), robust.mad_scale(values), atol=1e-12)


def test_what_lies_far_out_is_drawn_in() -> None:
    """2.5 x 1.4826 times the median absolute value, here 1; by hand."""
    values = np.array([[1.0, -1.0, 0.5, 80.0], [-1.0, np.nan, 2.0, -3.8]])
    most = 2.5 * 1.4826
    expected = np.array([[1.0, -1.0, 0.5, most], [-1.0, np.nan, 2.0, -most]])
    np.testing.assert_allclose(robust.drawn_in(values), expected, rtol=1e-4)
    assert np.isnan(robust.drawn_in(np.full(3, np.nan))).all()
