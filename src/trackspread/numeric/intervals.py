"""Exact small-sample intervals: standard deviations by chi-square, medians by the binomial."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import scipy

from trackspread.model import Floats
from trackspread.numeric.distributions import chi2_quantile, coin_at_most

PARTS: Floats = np.linspace(0.0, 1.0, 101)
"""Shares of what lies outside of an interval that are tried on its left."""


@lru_cache(maxsize=4096)
def sd_factors(dof: float, confidence: float) -> tuple[float, float]:
    """Return the factors that take a standard deviation to the ends of its interval.

    sqrt(dof / chi2) at both tails (NIST/SEMATECH e-Handbook 7.2.3.1); ``dof`` may be fractional
    (Satterthwaite 1946, Biometrics Bulletin 2:110).

    Parameters
    ----------
    dof : float
        Degrees of freedom.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    low, high : float
    """
    tail = (1.0 - confidence) / 2.0
    low, high = chi2_quantile(np.array([1.0 - tail, tail]), dof)
    return math.sqrt(dof / low), math.sqrt(dof / high) if high > 0 else math.inf


LEAST_DOF, MOST_DOF = 0.3, 1e6  # degrees of freedom between which a width is inverted


def dof_of_width(width: float, confidence: float) -> float:
    """Return the degrees of freedom whose interval of a standard deviation has this width.

    ``width`` is log(high / low), which falls steadily with them. Beyond `LEAST_DOF` to `MOST_DOF` the nearer
    of the two.

    Parameters
    ----------
    width : float
        Upper end over lower end.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    float

    Examples
    --------
    >>> low, high = sd_factors(12.0, 0.95)
    >>> round(dof_of_width(math.log(high / low), 0.95), 6)
    12.0
    """

    def excess(log_dof: float) -> float:
        low, high = sd_factors(math.exp(log_dof), confidence)
        return math.log(high / low) - width

    ends = math.log(LEAST_DOF), math.log(MOST_DOF)
    if excess(ends[0]) < 0.0:
        return LEAST_DOF
    return MOST_DOF if excess(ends[1]) > 0.0 else math.exp(scipy.optimize.brentq(excess, *ends, xtol=1e-9))


def shortest(value: Floats, below: Floats, confidence: float) -> Floats:
    """Return both ends of the shortest interval that holds ``confidence`` of a distribution, shape (2,).

    That of the highest density where it has one peak (Box & Tiao 1973, Bayesian Inference in Statistical
    Analysis, section 2.8; from memory).

    Parameters
    ----------
    value : ndarray, shape (G,)
        Rising.
    below : ndarray, shape (G,)
        Share of the distribution below each.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    ndarray, shape (2,)

    Examples
    --------
    Of an exponential distribution it begins at 0:

    >>> value = np.linspace(0.0, 20.0, 2001)
    >>> [round(end, 2) for end in shortest(value, 1.0 - np.exp(-value), 0.95).tolist()]
    [0.0, 3.0]
    """
    left = (1.0 - confidence) * PARTS
    ends = np.interp(np.stack([left, left + confidence]), below, value)
    return np.asarray(ends[:, np.argmin(ends[1] - ends[0])])


def median_interval(values: Floats, confidence: float = 0.95) -> tuple[float, float, float, float]:
    """Return median, low, high and the confidence that the interval of order statistics really has.

    The interval from the k-th smallest to the k-th largest covers the population's median with
    1 - 2 P(Binomial(n, 1/2) < k) (Thompson 1936, Ann. Math. Stat. 7:122). The narrowest that reaches
    ``confidence`` is taken; below six values none reaches 95 %, then the whole range is given, with
    the confidence it has. ``inf`` stands for "never" (censored); a median or end among those is ``inf``.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One a ride; infinite where it never came.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    median, low, high, confidence : float
    """
    ordered = np.sort(np.asarray(values, dtype=float))
    n = len(ordered)
    if n == 0:
        return (math.nan,) * 4
    reached = [1.0 - 2.0 * float(coin_at_most(k - 1, n)) for k in range(1, n // 2 + 1)]
    enough = [k for k, level in enumerate(reached, 1) if level >= confidence]
    k = enough[-1] if enough else 1
    level = reached[k - 1] if reached else 0.0
    middle = (
        0.5 * (ordered[(n - 1) // 2] + ordered[n // 2]) if np.isfinite(ordered[n // 2]) else ordered[n // 2]
    )
    return float(middle), float(ordered[k - 1]), float(ordered[n - k]), level
