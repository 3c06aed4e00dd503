"""The share of a receiver's way on which something was so, the ride being the unit."""

from __future__ import annotations

import numpy as np
from scipy import special

from trackspread.model import Estimate, Floats, Reason
from trackspread.numeric.distributions import t_quantile


def share_of_way(struck_m: Floats, way_m: Floats, length_m: float, confidence: float) -> Estimate:
    """Return the share of the way that was struck, 0 to 1, with its interval.

    Parameters
    ----------
    struck_m, way_m : ndarray, shape (n,)
        Length struck and length of way of each ride.
    length_m : float
        Over which it hangs together within a ride: so many metres count as one.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    Estimate

    Notes
    -----
    The exact binomial interval (Clopper & Pearson 1934, Biometrika 26:404) with the effective number of
    values of Korn & Graubard (1998), Survey Methodology 24:193: p (1 - p) / v, v the variance of the ratio
    sum(struck) / sum(way) between rides, times the square of the ratio of Student's t for values and for
    rides (from memory). It is at most the number of lengths of ``length_m`` ridden.
    """
    n, way = len(way_m), float(np.sum(way_m))
    if n == 0 or not way > 0.0:
        return Estimate(reason=Reason("no_judged_ride"))
    p = float(np.sum(struck_m) / way)
    if n < 2:
        return Estimate(value=p, reason=Reason("one_ride_no_interval"))
    lengths = max(way / length_m, 2.0)
    upper = 0.5 + confidence / 2.0
    variance = n / (n - 1.0) * float(np.sum((struck_m - p * way_m) ** 2)) / way**2
    count = lengths
    if variance > 0.0:
        heavier = float(t_quantile(upper, lengths - 1.0) / t_quantile(upper, n - 1.0)) ** 2
        count = min(lengths, max(p * (1.0 - p) / variance * heavier, 1.0))
    hits = p * count
    low = float(special.betaincinv(hits, count - hits + 1.0, 1.0 - upper)) if hits > 0.0 else 0.0
    high = float(special.betaincinv(hits + 1.0, count - hits, upper)) if hits < count else 1.0
    return Estimate(value=p, low=min(low, p), high=max(high, p))
