"""How likely two receivers are told apart, and how many rides that takes."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from scipy import special

from trackspread.numeric.distributions import (
    chi2_quantile,
    noncentral_t_above,
    normal_above,
    normal_quantile,
    t_quantile,
)
from trackspread.statistics.closed import groups
from trackspread.statistics.exact_tests import share_as_far
from trackspread.statistics.letters import counted
from trackspread.statistics.ride_spread import UNEQUAL_PRIOR

MOST_PLANNED_RIDES = 5000  # bounds the search
ONE_BY_ONE = 40  # rides up to which every number is tried
PAIRED_ABOVE = 0.6
"""Correlation of two receivers above which few rides tell less by two samples than by pairs: with four rides
t(6) / t(3) = 0.77 is sqrt(1 - 0.64^2)."""
LEAST_SAMPLED = 3
"""Rides of a route, from which two samples are told: two are each other's consensus, and both look alike."""
PRIOR_DOF = 4.0  # degrees of freedom that draw how unlike few rides are to what is likely
FIGURES_BY_RIDE = 2  # first fix and share astray are compared by ranks
FIX_CAMPAIGNS = 2000  # drawn, for the power of the test of first fixes
_NORMAL_ABOVE = 2000.0  # degrees of freedom, beyond which the normal law serves


def log_variance(lengths: float) -> float:
    """Return the variance of the logarithm of a mean square of so many independent normal values.

    That is trigamma(lengths / 2), of chi-square (Bartlett & Kendall 1946, J. R. Stat. Soc. Suppl. 8:128).

    Parameters
    ----------
    lengths : float
        Independent values in one ride.

    Returns
    -------
    float

    Examples
    --------
    >>> round(log_variance(1.0), 3), round(log_variance(20.0), 3)
    (4.935, 0.105)
    """
    return float(special.polygamma(1, 0.5 * lengths))


def likely_log_variance(lengths: float, squares: float, free: float) -> float:
    """Return the variance of the logarithm of a ride's mean square, as far as rides have shown it.

    What they show is drawn to the variance that chance and rides of unequal quality make likely
    (`UNEQUAL_PRIOR`) by `PRIOR_DOF` degrees of freedom (moderated variance, Smyth 2004).

    Parameters
    ----------
    lengths : float
        Independent values in one ride.
    squares : float
        Sum of squares of the logarithms about the mean of their receiver.
    free : float
        Degrees of freedom of that.

    Returns
    -------
    float
    """
    likely = log_variance(lengths) + UNEQUAL_PRIOR**2
    return (PRIOR_DOF * likely + squares) / (PRIOR_DOF + free)


def power_together(ratio: float, rides: int, log_var: float, confidence: float, common: float = 0.0) -> float:
    """Return the probability that `log_ratio.together` tells two receivers apart.

    Parameters
    ----------
    ratio : float
        Standard deviation of one over that of the other.
    rides : int
        Shared by both.
    log_var : float
        Variance of the logarithm of a ride's mean square (`log_variance`, and how unequal rides are).
    confidence : float
        1 - the risk of telling equal receivers apart.
    common : float
        Standard deviation of what both share over that of the better receiver.

    Returns
    -------
    float

    Notes
    -----
    Noncentral t (textbook), the logarithms taken for normal. To what both share the error of the consensus
    of the other rides is added. Alike by rho, the difference has 1 - rho^2 of the variance that two samples
    show; above `PAIRED_ABOVE`, or below `LEAST_SAMPLED` rides, it is what the pairs show.
    """
    if rides < 2:
        return 0.0
    q = ratio**2
    shared = common**2 + (common**2 + 0.25 * (1.0 + q)) / (rides - 1.0)
    rho2 = shared**2 / ((q + shared) * (1.0 + shared))
    variance = log_var / (2.0 * rides)
    shift = 0.5 * math.log((q + shared) / (1.0 + shared)) / math.sqrt(variance * (1.0 - rho2))
    paired = rho2 > PAIRED_ABOVE**2 or rides < LEAST_SAMPLED
    return _beyond(shift, (rides - 1.0) * (1 if paired else 2), confidence, 1.0 if paired else 1.0 - rho2)


def power_apart(ratio: float, rides: int, log_var: float, confidence: float, common: float = 0.0) -> float:
    """Return the probability that `log_ratio.apart` tells two receivers apart, ``rides`` with each.

    Parameters
    ----------
    ratio, rides, log_var, confidence, common
        As in `power_together`; the rider's line stays in both.

    Returns
    -------
    float
    """
    if rides < 2:
        return 0.0
    q = ratio**2
    shared = common**2 + (common**2 + 0.5 * (1.0 + q)) / (2.0 * rides - 1.0)
    shift = 0.5 * math.log((q + shared) / (1.0 + shared)) / math.sqrt(log_var / (2.0 * rides))
    return _beyond(shift, 2.0 * (rides - 1.0), confidence, 1.0)


def _beyond(shift: float, dof: float, confidence: float, kept: float) -> float:
    """Return the power of Student's t whose estimate has a share ``kept`` of the variance that it shows."""
    limit = float(t_quantile(0.5 + confidence / 2.0, dof)) / math.sqrt(kept)
    if dof > _NORMAL_ABOVE:
        return float(normal_above(np.array([limit - shift, limit + shift])).sum())
    return float(np.sum(noncentral_t_above(limit, dof, np.array([shift, -shift]))))


