"""What two receivers err by on their own on one route: the estimators of Grubbs, ride by ride."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackspread.model import Estimate, Reason
from trackspread.pairs.contrasts import beside_others
from trackspread.pairs.log_ratio import shared_moments
from trackspread.pairs.own_errors import OwnErrors, common_sd, own_errors
from world.receivers import HEAVY_TAILED, errors_of_ride

NONE = (Estimate(), Estimate())


def offsets(
    seed: int, rides: int = 6, size: int = 400, sigmas: tuple[float, ...] = (1.0, 2.0), common_m: float = 0.8
) -> np.ndarray:
    """White errors, what is common included, shape (receivers, rides, size)."""
    rng = np.random.default_rng(seed)
    common = rng.normal(0.0, common_m, (rides, size))
    return np.stack([common + sigma * rng.standard_normal((rides, size)) for sigma in sigmas])


def judged(a: np.ndarray, b: np.ndarray, lengths: float = 400.0) -> OwnErrors:
    sds = tuple(beside_others([shared_moments(x, y)], lengths, 0.95) for x, y in ((a, b), (b, a)))
    found = own_errors(a, b, (sds[0], sds[1]), 10**6, lengths, 0.95)
    assert isinstance(found, OwnErrors)
    return found


def test_many_values_give_the_estimators_of_grubbs() -> None:
    """var_a = s_aa - s_ab, var_b = s_bb - s_ab, common = s_ab (Grubbs 1948), moments about 0 by numpy."""
    a, b = offsets(1, rides=8, size=4000)
    found, s = judged(a, b, 4000.0), np.array([[np.mean(x * y) for x in (a, b)] for y in (a, b)])
    assert found.sd_a.value == pytest.approx(np.sqrt(s[0, 0] - s[0, 1]), rel=0.03)
    assert found.sd_b.value == pytest.approx(np.sqrt(s[1, 1] - s[0, 1]), rel=0.03)
    assert found.common.value == pytest.approx(np.sqrt(s[0, 1]), rel=0.03)
    assert found.ratio == pytest.approx(found.sd_a.value / found.sd_b.value, rel=0.01)
    assert found.difference.value == pytest.approx(found.sd_a.value - found.sd_b.value, rel=0.03)
    assert found.told_apart


def test_the_noise_of_the_other_rides_is_taken_off_what_is_common() -> None:
    """Both deviate from the mean of four rides of the same two: var S is 5/4 of what it would be."""
    found = []
    for seed in range(60):
        a, b = offsets(seed, rides=5, size=400)
        mean = np.array([np.delete((a + b) / 2, ride, axis=0).mean(axis=0) for ride in range(5)])
        found.append(common_sd(shared_moments(a - mean, b - mean), 4, 400.0, 0.95).value)
    assert np.median(found) == pytest.approx(0.8, rel=0.03)


def test_nothing_in_common_is_said_with_a_bound() -> None:
    """Errors of opposite sign: their covariance is negative."""
    a, b = offsets(3, common_m=0.0)
    found = common_sd(shared_moments(a - 0.5 * b, b - 0.5 * a), 5, 400.0, 0.95)
    assert np.isnan(found.value)
    assert found.reason.code == "common_not_seen"
    assert dict(found.reason.values)["most_m"] < 0.6


def test_too_little_to_say() -> None:
    a, b = offsets(4, rides=3)
    one = own_errors(a[:1], b[:1], NONE, 3, 50.0, 0.95)
    assert isinstance(one, Reason)
    assert one.code == "one_ride_two_receivers"
    for x, y in ((a[:, :19], b[:, :19]), (a, a)):
        found = own_errors(x, y, NONE, 3, 50.0, 0.95)
        assert isinstance(found, Reason)
        assert found.code == "little_in_common"


@settings(max_examples=20, deadline=None)
@given(st.floats(1e-2, 1e2), st.integers(0, 50))
def test_figures_scale_with_the_offsets_and_swap_with_the_receivers(scale: float, seed: int) -> None:
    a, b = offsets(seed, rides=4, size=60)
    plain, scaled, swapped = judged(a, b, 20.0), judged(scale * a, scale * b, 20.0), judged(b, a, 20.0)
    assert scaled.sd_a.value == pytest.approx(scale * plain.sd_a.value, rel=1e-6)
    assert swapped.sd_b == plain.sd_a
    assert swapped.difference.value == pytest.approx(-plain.difference.value, rel=1e-6, abs=1e-9)
    assert swapped.told_apart == plain.told_apart


def test_intervals_hold_where_errors_have_heavy_tails() -> None:
    """Two receivers that burst, 2:1, four shared rides; of 60 campaigns 51 are the 0.5 % point of 95 %."""
    station_s, held = np.arange(0.0, 727.0, 2.0), np.zeros(2)
    kind = HEAVY_TAILED["bursts"]
    for seed in range(60):
        rng = np.random.default_rng([9, seed])
        both = np.array([
            [e[:, 0] for e in errors_of_ride(rng, [kind, kind], [station_s] * 2, 0.0)] for _ in range(4)
        ])  # fmt: skip
        found = judged(both[:, 0], 0.5 * both[:, 1], 15.0)
        for place, (one, true) in enumerate(((found.sd_a, 6.5), (found.sd_b, 3.25))):
            held[place] += one.low <= true <= one.high
    assert held.min() >= 51
