"""Spread across traces and its interval: unbiased, and as sure as it says."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from polylines import exponential, gauss_markov
from trackspread.noise.correlation import Correlation
from trackspread.noise.posterior import posterior
from trackspread.results.words.reasons import said
from trackspread.statistics import spread
from trackspread.statistics.spread import (
    Variance,
    across_rides,
    of_route,
    percentile_95,
    pooled,
    running,
    variance,
)

few = settings(max_examples=30, deadline=None, derandomize=True)
seeds = st.integers(0, 10_000)
RIDES = np.array([0, 0, 1, 2, 2, 2, 3])


def offsets(seed: int, traces: int, size: int, missing: float = 0.25) -> np.ndarray:
    rng = np.random.default_rng(seed)
    values = rng.normal(5.0, 2.0, (traces, size))
    values[rng.random(values.shape) < missing] = np.nan
    return values


def flat(offset_m: np.ndarray, ride: np.ndarray, **options: np.ndarray) -> Variance:
    """Return the variance on a straight line where every offset was logged, not interpolated."""
    size = offset_m.shape[1]
    given_ = {
        "span_m": np.zeros(offset_m.shape),
        "left_out": np.zeros(offset_m.shape, bool),
        "receiver": np.zeros(len(offset_m), int),
        "heading_rad": np.zeros(size),
    } | options
    return variance(
        offset_m, given_["span_m"], given_["left_out"], ride, given_["receiver"], given_["heading_rad"], 5.0
    )


# --- the variance of one trace ----------------------------------------------------------------------


@few
@given(seeds, st.lists(st.integers(0, 3), min_size=2, max_size=8))
def test_variance_is_that_of_all_pairs_of_different_rides(seed: int, rides: list[int]) -> None:
    """Half the mean squared difference (Hoeffding 1948), pair by pair; and the same within rides."""
    ride = np.array(rides)
    values = offsets(seed, len(ride), 12)
    across, within = across_rides(values, ride)
    for k in range(12):
        halves: dict[bool, list[float]] = {True: [], False: []}
        for i, j in itertools.combinations(range(len(ride)), 2):
            difference = values[i, k] - values[j, k]
            if np.isfinite(difference):
                halves[bool(ride[i] == ride[j])].append(difference**2 / 2)
        for found, same in ((across, False), (within, True)):
            if halves[same]:
                assert found[k] == pytest.approx(np.mean(halves[same]), rel=1e-9, abs=1e-9)
            else:
                assert np.isnan(found[k])


def test_an_offset_that_was_not_interpolated_counts() -> None:
    """What a trace errs by out of reach has no span between its points, and is the largest error of all."""
    values = np.random.default_rng(2).normal(0.0, 2.0, (4, 300))
    values[1, 100:130] += 70.0
    span_m = np.zeros(values.shape)
    span_m[1, 100:130] = np.nan
    found = flat(values, np.arange(4), span_m=span_m)
    np.testing.assert_allclose(found.variance_m2, values.var(axis=0, ddof=1), rtol=1e-4)


def test_with_one_trace_a_ride_it_is_the_usual_variance() -> None:
    values = np.random.default_rng(1).normal(3.0, 2.0, (6, 30))
    across, within = across_rides(values, np.arange(6))
    np.testing.assert_allclose(across, values.var(axis=0, ddof=1))
    assert np.isnan(within).all()


def test_nothing_known_gives_nothing() -> None:
    across, within = across_rides(np.full((3, 4), np.nan), np.arange(3))
    assert np.isnan(across).all()
    assert np.isnan(within).all()


@few
@given(seeds, st.floats(-500, 500), st.floats(0.01, 50), st.permutations(range(7)))
def test_variance_shifts_scales_and_shuffles_as_it_must(
    seed: int, shift: float, factor: float, order: list[int]
) -> None:
    values = offsets(seed, 7, 9)
    here = np.array(across_rides(values, RIDES))
    moved = np.array(across_rides(factor * values + shift, RIDES))
    np.testing.assert_allclose(moved, factor**2 * here, rtol=1e-6, atol=1e-6 * factor**2)
    np.testing.assert_allclose(np.array(across_rides(values[order], RIDES[order])), here, atol=1e-9)


def test_large_northings_cost_no_digits() -> None:
    values = np.random.default_rng(2).normal(0.0, 0.01, (5, 20))
    across, _ = across_rides(values + 4e6, np.arange(5))
    np.testing.assert_allclose(across, values.var(axis=0, ddof=1), rtol=1e-5)


@pytest.mark.parametrize("shared", [0.0, 0.5, 0.9])
def test_it_is_unbiased_whatever_the_traces_of_one_ride_share(shared: float) -> None:
    """Monte Carlo: 40,000 stations of seven traces of four rides with a common part of each ride."""
    rng = np.random.default_rng(int(10 * shared))
    common = np.sqrt(shared) * rng.standard_normal((4, 40_000))[RIDES]
    values = 2.5 * (common + np.sqrt(1 - shared) * rng.standard_normal((7, 40_000)))
    across, within = across_rides(values, RIDES)
    assert across.mean() == pytest.approx(2.5**2, rel=0.02)
    assert within.mean() == pytest.approx((1 - shared) * 2.5**2, rel=0.02)
    naive = values.var(axis=0, ddof=1).mean()
    assert shared == 0.0 or naive < 0.93 * 2.5**2


# --- degrees of freedom and interpolation ------------------------------------------------------------


def test_degrees_of_freedom_of_one_trace_a_ride() -> None:
    values = offsets(3, 5, 40)
    found = flat(values, np.arange(5))
    count = np.isfinite(values).sum(axis=0)
    np.testing.assert_array_equal(found.count, count)
    enough = count >= 2
    np.testing.assert_allclose(found.dof[enough], count[enough] - 1.0)
    assert np.isnan(found.dof[~enough]).all()
    assert np.isnan(found.variance_m2[~enough]).all()
    np.testing.assert_allclose(found.variance_m2[enough], np.nanvar(values[:, enough], axis=0, ddof=1))


@pytest.mark.parametrize(("shared", "low", "high"), [(0.0, 5.4, 6.0), (1.0, 2.95, 3.1)])
def test_traces_that_are_alike_count_as_one(shared: float, low: float, high: float) -> None:
    """Seven traces of four rides: 3 degrees of freedom where those of a ride are one, else 6."""
    rng = np.random.default_rng(4)
    values = np.sqrt(shared) * rng.standard_normal((4, 3000))[RIDES]
    values = values + np.sqrt(1 - shared) * rng.standard_normal((7, 3000))
    found = flat(values, RIDES)
    assert low <= np.mean(found.dof) <= high


def test_traces_that_are_half_alike_count_by_the_square_of_their_likeness() -> None:
    """1 / nu = a^2 / 3 + (1 - a^2) / 6, a their correlation: 1 less the variance within over that across rides."""
    rng = np.random.default_rng(30)
    values = np.sqrt(0.5) * (rng.standard_normal((4, 800))[RIDES] + rng.standard_normal((7, 800)))
    across, within = across_rides(values, RIDES)
    alike = 1.0 - within.sum() / across.sum()
    assert alike == pytest.approx(0.5, abs=0.05)
    np.testing.assert_allclose(flat(values, RIDES).dof, 1.0 / (alike**2 / 3.0 + (1.0 - alike**2) / 6.0))


@pytest.mark.parametrize("rides", [2, 3, 6])
def test_the_correlation_is_that_of_the_posterior_with_bursts_drawn_in(rides: int) -> None:
    """2.5 robust standard deviations (1.4826 MAD of what is known), rides - 1 degrees of freedom a station."""
    values = gauss_markov(np.random.default_rng(31), rides, 200, 5.0, 100.0)
    found = flat(values, np.zeros(rides, dtype=np.int64) + np.arange(rides))
    standard = found.residual_m / np.sqrt(np.nanmean(found.residual_m**2))
    most = 2.5 * 1.4826 * np.median(np.abs(standard))
    own = float(found.dof.sum()) / standard.size
    kinds = posterior(np.clip(standard, -most, most), np.zeros(200), 5.0, own)
    expected = kinds.correlation(np.zeros(200), 5.0).by_lag
    assert found.correlation.by_lag == pytest.approx(expected, abs=1e-4)


def test_where_one_trace_is_alone_it_has_no_residual() -> None:
    values = np.random.default_rng(32).normal(5.0, 2.0, (3, 40))
    values[1:, 10:20] = np.nan
    residual = flat(values, np.arange(3)).residual_m
    assert np.flatnonzero(np.isnan(residual).all(axis=0)).tolist() == list(range(10, 20))
    assert residual[:, [0, 30]].mean(axis=0) == pytest.approx(0.0, abs=1e-12)


def test_unequal_receivers_cost_degrees_of_freedom() -> None:
    """Satterthwaite: (sum v)^2 / (n sum v^2) of n - 1; of v = 1 and 9 by halves 25 / 41 is left."""
    rng = np.random.default_rng(5)
    receiver = np.repeat([0, 1], 20)
    values = np.where(receiver[:, None] == 0, 1.0, 3.0) * rng.standard_normal((40, 500))
    found = flat(values, np.arange(40), receiver=receiver)
    assert found.dof.mean() / 39 == pytest.approx(25 / 41, rel=0.03)
    blind = flat(values, np.arange(40))
    np.testing.assert_allclose(blind.dof, 39.0)


def test_receivers_of_unequal_number_weigh_by_their_traces() -> None:
    """30 traces with v = 1 and 10 with v = 9: (30 + 90)^2 / (40 (30 + 810)) of n - 1 is left."""
    rng = np.random.default_rng(15)
    receiver = np.repeat([0, 1, 2], [30, 10, 1])
    values = np.array([1.0, 3.0, 1.0])[receiver][:, None] * rng.standard_normal((41, 600))
    values[40] = np.nan  # a receiver without data says nothing
    found = flat(values, np.arange(41), receiver=receiver)
    assert found.dof.mean() / 39 == pytest.approx(120**2 / (40 * 840), rel=0.04)
    small = flat(0.01 * values, np.arange(41), receiver=receiver)
    np.testing.assert_allclose(small.dof, found.dof)


def test_what_all_traces_share_is_no_residual() -> None:
    """An error of the line moves all offsets alike: neither variance nor correlation may see it."""
    rng = np.random.default_rng(16)
    values = rng.standard_normal((6, 400))
    line_error = 20.0 * np.sin(np.arange(400) / 30.0)
    plain, moved = flat(values, np.arange(6)), flat(values + line_error, np.arange(6))
    np.testing.assert_allclose(moved.variance_m2, plain.variance_m2, rtol=1e-9)
    np.testing.assert_allclose(moved.correlation.by_lag, plain.correlation.by_lag, atol=1e-6)
    assert moved.correlation.at(100.0) < 0.3


def test_two_traces_at_a_station_still_tell_the_correlation() -> None:
    rng = np.random.default_rng(17)
    values = gauss_markov(rng, 2, 2000, 5.0, 40.0)
    assert flat(values, np.arange(2)).correlation.at(200.0) < 0.25


def test_one_ride_alone_has_no_spread() -> None:
    found = flat(offsets(6, 3, 10, 0.0), np.zeros(3, int))
    assert np.isnan(found.variance_m2).all()
    assert np.isnan(found.dof).all()


def test_what_is_left_out_has_no_say() -> None:
    values = offsets(7, 5, 60, 0.0)
    left_out = np.zeros(values.shape, bool)
    left_out[2, 10:30] = True
    spoilt = values.copy()
    spoilt[2, 10:30] += 1000.0
    found, expected = flat(spoilt, np.arange(5), left_out=left_out), np.where(left_out, np.nan, values)
    np.testing.assert_allclose(found.variance_m2, np.nanvar(expected, axis=0, ddof=1), rtol=1e-6)
    np.testing.assert_array_equal(found.count, np.where(left_out.any(axis=0), 4, 5))


def test_variance_lost_by_interpolating_is_put_back() -> None:
    """Points 60 m apart of a process with rho(60 m) = exp(-1.2), interpolated to stations of 5 m."""
    rng = np.random.default_rng(8)
    size, step, apart = 2401, 5.0, 12
    every = 3.0 * gauss_markov(rng, 40, size, step, 50.0)
    at = np.arange(size)
    logged = at[::apart]
    values = np.array([np.interp(at, logged, row[logged]) for row in every])
    found = flat(values, np.arange(40), span_m=np.full(values.shape, apart * step))
    raw = values.var(axis=0, ddof=1).mean()
    rho = np.exp(-apart * step / 50.0)
    assert raw == pytest.approx(9.0 * (2 + rho) / 3, rel=0.05)
    assert found.variance_m2.mean() == pytest.approx(9.0, rel=0.08)
    assert found.variance_m2.mean() > 1.1 * raw


# --- pooling -----------------------------------------------------------------------------------------


def known(variance_m2: np.ndarray, dof: float, correlation: Correlation) -> Variance:
    values = np.asarray(variance_m2, float)
    return Variance(
        variance_m2=values,
        level_m2=np.ones(len(values)),
        count=np.full(len(values), 4),
        dof=np.where(np.isfinite(values), dof, np.nan),
        correlation=correlation,
        kinds=posterior(np.ones((4, len(values))), np.zeros(len(values)), 5.0),
        residual_m=np.ones((4, len(values))),
        receiver_m2=np.ones(4),
        ride=np.arange(4),
    )


def test_pooling_is_the_root_of_the_mean_variance_with_a_chi_square_interval() -> None:
    """Perfectly correlated stations are worth one; independent ones all of them."""
    alike = known([4.0, 9.0, np.nan, 5.0], 3.0, exponential(4, 5.0, 1e12))
    found = pooled(alike, 0, 4, 0.95)
    assert found.value == pytest.approx(np.sqrt(6.0))
    low, high = stats.chi2.ppf([0.975, 0.025], 3.0)
    assert (found.low, found.high) == pytest.approx((np.sqrt(18 / low), np.sqrt(18 / high)), rel=1e-3)
    apart = pooled(known(np.full(40, 4.0), 3.0, exponential(40, 5.0, 1e-6)), 0, 40, 0.95)
    low, high = stats.chi2.ppf([0.975, 0.025], 120.0)
    assert (apart.low, apart.high) == pytest.approx(
        (2 * np.sqrt(120 / low), 2 * np.sqrt(120 / high)), rel=1e-3
    )


def test_pooling_takes_the_stations_asked_for_and_the_confidence() -> None:
    every = known(np.arange(1.0, 21.0), 3.0, exponential(20, 5.0, 200.0))
    part = pooled(every, 5, 10, 0.95)
    assert part.value == pytest.approx(np.sqrt(np.mean(np.arange(6.0, 11.0))))
    narrow = pooled(every, 5, 10, 0.8)
    assert part.low < narrow.low < narrow.value < narrow.high < part.high


def test_pooling_nothing_says_why() -> None:
    found = pooled(known([np.nan, np.nan], 3.0, exponential(2, 5.0, 100.0)), 0, 2, 0.95)
    assert np.isnan([found.value, found.low, found.high]).all()
    assert said(found.reason) == "fewer than two rides here"


@pytest.mark.parametrize(("rides", "length_m"), [(4, 150.0), (4, 1500.0), (8, 400.0)])
def test_intervals_cover_as_often_as_they_say(rides: int, length_m: float) -> None:
    """300 routes of 1.5 km with a known standard deviation: segments of 50 m; 60 of them whole, at 95 %."""
    rng = np.random.default_rng(rides + int(length_m))
    inside, whole, values = [], [], []
    for number in range(300):
        found = flat(2.0 * gauss_markov(rng, rides, 300, 5.0, length_m / 2.0), np.arange(rides))
        segments = [pooled(found, k, k + 10, 0.95) for k in (0, 90, 180, 270)]
        inside += [s.low <= 2.0 <= s.high for s in segments]
        values += [s.value**2 for s in segments]
        if number < 60:
            route = of_route(found, 0.95)
            whole.append(route.low <= 2.0 <= route.high)
    assert np.mean(values) == pytest.approx(4.0, rel=0.08)
    assert 0.92 < np.mean(inside) < 0.98
    assert np.mean(whole) > 0.87


def test_places_of_unequal_variance_are_worth_fewer_degrees_of_freedom() -> None:
    """Two independent halves, variances 1 and 9: nu is halved by mean(v^2) / mean(v)^2 = 41 / 25."""
    even = known(np.full(40, 5.0), 3.0, exponential(40, 5.0, 1e-6))
    uneven = replace(even, level_m2=np.repeat([1.0, 9.0], 20))
    low, high = stats.chi2.ppf([0.975, 0.025], 120.0 * 25 / 41)
    found = pooled(uneven, 0, 40, 0.95)
    assert found.value == pytest.approx(np.sqrt(5.0))
    assert (found.low, found.high) == pytest.approx(
        (np.sqrt(5 * 120 * 25 / 41 / low), np.sqrt(5 * 120 * 25 / 41 / high)), rel=1e-3
    )
    assert pooled(uneven, 0, 20, 0.95).low == pooled(even, 0, 20, 0.95).low


def test_a_level_differs_from_place_to_place_only_where_chance_does_not_explain_it() -> None:
    rng = np.random.default_rng(21)
    errors = gauss_markov(rng, 12, 1000, 5.0, 100.0)
    assert np.ptp(flat(errors, np.arange(12)).level_m2) == pytest.approx(0.0, abs=1e-9)
    gorge = np.where(np.arange(1000) // 200 == 2, 3.0, 1.0)
    level = flat(errors * gorge, np.arange(12)).level_m2
    assert level[440:560].mean() == pytest.approx(9.0, rel=0.3)
    assert level[:360].mean() == pytest.approx(1.0, rel=0.3)


def test_the_interval_of_a_route_with_a_gorge_covers_as_often_as_it_says() -> None:
    """Errors three times as large over 15 % of the way; taken for places alike it is 0.65 to 0.87."""
    rng, inside = np.random.default_rng(22), []
    for place in range(80):
        at = (np.arange(600) / 600 - 0.01 * place) % 1.0
        gorge = np.where(at < 0.15, 3.0, 1.0)
        found = of_route(flat(gauss_markov(rng, 8, 600, 5.0, 300.0) * gorge, np.arange(8)), 0.95)
        inside.append(found.low <= np.sqrt(np.mean(gorge**2)) <= found.high)
    assert np.mean(inside) > 0.9


def test_the_interval_of_a_route_with_unequal_receivers_covers_as_often_as_it_says() -> None:
    """Errors of 1 and 3 m, four traces each; the truth is the root of the mean variance, sqrt(5)."""
    rng, inside = np.random.default_rng(23), []
    receiver = np.repeat([0, 1], 4)
    for _ in range(60):
        errors = gauss_markov(rng, 8, 400, 5.0, 200.0) * np.where(receiver == 0, 1.0, 3.0)[:, None]
        found = of_route(flat(errors, np.arange(8), receiver=receiver), 0.95)
        inside.append(found.low <= np.sqrt(5.0) <= found.high)
    assert np.mean(inside) > 0.87


def test_the_figure_of_a_route_is_the_pooled_one_and_lies_in_its_interval() -> None:
    rng = np.random.default_rng(24)
    for rides in (2, 3, 5):
        made = flat(3.0 * gauss_markov(rng, rides, 100, 5.0, 100.0), np.arange(rides))
        found, usual = of_route(made, 0.95), pooled(made, 0, 100, 0.95)
        assert found.value == usual.value
        assert 0.0 < found.low <= found.value <= found.high < np.inf
        narrow = of_route(made, 0.5)
        assert found.low < narrow.low <= narrow.high < found.high


def test_with_many_rides_the_interval_of_a_route_comes_near_that_by_chi_square() -> None:
    """Sixty normal rides show that they have no tails: what is left of them widens it by half at most."""
    rng = np.random.default_rng(25)
    many = flat(gauss_markov(rng, 60, 400, 5.0, 100.0), np.arange(60))
    route, usual = of_route(many, 0.95), pooled(many, 0, 400, 0.95)
    assert 0.9 < np.log(route.high / route.low) / np.log(usual.high / usual.low) < 1.5


def test_bursts_that_four_rides_did_not_show_widen_the_interval_of_all_errors() -> None:
    made = flat(gauss_markov(np.random.default_rng(30), 4, 600, 5.0, 150.0), np.arange(4))
    kept, every = of_route(made, 0.95), of_route(made, 0.95, bursts=True)
    assert every.low < kept.low < kept.value == every.value < kept.high < every.high


@pytest.mark.parametrize("rides", [4, 10])
def test_the_interval_of_all_errors_holds_where_they_burst(rides: int) -> None:
    """Power 25 times the usual in a twentieth of the blocks of 300 m; by chi-square alone it holds in 0.5."""
    rng, inside, usual = np.random.default_rng(31), [], []
    sigma = np.sqrt(0.95 + 0.05 * 25.0)
    for _ in range(60):
        power = np.repeat(np.where(rng.random((rides, 10)) < 0.05, 5.0, 1.0), 60, axis=1)
        made = flat(power * gauss_markov(rng, rides, 600, 5.0, 200.0), np.arange(rides))
        every, plain = of_route(made, 0.95, bursts=True), pooled(made, 0, 600, 0.95)
        inside.append(every.low <= sigma <= every.high)
        usual.append(plain.low <= sigma <= plain.high)
    assert np.mean(inside) > 0.87
    assert np.mean(usual) < np.mean(inside)


@pytest.mark.parametrize("unit", [1e-3, 1e3])
def test_the_interval_of_a_route_scales_with_its_errors(unit: float) -> None:
    """Also where places and receivers differ: in millimetres or kilometres the same rides say the same."""
    rng, receiver = np.random.default_rng(26), np.array([0, 0, 1, 1])
    own = np.where(receiver == 0, 1.0, 3.0)[:, None] * np.where(np.arange(300) < 60, 4.0, 1.0)
    errors = gauss_markov(rng, 4, 300, 5.0, 60.0) * own
    one, other = (of_route(flat(u * errors, np.arange(4), receiver=receiver), 0.95) for u in (1.0, unit))
    assert one.low < one.value < one.high
    assert (other.value, other.low, other.high) == pytest.approx(
        (unit * one.value, unit * one.low, unit * one.high), rel=1e-6
    )


def test_a_worse_receiver_widens_the_interval_of_a_route() -> None:
    """Unequal variances v take n sum v^2 / (sum v)^2 from the degrees of freedom (Satterthwaite 1946)."""
    rng, scale = np.random.default_rng(27), np.array([1.0, 1.0, 5.0, 5.0])
    errors = np.concatenate([gauss_markov(rng, 2, 100, 5.0, tau) for tau in (500.0, 30.0)])
    even = replace(
        known(np.ones(100), 3.0, exponential(100, 5.0, 200.0)), residual_m=errors - errors.mean(axis=0)
    )
    unequal = 4.0 * np.sum(scale**4) / np.sum(scale**2) ** 2
    uneven = replace(
        even, residual_m=even.residual_m * scale[:, None], receiver_m2=scale**2, dof=even.dof / unequal
    )
    one, other = (np.log(e.high / e.low) for e in (of_route(even, 0.95), of_route(uneven, 0.95)))
    assert 1.0 < other / one < np.sqrt(unequal)


def test_a_receiver_that_is_always_in_the_middle_costs_nothing() -> None:
    x = gauss_markov(np.random.default_rng(28), 1, 100, 5.0, 60.0)
    found = of_route(flat(np.concatenate([x, 0.0 * x, -x]), np.arange(3), receiver=np.array([0, 1, 0])), 0.95)
    assert 0.0 < found.low < found.value < found.high < np.inf


def test_traces_that_are_all_one_have_no_spread_and_no_interval() -> None:
    found = of_route(flat(np.ones((4, 50)), np.arange(4)), 0.95)
    assert (found.value, found.low, found.high) == (0.0, 0.0, 0.0)
    none = of_route(flat(np.full((2, 50), np.nan), np.arange(2)), 0.95)
    assert said(none.reason) == "fewer than two rides here"


def test_the_running_spread_is_the_pooled_one_around_each_station() -> None:
    rng = np.random.default_rng(9)
    rho = exponential(200, 5.0, 300.0)
    values = 4.0 * rng.chisquare(3, 200) / 3
    found = known(values, 3.0, rho)
    value, low, high = running(found, 100.0, 0.95)
    for k in (10, 50, 110, 189):
        around = pooled(found, max(0, k - 10), k + 11, 0.95)
        assert value[k] == pytest.approx(around.value, rel=1e-9)
        assert low[k] == pytest.approx(around.low, rel=0.02)
        assert high[k] == pytest.approx(around.high, rel=0.05)
    assert value[0] == pytest.approx(np.sqrt(values[:11].mean()))
    assert (low < value).all()
    assert (value < high).all()


@pytest.mark.parametrize("length_m", [50.0, 300.0, 1500.0])
def test_the_running_interval_is_that_of_the_stations_in_the_window_at_the_ends_too(length_m: float) -> None:
    """The first and the last windows hold fewer stations, alike over more of them: the pooled interval of these."""
    found = known(np.full(300, 4.0), 3.0, exponential(300, 5.0, length_m))
    _, low, high = running(found, 300.0, 0.95)
    for k in (0, 7, 15, 29, 30, 150, 269, 292, 299):
        around = pooled(found, max(0, k - 30), min(300, k + 31), 0.95)
        assert (low[k], high[k]) == pytest.approx((around.low, around.high), rel=0.02)


def test_the_running_spread_is_nan_where_there_is_no_variance() -> None:
    values = np.full(60, 4.0)
    values[20:30] = np.nan
    figures = running(known(values, 3.0, exponential(60, 5.0, 300.0)), 100.0, 0.95)
    for figure in figures:
        np.testing.assert_array_equal(np.isnan(figure), np.isnan(values))
    np.testing.assert_allclose(figures[0][np.isfinite(values)], 2.0)


def test_the_running_interval_is_the_pooled_one_along_a_winding_line() -> None:
    """Headings differ from window to window, so each has degrees of freedom of its own."""
    heading = np.cumsum(np.random.default_rng(1).normal(0, 0.25, 150))
    found = known(np.full(150, 4.0), 3.0, exponential(150, 5.0, 400.0, heading))
    value, low, high = running(found, 100.0, 0.9)
    for k in range(10, 140, 10):
        around = pooled(found, k - 10, k + 11, 0.9)
        assert (value[k], low[k]) == pytest.approx((around.value, around.low), rel=0.004)
        assert high[k] == pytest.approx(around.high, rel=0.02)


def test_the_narrowest_window_takes_in_both_neighbours() -> None:
    values = np.arange(1.0, 31.0)
    value, _, _ = running(known(values, 3.0, exponential(30, 5.0, 50.0)), 10.0, 0.95)
    np.testing.assert_allclose(value[1:-1], np.sqrt(values[1:-1]))
    assert value[0] == pytest.approx(np.sqrt(1.5))
    few, low, high = running(known(np.full(30, 4.0), 0.4, exponential(30, 5.0, 1e9)), 10.0, 0.95)
    assert np.isfinite(low).all()
    assert (high / few > 50).all()


@pytest.mark.parametrize("size", [1, 2, 5, 21])
def test_the_running_spread_of_a_short_route(size: int) -> None:
    value, low, high = running(known(np.full(size, 4.0), 3.0, exponential(size, 5.0, 300.0)), 100.0, 0.95)
    np.testing.assert_allclose(value, 2.0)
    assert (low < 2.0).all()
    assert (high > 2.0).all()


# --- the 95th percentile -----------------------------------------------------------------------------


@pytest.mark.parametrize("traces", [4, 10])
def test_the_percentile_makes_up_for_the_mean_that_was_taken_off(traces: int) -> None:
    """Of normal values with a standard deviation of 2: 1.96 * 2."""
    values = 2.0 * np.random.default_rng(traces).standard_normal((traces, 30_000))
    residual = values - values.mean(axis=0)
    found = percentile_95(residual, np.full(30_000, traces))
    assert found == pytest.approx(2.0 * stats.norm.ppf(0.975), rel=0.02)


def test_the_percentile_leaves_out_what_stands_alone() -> None:
    residual = np.array([[0.0, 1.0, np.nan], [np.nan, -1.0, np.nan]])
    assert percentile_95(residual, np.array([1, 2, 0])) == pytest.approx(np.sqrt(2.0))
    assert np.isnan(percentile_95(residual[:, :1], np.array([1])))


def test_the_likeness_of_a_ride_is_between_none_and_all() -> None:
    assert spread._likeness(np.array([4.0, 4.0]), np.array([1.0, 1.0])) == pytest.approx(0.75)
    assert spread._likeness(np.array([4.0, np.nan]), np.array([6.0, 1.0])) == 0.0
    assert spread._likeness(np.array([4.0]), np.array([np.nan])) == 0.0
    assert spread._likeness(np.array([0.0]), np.array([0.0])) == 0.0
    assert spread._likeness(np.array([4e-4]), np.array([1e-4])) == pytest.approx(0.75)
