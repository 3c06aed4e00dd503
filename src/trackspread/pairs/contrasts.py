"""Two receivers against each other: ratio, difference and own standard deviations with their intervals.

What is known of the logarithm of their ratio comes from `log_ratio`, the root of their mean variance from the
mean squares of the rides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackspread.model import Estimate, Floats, Reason
from trackspread.noise.effective import around
from trackspread.pairs.log_ratio import THETAS, Shared, quantiles, together
from trackspread.statistics.ride_spread import SdPosterior, sd_posterior

_SHARES: Floats = np.asarray((np.arange(120) + 0.5) / 120.0)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Contrast:
    """SD of a over and minus SD of b; ``p`` is the chance of as much by equal ones."""

    ratio: Estimate
    difference: Estimate
    p: float


def ride_level(squares_m2: Sequence[Floats], lengths: float) -> SdPosterior:
    """Return what mean squares of rides, of so many independent values each, say of their common root.

    Parameters
    ----------
    squares_m2 : sequence of ndarray
        Mean squares of rides, square metres.
    lengths : float
        Independent values in one ride.

    Returns
    -------
    SdPosterior
    """
    square = np.concatenate(squares_m2)
    found = sd_posterior(square, np.full(len(square), lengths))
    assert found is not None
    return found


def mean_squares(a_m2: Floats, b_m2: Floats) -> Floats:
    """Return the mean square of both, a ride of a with one of b, for `ride_level`.

    Of the one with more rides several stand for one. So a receiver that few bursts make what it is counts as
    few rides, not as many of which the calmer one's are half.

    Parameters
    ----------
    a_m2 : ndarray, shape (n,)
        Mean squares of the rides of a.
    b_m2 : ndarray, shape (m,)
        Of b.

    Returns
    -------
    ndarray, shape (min(n, m),)
    """
    rides = min(len(a_m2), len(b_m2))
    parts = (np.array([part.mean() for part in np.array_split(square, rides)]) for square in (a_m2, b_m2))
    return np.asarray(0.5 * sum(parts))


def beside_others(parts: Sequence[Shared], lengths: float, confidence: float) -> Estimate:
    """Return the SD of a receiver without what all receivers of a ride share.

    ``parts`` are its moments with the mean of the others, route by route: with one other the estimator of
    Grubbs (1948), with more the N-cornered hat: var = cov(a, a - mean of the others), whatever all of them
    have in common. It is one figure whomever the receiver is set beside.

    Parameters
    ----------
    parts : sequence of Shared
        Moments on shared rides, a route each.
    lengths : float
        Independent values in one ride.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    Estimate
    """
    share = together(parts)
    if share is None:
        return Estimate(reason=Reason("one_ride_with_another"))
    return own_sd(share, ride_level([0.5 * part.gap_m2 for part in parts], lengths), confidence)


def own_sd(share: Floats, level: SdPosterior, confidence: float) -> Estimate:
    """Return the standard deviation of a, what it shares with b left out, with its interval.

    ``share`` and ``level`` are those of `contrast`: SD_a is level times sqrt(2 ratio^2 / (1 + ratio^2)).

    Parameters
    ----------
    share : ndarray, shape (G,)
        Confidence that the log ratio lies below each of `THETAS`.
    level : SdPosterior
        Posterior of the root of the mean variance of both.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    Estimate
    """
    tail = np.array([0.5 - confidence / 2.0, 0.5 + confidence / 2.0])
    ratio = np.exp(quantiles(share, _SHARES))[:, None]
    low, high = np.quantile(level.quantile(_SHARES) * np.sqrt(2.0 / (1.0 + ratio**-2)), tail).tolist()
    middle = float(np.exp(quantiles(share, np.array([0.5]))[0]))
    value = level.value * math.sqrt(2.0 / (1.0 + middle**-2))
    return around(value, 0.0 if share[0] > tail[0] else low, high)


def contrast(share: Floats, level: SdPosterior, confidence: float) -> Contrast:
    """Return ratio and difference with their intervals.

    ``level`` is what is known of the root of the mean variance of the two, independent of their ratio: with
    it SD_b is level times sqrt(2 / (1 + ratio^2)).

    Parameters
    ----------
    share : ndarray, shape (G,)
        Confidence that the log ratio lies below each of `THETAS`.
    level : SdPosterior
        Posterior of the root of the mean variance of both.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    Contrast
    """
    tail = np.array([0.5, 0.5 - confidence / 2.0, 0.5 + confidence / 2.0])
    value, low, high = np.exp(quantiles(share, tail)).tolist()
    if share[0] > tail[1]:
        low = 0.0
    ratio = np.exp(quantiles(share, _SHARES))[:, None]
    gap = level.quantile(_SHARES) * (ratio - 1.0) * np.sqrt(2.0 / (1.0 + ratio**2))
    least, most = np.quantile(gap, tail[1:]).tolist()
    middle = level.value * (value - 1.0) * math.sqrt(2.0 / (1.0 + value**2))
    none = float(np.interp(0.0, THETAS, share))
    return Contrast(
        ratio=Estimate(value=value, low=low, high=high),
        difference=around(middle, least, most),
        p=min(2.0 * min(none, 1.0 - none), 1.0),
    )
