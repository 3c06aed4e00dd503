"""Two receivers against each other, the ride being the unit: on shared rides, on rides of their own, or both.

What is known of theta, the logarithm of the ratio of their standard deviations, is kept as a confidence
distribution: the share H(theta) of confidence that the truth lies below (Xie & Singh 2013, Int. Stat. Rev.
81:3; from memory). H(0) gives the p-value of no difference, its quantiles the interval.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackspread.model import Estimate, Floats, Reason
from trackspread.noise.effective import around
from trackspread.numeric.distributions import normal_above, normal_quantile, t_below
from trackspread.statistics.ride_spread import SdPosterior, sd_posterior

THETAS: Floats = np.linspace(-3.0, 3.0, 241)
"""Logarithm of the ratio: a factor of 20 to both sides."""
LEAST_STATIONS = 20  # stations of a ride, fewer tell no standard deviation
NEVER = 1e-12  # m², squares below it come of rounding
_SHARES: Floats = np.asarray((np.arange(120) + 0.5) / 120.0)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Shared:
    """Mean square of a + b, of a - b, and their mean product, ride by ride, shape (n,) each."""

    sum_m2: Floats
    gap_m2: Floats
    product_m2: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Contrast:
    """SD of a over and minus SD of b; ``p`` is the chance of as much by equal ones."""

    ratio: Estimate
    difference: Estimate
    p: float


def shared_moments(a_m: Floats, b_m: Floats, companion_m: Floats | None = None) -> Shared:
    """Return the moments of two receivers, (R, S), on the rides that they share.

    Parameters
    ----------
    a_m, b_m : ndarray, shape (R, S)
        Deviations of each from the consensus of the *other* rides, NaN unknown.
    companion_m : ndarray, shape (R, S), optional
        Mean deviation of the receivers that were there too; the part of it that a and b share is taken off
        their sum (by regression, the weight between 0 and 1, so that a bad companion does no harm).

    Returns
    -------
    Shared

    Notes
    -----
    What both share drops out of D = a - b, and cov(a + b, D) = var_a - var_b (Grubbs 1948). Nothing of the
    ride itself is in its reference: to exchange a and b on one ride turns the sign of its D and changes
    nothing on any other.
    """
    known = np.isfinite(a_m) & np.isfinite(b_m)
    ridden = known.sum(axis=1) >= LEAST_STATIONS
    a, b, known = (np.where(known, x, 0.0)[ridden] for x in (a_m, b_m, known))
    both, gap, count = a + b, a - b, known.sum(axis=1)
    if companion_m is not None:
        beside = np.where(known, np.nan_to_num(companion_m[ridden]), 0.0)
        power = float(np.sum(beside**2))
        weight = float(np.clip(0.5 * np.sum(both * beside) / power, 0.0, 1.0)) if power > 0.0 else 0.0
        both = both - 2.0 * weight * beside
    squares = ((x * y).sum(axis=1) / np.maximum(count, 1) for x, y in ((both, both), (gap, gap), (both, gap)))
    sum_m2, gap_m2, product_m2 = squares
    some = (sum_m2 > NEVER) & (gap_m2 > NEVER)
    return Shared(sum_m2=sum_m2[some], gap_m2=gap_m2[some], product_m2=product_m2[some])


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


def together(parts: Sequence[Shared]) -> Floats | None:
    """Return H over `THETAS` from shared rides, ``None`` below two of them.

    Parameters
    ----------
    parts : sequence of Shared
        Moments on shared rides, a route each.

    Returns
    -------
    ndarray, shape (G,), or None

    Notes
    -----
    With beta = (var_a - var_b) / (var_a + var_b) = tanh(theta), S - beta D and D are uncorrelated (Pitman
    1939, Morgan 1939). Fisher's z of their correlation on each ride is held against 0 by Student's t over
    rides, and H is its probability at every theta. Equal receivers may be exchanged on any ride, so that the
    signs of z are those of fair coins whatever the errors are, and t keeps its risk for symmetric values
    (Efron 1969, J. Am. Stat. Assoc. 64:1278; from memory). Nothing is taken to be known of how far errors
    are alike.
    """
    if not parts:
        return None
    uu, vv, uv = (np.concatenate([getattr(p, n) for p in parts]) for n in ("sum_m2", "gap_m2", "product_m2"))
    rides = len(uu)
    if rides < 2:
        return None
    beta = np.tanh(THETAS)[:, None]
    left = np.maximum(uu - 2.0 * beta * uv + beta**2 * vv, NEVER)
    rho = np.clip((uv - beta * vv) / np.sqrt(left * vv), -1.0 + 1e-9, 1.0 - 1e-9)
    z = np.arctanh(rho)
    return _rising(student(z.mean(axis=1), z.var(axis=1, ddof=1) / rides, rides - 1.0))


def apart(squares: Sequence[tuple[Floats, Floats]]) -> Floats | None:
    """Return H over `THETAS` from rides of their own, ``None`` where one of the two has too few.

    Parameters
    ----------
    squares : sequence of (ndarray, ndarray)
        Mean square deviation of every ride of a and of b, route by route.

    Returns
    -------
    ndarray, shape (G,), or None

    Notes
    -----
    Half the difference of the mean logarithms, weighted over routes, by Student's t with one common variance
    of rides (the two-sample t test; of logarithms of variances: Bartlett & Kendall 1946, J. R. Stat. Soc.
    Suppl. 8:128). What the rider's line adds is in both.
    """
    logs = [(np.log(a[a > NEVER]), np.log(b[b > NEVER])) for a, b in squares]
    logs = [(a, b) for a, b in logs if len(a) and len(b)]
    free = sum(len(a) + len(b) - 2 for a, b in logs)
    if free < 1 or min(sum(len(x[k]) for x in logs) for k in (0, 1)) < 2:
        return None
    within = sum(float(np.sum((x - x.mean()) ** 2)) for pair in logs for x in pair) / free
    weight = np.array([1.0 / (1.0 / len(a) + 1.0 / len(b)) for a, b in logs])
    gap = np.array([a.mean() - b.mean() for a, b in logs])
    theta, variance = 0.5 * float(gap @ weight / weight.sum()), 0.25 * within / float(weight.sum())
    return _rising(student(theta - THETAS, np.full(len(THETAS), variance), float(free)))


def student(mean: Floats, variance: Floats, dof: float) -> Floats:
    """Return the confidence that the truth lies below each theta, (G,): t of what ``mean`` is there.

    Parameters
    ----------
    mean : ndarray, shape (G,)
        Estimate at each theta.
    variance : ndarray, shape (G,)
        Of that estimate.
    dof : float
        Degrees of freedom.

    Returns
    -------
    ndarray, shape (G,)
    """
    return t_below(-mean / np.sqrt(np.maximum(variance, NEVER)), dof)


def _rising(share: Floats) -> Floats:
    """Return a distribution made to rise from its middle outwards."""
    middle = int(np.argmin(np.abs(share - 0.5)))
    above = np.maximum.accumulate(share[middle:])
    below = np.minimum.accumulate(share[: middle + 1][::-1])[::-1]
    return np.concatenate([below[:-1], above])


def combined(one: Floats, other: Floats) -> Floats:
    """Return H of two independent sources: their normal scores weighted by what each knows.

    The weights are the reciprocals of the widths of their intervals (Singh, Xie & Strawderman 2005, Ann.
    Stat. 33:159; from memory).

    Parameters
    ----------
    one : ndarray, shape (G,)
        H of one source.
    other : ndarray, shape (G,)
        H of the other.

    Returns
    -------
    ndarray, shape (G,)
    """
    weights = np.array([1.0 / np.diff(quantiles(h, np.array([0.1, 0.9])))[0] for h in (one, other)])
    scores = [normal_quantile(np.clip(h, 1e-12, 1.0 - 1e-12)) for h in (one, other)]
    return _rising(normal_above(-(weights @ np.array(scores)) / np.sqrt(np.sum(weights**2))))


def quantiles(share: Floats, at: Floats) -> Floats:
    """Return the thetas below which ``at``, (Q,), of the confidence lies.

    Parameters
    ----------
    share : ndarray, shape (G,)
        Confidence that the log ratio lies below each of `THETAS`.
    at : ndarray, shape (Q,)
        Shares of the confidence, 0 to 1.

    Returns
    -------
    ndarray, shape (Q,)
    """
    return np.asarray(np.interp(at, share, THETAS))


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
