"""What a number of rides is worth: how well a spread is known, and which ratio would be told apart."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import optimize

from trackspread.numeric.distributions import chi2_below
from trackspread.numeric.intervals import LEAST_DOF, MOST_DOF, dof_of_width, sd_factors
from trackspread.statistics.power import fewest_rides, held, power_apart, power_together


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

    ``lengths`` is the number of independent lengths in one ride (`noise.effective.lengths_of`): n rides have
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
    return fewest_rides(lambda rides: spread_within((rides - 1) * lengths, confidence) <= within)


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


def plan_row(
    rides: int, lengths: float, log_var: float, confidence: float, power: float, common: float,
    receivers: int = 2,
) -> PlanRow:  # fmt: skip
    """Return what a number of rides is worth.

    Parameters
    ----------
    rides : int
        Number of rides.
    lengths : float
        Independent values in one ride, for the spread.
    log_var : float
        Variance of the logarithm of a ride's mean square, for the ratios.
    confidence : float
        Of the interval, 0 to 1.
    power : float
        Probability to see it, 0 to 1.
    common : float
        Standard deviation of what both share, over that of the better receiver.
    receivers : int
        Compared with each other.

    Returns
    -------
    PlanRow
    """
    dof = (rides - 1) * lengths
    low, high = sd_factors(round(dof, 3), confidence)
    together, alone = (held(rides, receivers, confidence, shared) for shared in (True, False))
    return PlanRow(
        rides=rides, dof=dof, low_factor=low, high_factor=high, within=spread_within(dof, confidence),
        ratio_together=ratio_seen(lambda r: power_together(r, rides, log_var, together, common), power),
        ratio_apart=ratio_seen(lambda r: power_apart(r, rides, log_var, alone, common), power),
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
