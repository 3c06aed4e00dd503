"""What falls converges, what keeps its distance does not, and a leap is faster than any ride."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.statistics.settling import companions_agree, converges, fall, leaps

FULL = np.linspace(1.0, 0.0, 101)


@pytest.mark.parametrize("height_m", [15.0, 60.0, 300.0])
def test_a_fall_that_is_fast_at_first_converges(height_m: float) -> None:
    for fall_ in (FULL**2, FULL**4, np.exp(-4.0 * (1.0 - FULL)), np.exp(-1.7 * (1.0 - FULL))):
        assert converges(height_m * fall_, 1.0)


@pytest.mark.parametrize("height_m", [60.0, 300.0])
def test_a_straight_street_that_leads_to_the_route_does_not(height_m: float) -> None:
    assert not converges(height_m * FULL, 1.0)


@pytest.mark.parametrize("height_m", [15.0, 60.0, 300.0])
def test_a_street_that_keeps_its_distance_up_to_a_turn_does_not(height_m: float) -> None:
    beside = np.full(101, height_m)
    beside[-8:] *= np.linspace(1.0, 0.0, 8)
    assert not converges(beside, 1.0)
    assert not converges(np.full(50, height_m), 1.0)


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
