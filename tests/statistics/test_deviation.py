"""Deviation from the others, and the scale of chance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special

from polylines import exponential, gauss_markov
from trackspread.numeric.robust import MAD_TO_SD, bisquare_weights, mad_scale, pooled_scale
from trackspread.statistics import deviation as module
from trackspread.statistics.deviation import (
    Deviation,
    deviation,
    inverse_trigamma,
    moderated_variance,
    receiver_scale,
)

few = settings(max_examples=25, deadline=None, derandomize=True)
STEP_M = 5.0


def judged(
    offset_m: np.ndarray, ride: np.ndarray | None = None, shown_m: np.ndarray | None = None
) -> Deviation:
    ride = np.arange(len(offset_m)) if ride is None else ride
    shown_m = offset_m if shown_m is None else shown_m
    return deviation(offset_m, shown_m, ride, STEP_M, exponential(offset_m.shape[1], STEP_M, 300.0))


def noise(seed: int, traces: int, size: int = 400) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((traces, size))


# --- leave one out -----------------------------------------------------------------------------------


@pytest.mark.parametrize("many", [3, 4, 8])
def test_leaving_one_out_hides_nothing_of_an_error(many: int) -> None:
    """A trace 4 m aside deviates by 4 m; from a mean with its own share it would by 4 (n - 1) / n."""
    offset = np.zeros((many, 100)) + 0.01 * noise(1, many, 100)
    offset[0] += 4.0
    found = judged(offset)
    np.testing.assert_allclose(found.deviation_m[0], 4.0, atol=0.1)
    assert np.median(np.abs(found.deviation_m[1:])) < 0.05 or many == 3


@few
@given(st.integers(0, 1000))
def test_a_deviation_is_from_the_robust_middle_of_the_other_rides(seed: int) -> None:
    offset = noise(seed, 6, 90)
    offset[np.random.default_rng(seed).random(offset.shape) < 0.1] = np.nan
    ride = np.array([0, 0, 1, 2, 3, 3])
    found = judged(offset, ride)
    for trace in range(6):
        others = offset[ride != ride[trace]]
        aboard = ride[ride != ride[trace]]
        with_data = np.stack([np.isfinite(others[aboard == number]).sum(axis=0) for number in aboard])
        say = 1.0 / np.maximum(with_data, 1)
        middle, _ = bisquare_weights(others, pooled_scale(others, 30, say), say)
        np.testing.assert_allclose(found.deviation_m[trace], offset[trace] - middle, atol=1e-12)


def test_a_companion_on_the_same_ride_does_not_vouch() -> None:
    offset = 0.1 * noise(2, 5)
    offset[:2] += 10.0
    together = judged(offset, np.array([0, 0, 1, 2, 3]))
    assert np.median(together.deviation_m[0]) == pytest.approx(10.0, abs=0.2)


def test_what_has_no_say_is_still_judged() -> None:
    offset = noise(3, 5)
    shown = offset.copy()
    shown[1, 100:140] = 55.0
    offset[1, 100:140] = np.nan
    found = judged(offset, shown_m=shown)
    assert found.deviation_m[1, 100:140].min() > 50
    others = np.delete(judged(np.where(np.isnan(offset), 0.0, offset)).deviation_m, 1, axis=0)
    assert np.abs(np.delete(found.deviation_m, 1, axis=0) - others).max() < 1.5


def test_one_ride_has_no_others() -> None:
    found = judged(noise(4, 3), np.zeros(3, int))
    assert np.isnan(found.deviation_m).all()
    assert np.isnan(found.scale_m).all()


def test_many_rides_are_judged_alike_by_the_short_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """Beyond sixteen rides the own weight is taken out of the consensus of all: within a few hundredths."""
    offset = noise(5, 20, 200)
    offset[3, 50:90] += 12.0
    offset[7, 20:25] = np.nan
    short = judged(offset)
    monkeypatch.setattr(module, "MOST_RIDES_JUDGED", 100)
    long = judged(offset)
    np.testing.assert_allclose(short.deviation_m, long.deviation_m, atol=0.12)
    np.testing.assert_allclose(short.scale_m / long.scale_m, 1.0, atol=0.08)
    assert np.isnan(short.deviation_m[7, 20:25]).all()
    assert short.scale_m.shape == offset.shape


@pytest.mark.parametrize("rides", [10, 20])
def test_four_in_ten_that_stand_apart_have_no_say(rides: int) -> None:
    """Seven standard deviations to one side over a third of the way: all deviate by that, judged by the rest."""
    offset = noise(9, rides, 600)
    aside = round(0.4 * rides)
    offset[:aside, 200:400] += 7.0
    found = judged(offset)
    np.testing.assert_allclose(found.deviation_m[:aside, 220:380].mean(axis=1), 7.0, atol=0.3)
    np.testing.assert_allclose(found.deviation_m[aside:, 220:380].mean(axis=1), 0.0, atol=0.3)
    assert found.scale_m[:, 220:380].mean() < 1.3


@pytest.mark.parametrize(("rides", "short"), [(16, False), (17, True)])
def test_the_short_way_begins_after_sixteen_rides(rides: int, short: bool) -> None:
    scale = judged(noise(6, rides, 60)).scale_m
    assert (np.ptp(scale, axis=0) == 0).all() == short


# --- the scale ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("rides", [4, 6, 10])
def test_a_deviation_by_chance_has_the_size_of_its_scale(rides: int) -> None:
    """Of normal offsets with a standard deviation of 3 m, slowly changing: 3 sqrt(1 + 1/m)."""
    ratios, scales = [], []
    for seed in range(12):
        offset = 3.0 * gauss_markov(np.random.default_rng(seed), rides, 800, STEP_M, 300.0)
        found = judged(offset)
        ratios.append(np.sqrt(np.mean((found.deviation_m / found.scale_m) ** 2)))
        scales.append(found.scale_m.mean())
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.15)
    assert np.mean(scales) == pytest.approx(3.0 * np.sqrt(1 + 1 / (rides - 1)), rel=0.12)


def test_the_scale_follows_places_that_are_restless() -> None:
    offset = noise(7, 8, 600)
    offset[:, 200:400] *= 8.0
    scale = judged(offset).scale_m
    assert scale[:, 300].mean() > 3.0 * scale[:, 50].mean()
    assert np.sqrt(1 + 1 / 7) < scale[:, 50].mean() < 2.5
    assert 6.0 < scale[:, 300].mean() < 9.0


def test_fewer_others_make_a_larger_scale() -> None:
    offset = noise(8, 9, 300)
    scale = judged(offset).scale_m
    thin = offset.copy()
    thin[3:, 140:160] = np.nan
    assert (judged(thin).scale_m[0, 140:160] > scale[0, 140:160] * 1.05).all()


@few
@given(st.integers(0, 1000), st.floats(0.05, 20.0), st.permutations(range(6)))
def test_deviations_scale_and_shuffle_with_the_traces(seed: int, factor: float, order: list[int]) -> None:
    offset = noise(seed, 6, 120)
    here, there = judged(offset), judged(factor * offset)
    np.testing.assert_allclose(there.deviation_m, factor * here.deviation_m, atol=2e-3 * max(factor, 1))
    np.testing.assert_allclose(there.scale_m, factor * here.scale_m, rtol=1e-6)
    shuffled = judged(offset[order])
    np.testing.assert_allclose(shuffled.deviation_m, here.deviation_m[order], atol=1e-9)
    np.testing.assert_allclose(shuffled.scale_m, here.scale_m[order], rtol=1e-9)


@few
@given(st.integers(0, 1000))
def test_mirroring_the_offsets_mirrors_the_deviations(seed: int) -> None:
    offset = noise(seed, 5, 120)
    here, there = judged(offset), judged(-offset)
    np.testing.assert_allclose(there.deviation_m, -here.deviation_m, atol=1e-9)
    np.testing.assert_allclose(there.scale_m, here.scale_m, rtol=1e-9)


# --- moderated variances -----------------------------------------------------------------------------


@few
@given(st.floats(1e-3, 50.0))
def test_inverse_trigamma_is_undone_by_scipy_s_polygamma(value: float) -> None:
    assert float(special.polygamma(1, inverse_trigamma(value))) == pytest.approx(value, rel=1e-6)


def test_variances_that_differ_by_no_more_than_chance_become_one() -> None:
    rng = np.random.default_rng(1)
    variance = 9.0 * rng.chisquare(4, 5000) / 4
    flat = moderated_variance(variance * 0 + 9.0, np.full(5000, 4.0))
    np.testing.assert_allclose(flat, 9.0)
    found = moderated_variance(variance, np.full(5000, 4.0))
    assert np.ptp(found) < 0.25 * np.ptp(variance)


@pytest.mark.parametrize(("d0", "d"), [(6.0, 3.0), (10.0, 8.0)])
def test_the_prior_s_degrees_of_freedom_are_found(d0: float, d: float) -> None:
    """Smyth (2004): s^2 | sigma^2 ~ sigma^2 chi^2(d) / d with 1 / sigma^2 ~ chi^2(d0) / (d0 s0^2)."""
    rng = np.random.default_rng(int(d0))
    sigma2 = 4.0 * d0 / rng.chisquare(d0, 60_000)
    s2 = sigma2 * rng.chisquare(d, 60_000) / d
    found = moderated_variance(s2, np.full(60_000, d))
    slope, level = np.polyfit(s2, found, 1)
    assert slope == pytest.approx(d / (d0 + d), rel=0.08)
    s0 = np.mean(np.sqrt(s2)) ** 2
    assert level == pytest.approx(d0 * s0 / (d0 + d), rel=0.08)
    error = np.mean((np.log(found) - np.log(sigma2)) ** 2)
    assert error < 0.6 * np.mean((np.log(s2) - np.log(sigma2)) ** 2)


def test_places_with_other_degrees_of_freedom_are_put_on_one_footing() -> None:
    """log s^2 has mean digamma(d / 2) - log(d / 2): half of the places with 2, half with 30 degrees."""
    rng = np.random.default_rng(11)
    d = np.tile([2.0, 30.0], 40_000)
    sigma2 = 4.0 * 12.0 / rng.chisquare(12.0, len(d))
    s2 = sigma2 * rng.chisquare(d) / d
    found = moderated_variance(s2, d)
    for degrees in (2.0, 30.0):
        slope, _ = np.polyfit(s2[d == degrees], found[d == degrees], 1)
        assert slope == pytest.approx(degrees / (12.0 + degrees), rel=0.07)


def test_unknown_variances_become_the_common_one() -> None:
    rng = np.random.default_rng(2)
    variance = np.exp(rng.normal(0, 1.5, 500))
    variance[7] = np.nan
    variance[9] = 0.0
    found = moderated_variance(variance, np.full(500, 6.0))
    known = np.isfinite(variance) & (variance > 0)
    common = np.mean(np.sqrt(variance[known])) ** 2
    assert found[7] == pytest.approx(common)
    assert found[9] == pytest.approx(common)
    assert np.isnan(moderated_variance(np.array([np.nan, 0.0]), np.ones(2))).all()


def test_what_all_places_have_in_common_makes_none_differ() -> None:
    """Variances that scatter by half of what chance allows: shared chance leaves less to be explained."""
    rng = np.random.default_rng(3)
    variance = np.exp(rng.normal(0, 0.8, 2000))
    alone = moderated_variance(variance, np.full(2000, 3.0))
    shared = moderated_variance(variance, np.full(2000, 3.0), 1.0)
    assert np.ptp(alone) == 0.0
    assert np.ptp(shared) > 0.5


def test_the_degrees_of_freedom_weigh_place_by_place() -> None:
    rng = np.random.default_rng(4)
    variance, dof = np.exp(rng.normal(0, 2.0, 400)), np.tile([2.0, 20.0], 200)
    found = moderated_variance(variance, dof)
    common = np.mean(np.sqrt(variance)) ** 2
    pull = (found - common) / (variance - common)
    assert pull[1::2].min() > pull[::2].max()
    d0 = dof / pull - dof
    np.testing.assert_allclose(d0, d0[0], rtol=1e-6)


@pytest.mark.parametrize("length_m", [40.0, 300.0])
def test_the_scale_is_the_moderated_local_variance_of_the_others(length_m: float) -> None:
    """Step by step as the notes say, with places that differ; MADs know 0.4 of what variances know."""
    size = 300
    rho = exponential(size, STEP_M, length_m)
    offset = noise(12, 5, size) * np.exp(np.sin(np.arange(size) / 25.0))
    offset[2, 100:160] = np.nan
    found = deviation(offset, offset, np.arange(5), STEP_M, rho)
    others = offset[1:]
    count = np.isfinite(others).sum(axis=0)
    own = mad_scale(others)
    local = np.array([np.mean(own[max(0, k - 30) : k + 31]) for k in range(size)]) ** 2
    shared = np.mean(rho.at(STEP_M * np.arange(61)) ** 2)
    pairs = np.abs(np.subtract.outer(np.arange(size), np.arange(size)))
    common = min(np.mean(rho.by_lag[pairs] ** 2) / shared, 1.0)
    expected = moderated_variance(local, 0.4 * (count - 1.0) / shared, common) * (1 + 1 / count)
    assert np.ptp(expected) > 0.1
    np.testing.assert_allclose(found.scale_m[0], np.sqrt(expected), rtol=1e-6)


def test_two_rides_judge_each_other_by_the_least_there_is() -> None:
    offset = noise(13, 3, 200)
    found = deviation(offset[:2], offset[:2], np.arange(2), STEP_M, exponential(200, STEP_M, 300.0))
    np.testing.assert_allclose(found.deviation_m[0], offset[0] - offset[1])
    np.testing.assert_allclose(found.deviation_m[1], -found.deviation_m[0])


def test_the_local_scale_is_the_mad_over_three_hundred_metres() -> None:
    """With places that differ hugely hardly anything is shrunk: the scale is then the local MAD's."""
    offset = noise(9, 12, 1200)
    offset *= np.where(np.arange(1200) < 600, 1.0, 1000.0)
    found = judged(offset)
    others = offset[1:]
    at = 900
    local = mad_scale(others)[at - 30 : at + 31].mean()
    assert found.scale_m[0, at] == pytest.approx(local * np.sqrt(1 + 1 / 11), rel=0.25)
    assert MAD_TO_SD > 1


