"""The clock offset of two receivers ridden together, and companions whose clocks are hours apart."""

from __future__ import annotations

import re
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from ridden_together import LONG, MIXED, SHORT, Campaign, campaign
from thinly import first_quick
from trackspread.noise.effective import Along
from trackspread.noise.gauss_markov import SIZES, TIME_UNIT_S, Kinds, grid
from trackspread.pairs import clock as module
from trackspread.pairs.clock import CLOCKS_SET, Clock, along_separation, clock_offset, find_companions
from trackspread.pairs.motion import Motion
from trackspread.results.words.reasons import said


def clock(made: Campaign, extra_s: np.ndarray | float = 0.0) -> Clock:
    a, b = made.crossing_s[0::2], made.crossing_s[1::2]
    return clock_offset(a + extra_s, b, made.station_m, Along.of(made.station_m), 0.95)


@pytest.mark.parametrize("taus", [SHORT, MIXED, LONG])
@pytest.mark.parametrize("true_s", [0.0, 2.4, -3600.0, 7200.7, -86_400.0 * 3])
def test_within_a_second(true_s: float, taus: tuple[tuple[float, float], ...]) -> None:
    found = clock(campaign(11, taus=taus, clocks_s=(true_s, 0.0))).pooled
    assert abs(found.value - true_s) < 0.5
    assert found.low < found.value < found.high


@pytest.mark.slow
def test_intervals_cover() -> None:
    """At least 88 % of 60 intervals of 95 %: the 5 % point of Binomial(60, 0.95) is 54 = 90 %."""
    found = [clock(campaign(100 + seed, taus=MIXED)).pooled for seed in range(60)]
    assert sum(e.low <= 0.0 <= e.high for e in found) >= 53
    assert np.median([abs(e.value) for e in found]) <= 0.3
    width, scatter = np.mean([e.high - e.low for e in found]), np.std([e.value for e in found])
    assert 1.5 < width / (2.0 * scatter) < 4.0


@pytest.mark.parametrize(("taus", "stops"), first_quick([(SHORT, 1), (MIXED, 6), (LONG, 6)]))
def test_intervals_of_one_ride_cover(taus: tuple[tuple[float, float], ...], stops: int) -> None:
    """At least 53 of 60, and no wider than the figures scatter calls for (t(0.975; 20) = 2.09 standard deviations)."""
    found = [clock(campaign(900 + seed, taus=taus, rides=1, stops=stops)).pooled for seed in range(60)]
    assert sum(e.low <= 0.0 <= e.high for e in found) >= 53
    width, scatter = np.mean([e.high - e.low for e in found]), np.std([e.value for e in found])
    assert width / (2.0 * scatter) == pytest.approx(2.2, rel=0.25)


def test_one_ride_and_no_stops_still_tell() -> None:
    found = clock(campaign(12, rides=1, stops=0, clocks_s=(5.0, 0.0))).pooled
    assert abs(found.value - 5.0) < 1.0


