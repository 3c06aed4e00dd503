"""Two receivers ridden together, compared ride by ride: the ride is the unit.

With D = a - b and S = a + b, each less its mean across rides, var_a - var_b = cov(S, D) and var_a + var_b =
var D (see `own_errors`), whatever the two share. Here every ride has its own correlation of S and D: rides
of unequal quality, and errors that stay alike all along a ride, then show in how far rides lie apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackspread.model import Estimate, Floats
from trackspread.noise.effective import centred
from trackspread.numeric.distributions import t_below, t_quantile

PRIOR_DOF = 2.0
LEAST_STATIONS = 20
_LEANS = np.concatenate([[-1.0], np.tanh(np.linspace(-4.0, 4.0, 321)), [1.0]])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class RideMoments:
    """Mean squares of S, of D and their mean product by ride, shape (n,) each.

    ``worth`` is what of a ride counts, and ``chance`` the variance of Fisher's z within a ride.
    """

    s_uu: Floats
    s_vv: Floats
    s_uv: Floats
    worth: Floats
    chance: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Contrast:
    """SD of a over and minus SD of b, with the p-value of no difference."""

    ratio: Estimate
    difference: Estimate
    p: float
    log_ratio_error: float


def ride_moments(a_m: Floats, b_m: Floats, middle_m: Floats, lengths: float) -> RideMoments | None:
    """Return the moments of two receivers (R, S) ride by ride, ``None`` below two rides.

    ``middle_m`` is the reference of `own_errors`; ``lengths`` the independent values in a whole ride.
    """
    (s, _), (d, _) = centred(a_m + b_m - 2.0 * middle_m), centred(a_m - b_m)
    known = np.isfinite(s) & np.isfinite(d)
    count = known.sum(axis=1)
    ridden = np.flatnonzero(count >= LEAST_STATIONS)
    if len(ridden) < 2:
        return None
    s, d = (np.where(known, x, 0.0)[ridden] for x in (s, d))
    n = count[ridden].astype(float)
    s_uu, s_vv, s_uv = ((x * y).sum(axis=1) / n for x, y in ((s, s), (d, d), (s, d)))
    if not min(s_uu.min(), s_vv.min()) > 1e-12:
        return None
    rides = len(ridden)
    own = max(lengths * (rides - 1.0) / rides, 1.0) * n / known.shape[1]
    return RideMoments(
        s_uu=s_uu, s_vv=s_vv, s_uv=s_uv, worth=np.full(rides, (rides - 1.0) / rides), chance=1.0 / own
    )


def contrast(parts: Sequence[RideMoments], confidence: float) -> Contrast:
    """Return the contrast of two receivers over all rides of all routes that they share.

    Notes
    -----
    At a lean beta = (var_a - var_b) / (var_a + var_b) the correlation of S - beta D with D is 0. Fisher's z
    of each ride is held against 0 by Student's t over rides; the interval of beta is what is not refused
    (test inversion of Pitman 1939 and Morgan 1939). Where the receivers are alike, a and b may be exchanged
    on each ride and z is symmetric about 0 whatever the errors, and t is cautious for what has heavy tails
    (Efron 1969, J. Am. Stat. Assoc. 64:1278; from memory). The variance of z is shrunk by `PRIOR_DOF`
    degrees of freedom towards what chance within rides gives (Smyth 2004).
    """
    uu, vv, uv, worth, chance = (
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("s_uu", "s_vv", "s_uv", "worth", "chance")
    )
    free = max(float(worth.sum()) - 1.0, 0.0)
    product = uv - _LEANS[:, None] * vv
    left = np.maximum(uu - 2.0 * _LEANS[:, None] * uv + _LEANS[:, None] ** 2 * vv, 1e-12)
    z = np.arctanh(np.clip(product / np.sqrt(left * vv), -1.0 + 1e-9, 1.0 - 1e-9))
    mean = z @ worth / worth.sum()
    variance = ((z - mean[:, None]) ** 2) @ worth / worth.sum() * (free + 1.0) / max(free, 1.0)
    within = float(chance @ worth / worth.sum())
    pooled = (PRIOR_DOF * within + free * variance) / (PRIOR_DOF + free)
    t = mean / np.sqrt(pooled / worth.sum())
    above = t_below(t, free + PRIOR_DOF)
    # the probability that the lean is below each of the leans: falls from 1 to 0 as t rises
    below = np.maximum.accumulate(1.0 - np.minimum.accumulate(above))
    tail = 0.5 - confidence / 2.0
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], below, _LEANS)
    p = float(2.0 * min(a := float(np.interp(0.0, _LEANS, above)), 1.0 - a))
    ratio = [float(np.sqrt((1.0 + x) / max(1.0 - x, 1e-6))) for x in (middle, low, high)]
    total = float(np.sum(vv * worth) / worth.sum())
    leans = np.array([middle, low, high])
    gap = (np.sqrt(total * (1.0 + leans) / 2.0) - np.sqrt(total * (1.0 - leans) / 2.0)).tolist()
    half = 0.5 * (np.log(max(ratio[2], 1e-3)) - np.log(max(ratio[1], 1e-3)))
    return Contrast(
        ratio=Estimate(value=ratio[0], low=ratio[1], high=ratio[2]),
        difference=Estimate(value=gap[0], low=gap[1], high=gap[2]),
        p=p,
        log_ratio_error=float(half / t_quantile(1.0 - tail, np.inf)),
    )