def test_a_noisier_receiver_is_judged_by_its_own_noise_and_a_steadier_one_by_the_others() -> None:
    rng = np.random.default_rng(31)
    ride, receiver = np.repeat(np.arange(8), 2), np.tile([0, 1], 8)
    offset = gauss_markov(rng, 16, 800, 5.0, 100.0) * np.where(receiver == 0, 1.0, 3.0)[:, None]
    rho = exponential(800, 5.0, 100.0)
    own = deviation(offset, offset, ride, 5.0, rho)
    wide = receiver_scale(own, ride, receiver, rho) / own.scale_m
    np.testing.assert_array_equal(wide[receiver == 0], 1.0)
    np.testing.assert_allclose(wide[receiver == 1], wide[1, 0])
    strayed = (own.deviation_m / own.scale_m)[receiver == 1].std()
    assert wide[1, 0] == pytest.approx(strayed, rel=0.1)
    assert wide[1, 0] > 1.3


def test_the_noise_of_a_receiver_weighs_by_how_much_its_rides_hold() -> None:
    """Three receivers by hand: deviations of one, two and four scales, so MAD x 1.4826 is as many.

    Squares shrink towards 1 by 4 degrees of freedom against 0.4 for each ride, divided by the mean squared
    correlation over all pairs of stations (double loop).
    """
    size, receiver = 60, np.repeat([0, 1, 2], [5, 3, 2])
    rho = exponential(size, STEP_M, 200.0)
    shared = np.mean([[rho.by_lag[abs(i - j)] ** 2 for i in range(size)] for j in range(size)])
    scale = np.linspace(1.0, 2.0, size) * np.ones((10, 1))
    sign = np.where(np.arange(size) % 2, 1.0, -1.0)
    times = np.array([1.0, 2.0, 4.0])[receiver][:, None] / MAD_TO_SD
    found = receiver_scale(
        Deviation(deviation_m=times * sign * scale, scale_m=scale), np.arange(10), receiver, rho
    )
    for number, rides, square in ((0, 5, 1.0), (1, 3, 4.0), (2, 2, 16.0)):
        dof = 0.4 * rides / shared
        expected = np.sqrt((4.0 + dof * square) / (4.0 + dof))
        np.testing.assert_allclose((found / scale)[receiver == number], expected)


def test_the_scale_of_a_receiver_needs_others_to_differ_from() -> None:
    rng = np.random.default_rng(32)
    offset = rng.standard_normal((4, 100)) * np.array([1.0, 1.0, 1.0, 5.0])[:, None]
    rho = exponential(100, 5.0, 1.0)
    own = deviation(offset, offset, np.arange(4), 5.0, rho)
    np.testing.assert_array_equal(receiver_scale(own, np.arange(4), np.zeros(4, dtype=int), rho), own.scale_m)
    lost = replace(own, deviation_m=np.where(np.arange(4)[:, None] == 3, np.nan, own.deviation_m))
    assert (receiver_scale(lost, np.arange(4), np.arange(4), rho)[3] == lost.scale_m[3]).all()