def short(seed: int, scatter_s: float, size: int = 100) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times of two receivers on a way of 100 s at one speed: a is 7 s ahead on the mean."""
    rng = np.random.default_rng(seed)
    station = 5.0 * np.arange(size)
    b = 1.9e9 + 86_400.0 * np.arange(2)[:, None] + np.broadcast_to(station / 5.0, (2, size))
    return station, b + 7.0 + np.clip(rng.normal(0.0, scatter_s, b.shape), -2 * scatter_s, 2 * scatter_s), b


def test_where_the_speed_never_changes_the_mean_tells() -> None:
    """Errors of 0.3 s from station to station: the mean of three in five, as far as errors may be alike."""
    station, a, b = short(1, 0.3)
    found = clock_offset(a, b, station, Along.of(station), 0.95).pooled
    error = 0.3 * np.sqrt(5.0 / 3.0 / a.size)
    assert found.value == pytest.approx(7.0, abs=3.0 * error)
    assert 1.96 * error < found.high - found.value < 25.0 * error
    assert found.low < np.mean(a - b) < found.high


def test_too_short_a_way_leaves_the_middle_and_no_interval() -> None:
    station, a, b = short(4, 0.3, size=30)
    found = clock_offset(a, b, station, Along.of(station), 0.95)
    assert found.pooled.value == pytest.approx(np.median(np.median(a - b, axis=1)))
    assert np.isnan(found.pooled.low)
    assert said(found.pooled.reason) == "too few stations for an interval"
    first = np.where(np.arange(2)[:, None] == 0, a, np.nan)
    alone = clock_offset(first, b, station, Along.of(station), 0.95).by_ride_s
    assert alone == pytest.approx([np.median(a[0] - b[0]), np.nan], nan_ok=True)
    apart = clock_offset(a + np.array([[0.0], [3600.0]]), b, station, Along.of(station), 0.95).pooled
    assert said(apart.reason) == "the clocks were set between rides: a is ahead by 7.0 s to 1 h 7 s"


def test_two_clocks_that_never_differ_have_a_level_and_no_interval() -> None:
    station, _, b = short(2, 0.0)
    found = clock_offset(b + 7.0, b, station, Along.of(station), 0.95)
    assert found.pooled.value == pytest.approx(7.0)
    assert np.isnan(found.pooled.low)
    assert said(found.pooled.reason) == "too few stations for an interval"
    assert found.by_ride_s == pytest.approx([7.0, 7.0])


def test_a_clock_set_half_way_costs_no_more_than_the_figure() -> None:
    """Alike to the digit before and after: no warning of a variance of nothing, and an interval or a reason."""
    for size in (300, 301):
        station, _, b = short(2, 0.0, size=size)
        for set_s in (40.0, 3600.0, 1e5):
            a = b + 7.0 + np.where(np.arange(size) >= size // 2, set_s, 0.0)
            found = clock_offset(a, b, station, Along.of(station), 0.95).pooled
            assert found.reason or found.low <= found.value <= found.high


def pace_by_scipy(a_s: np.ndarray, b_s: np.ndarray, station_m: np.ndarray) -> tuple[float, float]:
    """Return the shift that makes the ways of every 10 s agree best, and its error: least squares by scipy."""
    edges = np.arange(b_s[0] + 31.0, b_s[-1] - 31.0, 10.0)
    made_b = np.diff(np.interp(edges, b_s, station_m))

    def apart(shift: float) -> np.ndarray:
        return np.diff(np.interp(edges + shift, a_s, station_m)) - made_b

    at = float(
        optimize.minimize_scalar(lambda s: np.sum(apart(s) ** 2), bounds=(-9.0, 9.0), method="bounded").x
    )
    power = np.sum(((apart(at + 1.0) - apart(at - 1.0)) / 2.0) ** 2)
    return at, float(np.sqrt(np.mean(apart(at) ** 2) / power))


@pytest.mark.parametrize("seed", range(6))
def test_the_pace_is_that_of_least_squares(seed: int) -> None:
    """One ride of a receiver 60 m ahead all the way: the level is 11 s off and uncertain, the pace is not."""
    made = campaign(200 + seed, rides=1, sigmas_m=(0.6, 0.6), taus=SHORT, stops=0, length_m=8000.0)
    station = made.station_m
    a, b = made.crossing_s
    ahead = 60.0 + 30.0 * np.sin(station / 1200.0)
    a = np.interp(station, station - ahead, a)
    shift, error = pace_by_scipy(a, b, station)
    found = clock_offset(a[None], b[None], station, Along.of(station), 0.95).pooled
    assert found.value == pytest.approx(shift, abs=2.0 * error)
    assert found.high - found.value == pytest.approx(1.96 * error, rel=0.5)


def test_rides_that_differ_by_more_than_their_errors_widen_the_interval() -> None:
    """Clocks that wander by a second between rides: the Birge ratio, with Student's t of rides - 1.

    Of three rides with like errors the half width is t(0.975; 2) = 4.303 standard errors of a mean of three.
    """
    made = campaign(30, rides=3, sigmas_m=(0.5, 0.5), taus=SHORT, length_m=8000.0)
    wander = np.array([-1.0, 0.0, 1.0])
    steady, found = clock(made).pooled, clock(made, wander[:, None]).pooled
    assert steady.high - steady.low < 0.4
    assert (found.high - found.low) / 2.0 == pytest.approx(4.303 * stats.sem(wander), rel=0.1)
    assert clock(made, 1.6 * wander[:, None]).pooled.reason.code == CLOCKS_SET
    assert np.isfinite(clock(made, 1.3 * wander[:, None]).pooled.value)


def test_two_rides_are_enough_to_see_that_clocks_were_set() -> None:
    made = campaign(31, rides=2, sigmas_m=(0.5, 0.5), taus=SHORT, length_m=8000.0)
    found = clock(made, np.array([0.0, 6.0])[:, None])
    words = r"the clocks were set between rides: a is ahead by -?0\.[01] s to (5\.9|6\.0|6\.1) s"
    assert re.fullmatch(words, said(found.pooled.reason))
    assert found.by_ride_s == pytest.approx([0.0, 6.0], abs=0.1)


EVEN = np.full(4, 0.25)


def regression(seed: int, rides: int = 2) -> tuple[Motion, Kinds]:
    """Instants of rides with both speeds alike, and what wanderings to try: some quick, some slow."""
    rng = np.random.default_rng(seed)
    columns = rng.normal(0.0, 1.0, (rides, 40, 3)).cumsum(axis=1)
    columns[:, :, 1] = columns[:, :, 2] = rng.uniform(3.0, 7.0, (rides, 40))
    columns[:, :, 0] -= 2.0 * columns[:, :, 1]
    made = Motion(
        step_s=5.0, columns=columns, hidden_m2=np.zeros((rides, 40)),
        direction=np.tile([0.6, 0.8], (rides, 40, 1)),
    )  # fmt: skip
    return made, replace(grid().of(np.isin(np.arange(len(grid().prior)), [1, 4, 30, 77])), prior=EVEN)


def test_the_regression_is_that_of_generalised_least_squares() -> None:
    """numpy's least squares of columns whitened by the Cholesky factor of R; errors of s^2 (x' R^-1 x)^-1.

    Weights by the restricted likelihood (see the module), of two rides to the power of 20 / 22.
    """
    made, kinds = regression(40)
    kinds = replace(kinds, prior=np.array([0.1, 0.2, 0.3, 0.4]))
    made.hidden_m2[0, 5:9], square_m2 = 2.0, np.array([1.0, 2.0, 5.0, 10.0])
    found = module._regressed(made, np.array([7.0, 8.0]), kinds, square_m2)
    apart = 5.0 * np.abs(np.subtract.outer(np.arange(40), np.arange(40)))
    slope, power, log_det, left = np.zeros((4, 4, 2))
    sizes = TIME_UNIT_S * SIZES[kinds.slow], TIME_UNIT_S * SIZES[kinds.quick]
    for k, (share, slow, quick) in enumerate(zip(kinds.share, *sizes, strict=True)):
        rho = share * np.exp(-apart / slow) + (1.0 - share) * np.exp(-apart / quick) + 1e-6 * np.eye(40)
        for ride in range(2):
            whole = rho + np.diag(made.hidden_m2[ride] / square_m2[k])
            y, x = np.linalg.solve(np.linalg.cholesky(whole), made.columns[ride, :, :2]).T
            ((slope[k, ride],), (left[k, ride],), *_) = np.linalg.lstsq(x[:, None], y)
            power[k, ride], log_det[k, ride] = x @ x, np.linalg.slogdet(whole)[1]
    rest = left.sum(axis=1)
    assert found.square_m2 == pytest.approx(rest / 78.0)
    assert found.offset_s == pytest.approx(np.array([7.0, 8.0]) - slope)
    assert found.error_s == pytest.approx(np.sqrt(rest[:, None] / 78.0 / power))
    likely = -0.5 * (log_det + np.log(power)).sum(axis=1) - 39.0 * np.log(rest)
    weight = np.array([0.1, 0.2, 0.3, 0.4]) * np.exp(20.0 / 22.0 * (likely - likely.max()))
    assert found.weight == pytest.approx(weight / weight.sum())
    assert 0.01 < np.median(found.weight) < 0.5


def test_the_regression_of_b_on_a_is_that_of_a_on_b_turned() -> None:
    made, kinds = regression(41)
    made.columns[:, :, 2] += np.random.default_rng(42).normal(0.0, 0.5, (2, 40))
    turned = replace(made, columns=made.columns[:, :, [0, 2, 1]] * np.array([-1.0, 1.0, 1.0]))
    one, other = (module._regressed(m, np.zeros(2), kinds, np.ones(4)) for m in (made, turned))
    assert other.offset_s == pytest.approx(-one.offset_s)
    assert (other.error_s, other.weight) == (pytest.approx(one.error_s), pytest.approx(one.weight))


def test_a_ride_of_which_nothing_is_known_has_no_say() -> None:
    made, kinds = regression(44, rides=3)
    made.columns[1] = np.nan
    some = replace(
        made, columns=made.columns[[0, 2]], hidden_m2=made.hidden_m2[::2], direction=made.direction[::2]
    )
    found, alone = (
        module._regressed(m, np.arange(float(len(m.columns))), kinds, np.ones(4)) for m in (made, some)
    )
    assert found.offset_s[:, 1].tolist() == [1.0] * 4
    assert found.power[:, 1].tolist() == [0.0] * 4
    assert found.error_s[:, 1].tolist() == [np.inf] * 4
    for one, other in zip((found.weight, found.square_m2), (alone.weight, alone.square_m2), strict=True):
        assert one == pytest.approx(other)
    assert found.error_s[:, ::2] == pytest.approx(alone.error_s)
    assert found.offset_s[:, ::2] - [0.0, 2.0] == pytest.approx(alone.offset_s - [0.0, 1.0])


def test_of_more_than_eight_rides_all_tell_the_offset() -> None:
    made = campaign(45, rides=12, clocks_s=(6.0, 0.0), length_m=1500.0)
    found, some = clock(made), clock(replace(made, crossing_s=made.crossing_s[:4]))
    assert found.by_ride_s == pytest.approx(np.full(12, found.pooled.value))
    assert found.pooled.value == pytest.approx(6.0, abs=0.5)
    assert found.pooled.high - found.pooled.low < 0.7 * (some.pooled.high - some.pooled.low)


def fits(offset_s: list[float], error_s: list[float]) -> module._Fits:
    """Fits of rides under one wandering; a ride with an infinite error weighs nothing."""
    error = np.array([error_s])
    return module._Fits(
        weight=np.ones(1),
        square_m2=np.ones(1),
        offset_s=np.array([offset_s]),
        power=error**-2.0,
        error_s=error,
    )


@pytest.mark.parametrize("rides", [1, 3])
def test_errors_are_trusted_like_twenty_degrees_of_freedom(rides: int) -> None:
    """Moderated variance (Smyth 2004, section 4) and scipy's Student's t: rides that agree add rides - 1."""
    found = fits([4.0] * rides, [0.3] * rides).pooled(0.95)
    error = 0.3 / np.sqrt(rides) * np.sqrt(20.0 / (19.0 + rides))
    half = stats.t.ppf(0.975, 19.0 + rides) * error
    assert (found.value, found.low, found.high) == pytest.approx((4.0, 4.0 - half, 4.0 + half), rel=1e-6)
    apart = fits([3.8, 4.0, 4.2], [0.3] * 3).pooled(0.95)
    moderate = 0.3 / np.sqrt(3.0) * np.sqrt((20.0 + 0.08 / 0.09) / 22.0)
    assert apart.high - 4.0 == pytest.approx(stats.t.ppf(0.975, 22.0) * moderate, rel=1e-6)


def test_rides_scatter_about_their_weighted_mean() -> None:
    """Chi-square of a constant that numpy fits with the weights 1 / error."""
    square, dof = fits([1.0, 2.5, 99.0, 4.0], [0.5, 1.0, np.inf, 2.0]).scatter()
    y, weight = np.array([1.0, 2.5, 4.0]), 1.0 / np.array([0.5, 1.0, 2.0])
    assert square == pytest.approx(np.polyfit(np.arange(3.0), y, 0, w=weight, full=True)[1][0])
    assert dof == 2


@pytest.mark.parametrize(
    ("apart_s", "error_s", "set_between"), [(3.2, 0.56, True), (3.2, 0.57, False), (2.9, 0.01, False)]
)
def test_clocks_were_set_where_rides_differ_by_seconds_and_four_errors(
    apart_s: float, error_s: float, set_between: bool
) -> None:
    """Two rides d apart: chi-square is d^2 / 2 e^2, to be over 16; a ride that tells nothing has no say."""
    assert fits([0.0, apart_s], [error_s] * 2).unsteady() == set_between
    assert fits([0.0, 500.0, apart_s], [error_s, np.inf, error_s]).unsteady() == set_between


def test_two_rides_that_differ_have_student_s_interval_of_one_degree_of_freedom() -> None:
    """scipy.stats.t: 12.706 standard errors of a mean of two; the ride that tells nothing changes nothing."""
    for found in (fits([1.0, 3.0], [0.1, 0.1]), fits([1.0, 50.0, 3.0], [0.1, np.inf, 0.1])):
        at = found.pooled(0.95)
        assert at.value == pytest.approx(2.0)
        assert (at.low, at.high) == pytest.approx(
            stats.t.interval(0.95, 1, loc=2.0, scale=stats.sem([1.0, 3.0])), rel=1e-6
        )


def test_the_direction_of_a_straight_line_does_not_matter() -> None:
    made = campaign(43, rides=2, length_m=2000.0)
    a, b, size = made.crossing_s[0::2], made.crossing_s[1::2], len(made.station_m)
    one, other = (
        clock_offset(a, b, made.station_m, Along.of(made.station_m, np.full(size, turn)), 0.95).pooled
        for turn in (0.0, 0.7)
    )
    assert (other.value, other.low, other.high) == pytest.approx((one.value, one.low, one.high), abs=1e-6)


def test_a_jump_of_one_receiver_does_not_move_the_pace() -> None:
    """Beyond four scales nothing counts: the way of one interval, 100 m out, is left aside."""
    made = campaign(32, rides=1, sigmas_m=(0.5, 0.5), taus=SHORT, stops=0, length_m=8000.0)
    a, b = made.crossing_s.copy()
    plain = clock_offset(a[None], b[None], made.station_m, Along.of(made.station_m), 0.95).pooled
    a[600:620] = a[599] + 0.01 * np.arange(1, 21)
    found = clock_offset(a[None], b[None], made.station_m, Along.of(made.station_m), 0.95).pooled
    assert found.value == pytest.approx(plain.value, abs=0.1)
    assert found.high - found.low < 2.0 * (plain.high - plain.low)


def test_clocks_set_between_rides_have_no_common_offset() -> None:
    made = campaign(13, rides=4)
    found = clock(made, np.array([0.0, 0.0, 3600.0, 3600.0])[:, None])
    assert np.isnan(found.pooled.value)
    assert "set between rides" in said(found.pooled.reason)
    assert found.by_ride_s == pytest.approx([0.0, 0.0, 3600.0, 3600.0], abs=1.0)
    found = clock(made, np.array([0.0, 9.0, 0.0, 9.0])[:, None])
    assert "set between rides" in said(found.pooled.reason)
    assert found.by_ride_s == pytest.approx([0.0, 9.0, 0.0, 9.0], abs=1.0)


def test_no_times() -> None:
    made = campaign(14, rides=2)
    nothing = np.full((2, len(made.station_m)), np.nan)
    found = clock_offset(nothing, made.crossing_s[1::2], made.station_m, Along.of(made.station_m), 0.95)
    assert np.isnan(found.pooled.value)
    assert said(found.pooled.reason) == "no times to compare"
    assert np.isnan(found.by_ride_s).all()


def test_one_ride_without_times_leaves_the_others() -> None:
    made = campaign(15, rides=3, clocks_s=(4.0, 0.0))
    a = made.crossing_s[0::2].copy()
    a[1] = np.nan
    found = clock_offset(a, made.crossing_s[1::2], made.station_m, Along.of(made.station_m), 0.95)
    assert abs(found.pooled.value - 4.0) < 0.6
    assert np.isnan(found.by_ride_s[1])


@settings(max_examples=15, deadline=None)
@given(st.floats(-1e6, 1e6))
def test_a_shift_of_one_clock_shifts_the_offset(shift_s: float) -> None:
    made = campaign(16, rides=2, length_m=3000.0)
    assert clock(made, shift_s).pooled.value == pytest.approx(clock(made).pooled.value + shift_s, abs=0.02)


def test_swapping_the_receivers_turns_the_sign() -> None:
    made = campaign(17, clocks_s=(3.0, 0.0))
    a, b, along = made.crossing_s[0::2], made.crossing_s[1::2], Along.of(made.station_m)
    one = clock_offset(a, b, made.station_m, along, 0.95).pooled
    other = clock_offset(b, a, made.station_m, along, 0.95).pooled
    assert other.value == pytest.approx(-one.value, abs=0.05)


def test_along_separation_is_the_way_between_them() -> None:
    """a rides 7 m ahead of b at 5 m/s with its clock 100 s fast: worked by hand."""
    station = np.arange(0.0, 1000.0, 5.0)
    b = 1e9 + station / 5.0
    a = b + 100.0 - 7.0 / 5.0
    found = along_separation(a[None], b[None], station, np.array([100.0]))[0]
    known = np.isfinite(found)
    assert known.sum() >= len(station) - 3
    assert found[known] == pytest.approx(7.0, abs=1e-5)
    assert np.isnan(along_separation(a[None], b[None], station, np.array([np.nan]))).all()


def test_along_separation_ride_by_ride_and_only_where_both_run() -> None:
    """Ride 1 has no clock, ride 2 only the stations from 200 to 500 m, ride 3 two stations, ride 4 one."""
    station = np.arange(0.0, 1000.0, 5.0)
    b = np.tile(1e9 + station / 5.0, (4, 1))
    a = b + 100.0
    a[1, (station < 200.0) | (station > 500.0)] = np.nan
    a[2, (station != 300.0) & (station != 400.0)] = np.nan
    a[3, station != 300.0] = np.nan
    found = along_separation(a, b, station, np.array([np.nan, 100.0, 100.0, 100.0]))
    assert np.isnan(found[0]).all()
    assert np.flatnonzero(np.isfinite(found[1])).tolist() == list(range(40, 101))
    assert np.flatnonzero(np.isfinite(found[2])).tolist() == list(range(60, 81))
    assert np.isnan(found[3]).all()
    assert found[1:3][np.isfinite(found[1:3])] == pytest.approx(0.0, abs=1e-5)


def test_where_it_falls_back_only_the_first_passing_counts() -> None:
    """a shows the stations from 300 to 395 m again, 60 s later: times that fall back do not count."""
    station = np.arange(0.0, 1000.0, 5.0)
    b = 1e9 + station / 5.0
    a = b.copy()
    a[60:80] -= 15.0
    found = along_separation(a[None], b[None], station, np.array([0.0]))[0]
    assert found[:57] == pytest.approx(0.0, abs=1e-6)
    assert found[80:] == pytest.approx(0.0, abs=1e-6)
    assert np.abs(found).max() < 80.0


def test_companions_an_hour_apart_are_proposed_and_others_are_not() -> None:
    made = campaign(18, rides=4, clocks_s=(3600.0, 0.0))
    found = find_companions(made.station_m, made.crossing_s, np.arange(8))
    assert sorted((a, b) for a, b, _ in found) == [(0, 1), (2, 3), (4, 5), (6, 7)]
    assert all(shift == 3600.0 for *_, shift in found)
    assert find_companions(made.station_m, made.crossing_s, np.repeat(np.arange(4), 2)) == []
    other = campaign(19, rides=4)
    assert find_companions(other.station_m, other.crossing_s[0::2], np.arange(4)) == []


def companions(*late_s: np.ndarray | float, ride: list[int] | None = None) -> list[tuple[int, int, float]]:
    """Look for companions among traces that pass 100 stations in half an hour, each late by so much."""
    b = 1.9e9 + 18.0 * np.arange(100.0)
    crossing = np.stack([b + late for late in late_s])
    return find_companions(50.0 * np.arange(100.0), crossing, np.array(ride or range(len(late_s))))


@pytest.mark.parametrize("quarter", [-56, -22, -3, -1, 1, 2, 4, 55, 56])
def test_clocks_differ_by_quarters_of_an_hour_up_to_fourteen(quarter: int) -> None:
    """Zones differ by whole, half and quarter hours; the farthest from UTC is 14 h (Pacific/Kiritimati)."""
    assert companions(900.0 * quarter + 25.0, 0.0) == [(0, 1, 900.0 * quarter)]
    assert companions(900.0 * quarter - 25.0, 0.0) == [(0, 1, 900.0 * quarter)]
    assert companions(900.0 * quarter + 35.0, 0.0) == []


def test_no_companions_beyond_fourteen_hours_nor_of_one_clock() -> None:
    assert companions(57 * 900.0, 0.0) == companions(-57 * 900.0, 0.0) == []
    assert companions(0.0, 0.0) == companions(20.0, 0.0) == []
    assert find_companions(np.arange(5.0), np.empty((0, 5)), np.empty(0, dtype=np.int64)) == []


def test_companions_agree_at_twenty_stations_or_more() -> None:
    late = np.full(100, 3600.0)
    late[20:] = np.nan
    assert companions(late, 0.0) == [(0, 1, 3600.0)]
    late[19:] = np.nan
    assert companions(late, 0.0) == []


def test_each_trace_has_one_companion_the_best_first() -> None:
    """Three on one ride, hours apart, and two on another: the closest pairs, and nobody twice."""
    sway = np.sin(np.arange(100.0))
    found = companions(
        0.0,
        3600.0 + 0.1 * sway,
        7200.0 + 2.0 * sway,
        5e3 + 9.0 * sway**3,
        5e3 + 3600.0 + 9.0 * sway**3 + sway,
    )
    assert found == [(0, 1, -3600.0), (3, 4, -3600.0)]
    assert companions(0.0, 3600.0, 7200.0, ride=[0, 0, 1]) == []
    assert companions(0.0, 3600.0, 7200.0, ride=[5, 2, 5]) == []
    assert companions(0.0, 3600.0, 7200.0, ride=[5, 2, 7]) == [(0, 1, -3600.0)]


def test_an_hourly_commute_by_coincidence_is_no_companion() -> None:
    """The same rider an hour later keeps another pace."""
    rng = np.random.default_rng(1)
    station = np.arange(0.0, 5000.0, 5.0)
    slow = np.cumsum(5.0 / (5.5 * np.exp(0.1 * rng.standard_normal((2, 1000)))), axis=1)
    slow[1] += 3600.0 + 30.0 * (station > 2000.0)
    assert find_companions(station, slow, np.arange(2)) == []


def test_a_thousand_lone_rides_take_seconds() -> None:
    """One ride a day for years: rides more than 14 hours apart are never compared."""
    pace = np.cumsum(
        5.0 / (5.5 * np.exp(0.1 * np.random.default_rng(2).standard_normal((1000, 400)))), axis=1
    )
    crossing = 1.9e9 + 86_400.0 * np.arange(1000.0)[:, None] + pace
    crossing[7] = crossing[3] + 3600.0
    crossing[500] = np.nan
    began = time.monotonic()
    assert find_companions(5.0 * np.arange(400.0), crossing, np.arange(1000)) == [(3, 7, -3600.0)]
    assert time.monotonic() - began < 5.0
