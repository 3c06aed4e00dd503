"""Contrasts of two receivers: ratio, difference and own SD beside what both share."""

from __future__ import annotations

import numpy as np

from ridden_together import gauss_markov
from trackspread.pairs.contrasts import contrast, mean_squares, own_sd
from trackspread.pairs.log_ratio import shared_moments, together
from trackspread.statistics.ride_spread import sd_posterior


def test_what_both_share_drops_out() -> None:
    """Own errors of 2 and 4 m under a shared 6 m: ratio 0.5, difference -2 m."""
    random = np.random.default_rng(8)
    line = 6.0 * gauss_markov(random, 12, 1000, 300.0)
    a, b = (line + sd * gauss_markov(random, 12, 1000, 60.0) for sd in (2.0, 4.0))
    moments = shared_moments(a, b)
    share = together([moments])
    level = sd_posterior(0.5 * moments.gap_m2, np.full(12, 40.0))
    assert share is not None
    assert level is not None
    found = contrast(share, level, 0.95)
    assert found.ratio.low < 0.5 < found.ratio.high < 1.0
    assert found.difference.low < -2.0 < found.difference.high < 0.0
    assert found.p < 0.05


def test_own_sd_of_a_receiver_beside_a_worse_one() -> None:
    """2 m of its own beside 4 m of another and 6 m that both share."""
    random = np.random.default_rng(9)
    line = 6.0 * gauss_markov(random, 12, 1000, 300.0)
    a, b = (line + sd * gauss_markov(random, 12, 1000, 60.0) for sd in (2.0, 4.0))
    moments = shared_moments(a, b)
    share = together([moments])
    level = sd_posterior(0.5 * moments.gap_m2, np.full(12, 40.0))
    assert share is not None
    assert level is not None
    found = own_sd(share, level, 0.95)
    assert found.low < 2.0 < found.high < 4.0
    assert found.low < found.value < found.high


def test_mean_squares_of_unequal_numbers_of_rides() -> None:
    """Four rides beside two: two by two, and the mean of all is that of the two means."""
    a, b = np.array([1.0, 3.0, 5.0, 7.0]), np.array([10.0, 20.0])
    assert mean_squares(a, b).tolist() == [6.0, 13.0]
    assert mean_squares(b, a).mean() == (a.mean() + b.mean()) / 2
