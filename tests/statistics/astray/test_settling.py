"""What falls converges, what keeps its distance does not, and a leap is faster than any ride."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trackspread.noise.correlation import Correlation
from trackspread.statistics.astray.settling import chance_level, companions_agree, converges, fall, leaps

FULL = np.linspace(1.0, 0.0, 101)
STEP_M, SPEED_M_S = 5.0, 5.5
AT_M = STEP_M * np.arange(202)


def settles(fall_m: np.ndarray, scale_m: float = 1.0, heading_rad: float | np.ndarray = 0.0) -> bool:
    """Judge a fall that ends with the others, on a road ridden evenly, errors alike over 300 m."""
    own = np.concatenate([fall_m, np.zeros(202 - len(fall_m))])
    heading = np.broadcast_to(heading_rad, 202).astype(float)
    alike = Correlation(by_lag=np.exp(-AT_M / 300.0), heading_rad=heading, turning=True, step_m=STEP_M)
    return converges(own, 0, scale_m, AT_M / SPEED_M_S, alike)


@pytest.mark.parametrize("height_m", [15.0, 60.0, 300.0])
def test_a_fall_that_is_fast_at_first_converges(height_m: float) -> None:
    for fall_ in (FULL**2, FULL**4, np.exp(-4.0 * (1.0 - FULL)), np.exp(-1.7 * (1.0 - FULL))):
        assert settles(height_m * fall_)


@pytest.mark.parametrize("height_m", [60.0, 300.0])
def test_a_straight_street_that_leads_to_the_route_does_not(height_m: float) -> None:
    assert not settles(height_m * FULL)


@pytest.mark.parametrize("seed", range(6))
def test_a_street_that_falls_shallowly_is_told_from_a_fix_under_errors(seed: int) -> None:
    """70 m over 330 m: errors alike for a minute bent one shape into the other, for a plain sum of squares."""
    rng = np.random.default_rng(seed)
    error = np.linalg.cholesky(np.exp(-np.abs(AT_M[:, None] - AT_M) / 300.0)) @ rng.normal(0.0, 2.6, 202)
    straight = np.maximum(1.0 - AT_M / 330.0, 0.0)
    assert not settles(70.0 * straight + error, 2.6)
    assert settles(70.0 * straight**2 + error, 2.6)
    assert settles(70.0 * np.exp(-AT_M / 120.0) + error, 2.6)


def test_the_error_of_a_fix_keeps_its_direction_on_the_earth_where_the_line_turns() -> None:
    heading = np.deg2rad(120.0) * np.clip(AT_M / 300.0, 0.0, 1.0)
    assert settles(60.0 * np.exp(-AT_M / 150.0) * np.cos(heading), heading_rad=heading)


def test_a_fix_gets_right_with_time_and_not_with_the_way() -> None:
    """Who stands for the first half of the fall makes no way in it: it looks like a corner from above."""
    own = np.concatenate([40.0 * FULL**2, np.zeros(101)])
    alike = Correlation(by_lag=np.exp(-AT_M / 300.0), heading_rad=np.zeros(202), turning=True, step_m=STEP_M)
    slow_start = np.cumsum(np.where(AT_M < 100.0, 20.0, 1.0))
    by_time = 40.0 * np.maximum(1.0 - (slow_start - 20.0) / slow_start[40], 0.0) ** 2
    assert converges(by_time, 0, 1.0, slow_start, alike)
    assert converges(own, 0, 1.0, np.full(202, np.nan), alike)


@pytest.mark.parametrize("height_m", [15.0, 60.0, 300.0])
def test_a_street_that_keeps_its_distance_up_to_a_turn_does_not(height_m: float) -> None:
    beside = np.full(101, height_m)
    beside[-8:] *= np.linspace(1.0, 0.0, 8)
    assert not settles(beside)
    assert not settles(np.full(202, height_m))


def test_the_fall_goes_on_to_where_the_trace_is_with_the_others() -> None:
    deviation = np.concatenate([-40.0 * FULL**2, np.full(20, 0.5)])
    size = fall(deviation, 0, 50, 1.0)
    assert size[0] == 40.0
    assert size[-1] <= 1.0
    assert len(size) == 1 + int(np.argmax(40.0 * FULL**2 <= 1.0))


def test_a_step_faster_than_the_trace_ever_moves_is_a_leap() -> None:
    time = np.arange(60.0)
    x, y = 5.0 * time, np.where(time < 30, 40.0, 0.0)
    assert leaps(x, y, time, 40.0)
    turned = np.clip(40.0 - 5.0 * (time - 30.0), 0.0, 40.0)
    assert not leaps(np.minimum(x, 150.0) + np.maximum(x - 190.0, 0.0), turned, time, 40.0)
    assert not leaps(x, y, np.full(60, np.nan), 40.0)


def test_companions_agree_only_where_all_of_them_do() -> None:
    deviation = np.array([[20.0] * 10, [18.0] * 10, [1.0] * 10, [np.nan] * 10])
    every = np.ones(10, dtype=bool)
    assert companions_agree(deviation, np.array([1, 1, 2, 2]), 0, every) is True
    assert companions_agree(deviation, np.array([1, 1, 1, 2]), 0, every) is False
    assert companions_agree(deviation, np.array([1, 2, 3, 1]), 0, every) is None


# --- the threshold -----------------------------------------------------------------------------------


@pytest.mark.parametrize("dof", [1.0, 2.5, 4.0, 30.0, 1e6])
def test_the_level_leaves_the_tail_of_the_normal_under_student_s_t(dof: float) -> None:
    level = chance_level(3.0, dof, 1000.0)
    assert stats.t.sf(level, dof) == pytest.approx(stats.norm.sf(3.0), rel=1e-6)
    assert chance_level(3.0, dof, 1.5) == min(level, 4.5)


def test_the_level_of_hardly_any_degrees_of_freedom_is_that_of_one() -> None:
    assert chance_level(2.0, 0.01, 1e9) == chance_level(2.0, 1.0, 1e9)
    assert chance_level(4.0, 1e9, 2.0) == pytest.approx(4.0, abs=1e-6)