def held(rides: int, receivers: int, confidence: float, together: bool) -> float:
    """Return the confidence at which one spread is told from another, so that the family keeps its risk.

    Parameters
    ----------
    rides : int
        Of each.
    receivers : int
        Compared with each other; the others are like one of the two.
    confidence : float
        1 - the risk of the whole family.
    together : bool
        Whether they share the rides.

    Returns
    -------
    float

    Notes
    -----
    Spread, first fix and share astray part the risk; exact tests of so few rides that they cannot find
    anything do not count (`letters.counted`). The set of all n receivers must show it too (`closed`): its
    n - 1 pairs that differ, with z each, make sum z^2 = n / 2 chi-square of n - 1 degrees of freedom.
    """
    risk = 1.0 - confidence
    floor = least_p(rides, together)
    risk /= len(counted(np.array([0.0, *[floor] * FIGURES_BY_RIDE]), risk))
    score = math.sqrt(receivers / (2.0 * (receivers - 1)) * float(chi2_quantile(1.0 - risk, receivers - 1.0)))
    return 1.0 - min(_of_pair(receivers, risk), 2.0 * float(normal_above(np.array([score]))[0]))


def _of_pair(receivers: int, risk: float) -> float:
    """Return the risk that a pair has by itself beside other groups (`closed`)."""
    return risk / groups(receivers, 2)


def least_p(rides: int, together: bool) -> float:
    """Return the smallest p of the exact test by ranks: of signs on shared rides, or of choices of rides.

    Parameters
    ----------
    rides : int
        Shared, or of each receiver.
    together : bool
        Whether they share the rides.

    Returns
    -------
    float

    Examples
    --------
    >>> least_p(4, True), round(least_p(4, False), 4)
    (0.125, 0.0286)
    """
    return 2.0 ** (1 - rides) if together else float(2.0 / special.binom(2 * rides, rides))


def rides_for_fix(
    receivers: int, confidence: float, together: bool, sooner: float = 1.0, power: float = 0.8
) -> int | None:
    """Return the fewest rides after which two receivers are told apart by the first fix.

    Parameters
    ----------
    receivers : int
        Compared with each other; the others are like one of the two.
    confidence : float
        1 - the risk of the whole family.
    together : bool
        Whether they share the rides.
    sooner : float
        Share of rides on which one is sooner than the other; by 1 it is on each, and any power is reached.
    power : float
        Share of campaigns that tell them apart, 0 to 1.

    Returns
    -------
    int or None
        ``None`` beyond 5000.
    """
    risk = _of_pair(receivers, (1.0 - confidence) / (1 + FIGURES_BY_RIDE))
    if sooner >= 1.0:
        return next(n for n in range(2, 1000) if least_p(n, together) <= risk)
    return fewest_rides(lambda n: power_of_fix(sooner, n, risk, together) >= power)


def power_of_fix(sooner: float, rides: int, risk: float, together: bool) -> float:
    """Return the probability that the exact test of first fixes (`exact_tests`) tells two receivers apart.

    Parameters
    ----------
    sooner : float
        Share of rides on which one is sooner than the other, 0.5 to 1.
    rides : int
        Shared, or of each.
    risk : float
        Of this test alone.
    together : bool
        Whether they share the rides.

    Returns
    -------
    float

    Notes
    -----
    From rides drawn normal, `FIX_CAMPAIGNS` of them; the test asks for ranks alone.
    """
    if least_p(rides, together) > risk:
        return 0.0
    shift, rng = float(normal_quantile(np.array(sooner))), np.random.default_rng(1)
    if together:
        gap = shift + rng.standard_normal((FIX_CAMPAIGNS, rides))
        seen = (np.sign(gap) * (1.0 + np.abs(gap).argsort(axis=1).argsort(axis=1))).sum(axis=1)
    else:
        fix = rng.standard_normal((FIX_CAMPAIGNS, 2 * rides))
        fix[:, :rides] += math.sqrt(2.0) * shift
        seen = (fix.argsort(axis=1).argsort(axis=1) - (rides - 0.5))[:, :rides].sum(axis=1)
    return float(np.mean(share_as_far(np.abs(seen), rides, together) <= risk))


@lru_cache(maxsize=1024)
def rides_to_tell_apart(
    ratio: float, power: float, confidence: float, log_var: float, common: float = 0.0,
    receivers: int = 2, together: bool = True,
) -> int | None:  # fmt: skip
    """Return the fewest rides after which a ratio is seen with this power, ``None`` beyond 5000.

    Parameters
    ----------
    ratio : float
        Standard deviation of one receiver over that of the other.
    power : float
        Probability to see it, 0 to 1.
    confidence : float
        1 - the risk of the whole family (`held`).
    log_var, common
        As in `power_together`.
    receivers : int
        Compared with each other.
    together : bool
        On shared rides; else with each on rides of its own.

    Returns
    -------
    int or None
    """
    seen = power_together if together else power_apart
    return fewest_rides(
        lambda n: seen(ratio, n, log_var, held(n, receivers, confidence, together), common) >= power
    )


def fewest_rides(enough: Callable[[int], bool]) -> int | None:
    """Return the smallest number of rides, at least two, that is enough, ``None`` beyond 5000.

    Up to `ONE_BY_ONE` all are tried, as a family that grows may ask for more; from there more never is less.

    Parameters
    ----------
    enough : callable
        Tells of a number of rides whether it is.

    Returns
    -------
    int or None
    """
    few = next((rides for rides in range(2, ONE_BY_ONE) if enough(rides)), None)
    if few is not None or not enough(MOST_PLANNED_RIDES):
        return few
    low, high = ONE_BY_ONE - 1, MOST_PLANNED_RIDES
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high
