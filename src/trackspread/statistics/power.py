"""How many rides are enough: to know a spread, and to tell two receivers apart."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import optimize

from trackspread.numeric.distributions import (
    chi2_below,
    chi2_quantile,
    f_below,
    f_quantile,
    noncentral_t_above,
    normal_above,
    t_quantile,
)
from trackspread.numeric.intervals import LEAST_DOF, MOST_DOF, dof_of_width, sd_factors

MOST_PLANNED_RIDES = 5000  # bounds the search
_GRID = (np.arange(48) + 0.5) / 48.0
_EXACT_UP_TO = 60.0  # degrees of freedom, beyond which the normal law serves


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanRow:
    """What ``rides`` rides are worth.

    ``low_factor`` and ``high_factor`` take a spread to the ends of its interval, ``within`` is the share
    of its true value within which it is known, ``ratio_together`` and ``ratio_apart`` the smallest
    ratio of two standard deviations that would be told apart, ridden together and on different rides.
    """

    rides: int
    dof: float
    low_factor: float
    high_factor: float
    within: float
    ratio_together: float
    ratio_apart: float


def spread_within(dof: float, confidence: float) -> float:
    """Return the share x for which a standard deviation lies within ±x of the truth at this confidence.

    P((1 - x)^2 dof <= chi2 <= (1 + x)^2 dof) = confidence (Greenwood & Sandomire 1950, J. Am. Stat. Assoc.
    45:257).

    Parameters
    ----------
    dof : float
        Degrees of freedom.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    float
    """

    def beyond(x: float) -> float:
        low = max(1.0 - x, 0.0) ** 2 * dof
        return float(np.diff(chi2_below(np.array([low, (1.0 + x) ** 2 * dof]), dof))[0]) - confidence

    return float(optimize.brentq(beyond, 1e-6, 1e3))


def rides_for_spread(within: float, confidence: float, lengths: float) -> int | None:
    """Return the fewest rides after which a spread is known to ±``within`` of its value.

    ``lengths`` is the number of independent lengths in one ride (`core.correlation`): n rides have
    (n - 1) times as many degrees of freedom. ``None`` beyond 5000 rides.

    Parameters
    ----------
    within : float
        Share of the value, 0 to 1.
    confidence : float
        Of the interval, 0 to 1.
    lengths : float
        Independent values in one ride.

    Returns
    -------
    int or None
    """
    return _fewest(lambda rides: spread_within((rides - 1) * lengths, confidence) <= within)


def power_together(ratio: float, dof: float, confidence: float, common: float = 0.0) -> float:
    """Return the probability that two receivers ridden together are told apart (Pitman 1939, Morgan 1939).

    Parameters
    ----------
    ratio : float
        Standard deviation of one over that of the other.
    dof : float
        Degrees of freedom: (rides - 1) times the independent lengths in a ride.
    confidence : float
        1 - the risk of telling equal receivers apart.
    common : float
        Standard deviation of what both share over that of the better receiver; it adds to the sum of the
        two, not to their difference, and makes the test weaker.

    Returns
    -------
    float

    Notes
    -----
    The test is that of the correlation of sum and difference, rho = (q - 1) / sqrt((q + 1)(q + 1 +
    4 c^2)) with q = ratio^2. Given the differences, its t is noncentral t; that is averaged over their
    chi-square (exact for normal samples). Above 60 degrees of freedom Fisher's z serves.
    """
    q = max(ratio, 1.0 / ratio) ** 2
    rho = (q - 1.0) / math.sqrt((q + 1.0) * (q + 1.0 + 4.0 * common**2))
    free = dof - 1.0
    if free <= 0.0:
        return 0.0
    limit = float(t_quantile(0.5 + confidence / 2.0, free))
    if dof > _EXACT_UP_TO:
        edge = math.atanh(limit / math.sqrt(free + limit**2))
        at = math.atanh(rho) + rho / (2.0 * dof)
        return float(normal_above(math.sqrt(dof - 2.0) * np.array([edge - at, edge + at])).sum())
    shift = rho / math.sqrt(1.0 - rho**2) * np.sqrt(chi2_quantile(_GRID, dof))
    return float(np.mean(noncentral_t_above(limit, free, shift) + noncentral_t_above(limit, free, -shift)))


def power_apart(ratio: float, dof: float, confidence: float, common: float = 0.0) -> float:
    """Return the probability that the F test tells apart two receivers ridden on different rides.

    ``dof`` degrees of freedom each: P(F > f / q) + P(F < 1 / (f q)) with f the upper quantile of F
    (textbook power of the F test for two variances). Apart, the rider's line stays in both spreads: q =
    (ratio^2 + c^2) / (1 + c^2), with ``common`` = c as in `power_together`.

    Parameters
    ----------
    ratio : float
        Standard deviation of one receiver over that of the other.
    dof : float
        Degrees of freedom of each.
    confidence : float
        Of the interval, 0 to 1.
    common : float
        Standard deviation of what both share, over that of the better receiver.

    Returns
    -------
    float
    """
    q = (max(ratio, 1.0 / ratio) ** 2 + common**2) / (1.0 + common**2)
    upper = float(f_quantile(0.5 + confidence / 2.0, dof, dof))
    return float(1.0 - f_below(upper / q, dof, dof) + f_below(1.0 / (upper * q), dof, dof))


@lru_cache(maxsize=1024)
def rides_to_tell_apart(
    ratio: float, power: float, confidence: float, lengths: float, common: float = 0.0
) -> int | None:
    """Return the fewest rides together after which a ratio is seen with this power, ``None`` beyond 5000.

    Parameters
    ----------
    ratio : float
        Standard deviation of one receiver over that of the other.
    power : float
        Probability to see it, 0 to 1.
    confidence : float
        Of the interval, 0 to 1.
    lengths : float
        Independent values in one ride.
    common : float
        Standard deviation of what both share, over that of the better receiver.

    Returns
    -------
    int or None
    """
    return _fewest(lambda rides: power_together(ratio, (rides - 1) * lengths, confidence, common) >= power)


def rides_apart(
    ratio: float, power: float, confidence: float, lengths: float, common: float = 0.0
) -> int | None:
    """Return the fewest rides with each receiver, ridden apart, for this power; ``None`` beyond 5000.

    Parameters
    ----------
    ratio : float
        Standard deviation of one receiver over that of the other.
    power : float
        Probability to see it, 0 to 1.
    confidence : float
        Of the interval, 0 to 1.
    lengths : float
        Independent values in one ride.
    common : float
        Standard deviation of what both share, over that of the better receiver.

    Returns
    -------
    int or None
    """
    return _fewest(lambda rides: power_apart(ratio, (rides - 1) * lengths, confidence, common) >= power)


def _fewest(enough: Callable[[int], bool]) -> int | None:
    """Return the smallest number of rides, at least two, that is enough; more never is less."""
    if not enough(MOST_PLANNED_RIDES):
        return None
    low, high = 1, 2
    while not enough(high):
        low, high = high, min(2 * high, MOST_PLANNED_RIDES)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def ratio_seen(power_of: Callable[[float], float], power: float) -> float:
    """Return the smallest ratio at which a test reaches a power, infinite where even 1000 does not.

    Parameters
    ----------
    power_of : callable
        Gives the power at a ratio.
    power : float
        Probability to see it, 0 to 1.

    Returns
    -------
    float
    """
    if power_of(1000.0) < power:
        return math.inf
    return float(optimize.brentq(lambda ratio: power_of(ratio) - power, 1.0 + 1e-9, 1000.0, xtol=1e-4))


def plan_row(rides: int, lengths: float, confidence: float, power: float, common: float) -> PlanRow:
    """Return what a number of rides is worth.

    Parameters
    ----------
    rides : int
        Number of rides.
    lengths : float
        Independent values in one ride.
    confidence : float
        Of the interval, 0 to 1.
    power : float
        Probability to see it, 0 to 1.
    common : float
        Standard deviation of what both share, over that of the better receiver.

    Returns
    -------
    PlanRow
    """
    dof = (rides - 1) * lengths
    low, high = sd_factors(round(dof, 3), confidence)
    return PlanRow(
        rides=rides, dof=dof, low_factor=low, high_factor=high, within=spread_within(dof, confidence),
        ratio_together=ratio_seen(lambda r: power_together(r, dof, confidence, common), power),
        ratio_apart=ratio_seen(lambda r: power_apart(r, dof, confidence, common), power),
    )  # fmt: skip


def implied_dof(value: float, low: float, high: float, confidence: float) -> float:
    """Return the degrees of freedom of a chi-square interval of a standard deviation, ``nan`` if it is none.

    The ratio of its ends falls steadily with them.

    Parameters
    ----------
    value : float
        Estimate.
    low : float
        Lower end of its interval.
    high : float
        Upper end.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    float
    """
    if not (0.0 < low < value < high < math.inf):
        return math.nan
    dof = dof_of_width(math.log(high / low), confidence)
    return dof if LEAST_DOF < dof < MOST_DOF else math.nan
