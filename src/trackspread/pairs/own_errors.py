"""Standard deviations of two receivers ridden together, without a ground truth.

Two receivers carried on one ride share the rider's line and part of the sky. With offsets y_a, y_b and a
reference m that holds nothing of either receiver's own error, let

    D = y_a - y_b          (what is common drops out)
    S = y_a + y_b - 2 m

Then var D = var_a + var_b and cov(S, D) = var_a - var_b, whatever the two have in common. With m the
mean of all rides at the station these are the estimators of Grubbs (1948), J. Am. Stat. Assoc. 43:243:
var_a = s_aa - s_ab. With m a third receiver of the same ride they are the three-cornered hat, var_a =
(v_ab + v_ac - v_bc) / 2 (Gray & Allan 1974, Proc. 28th Freq. Control Symp.; also Grubbs 1948). And
var_a = var_b exactly where S and D are uncorrelated, the test of Pitman (1939) and Morgan (1939),
Biometrika 31:9 and 31:13.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.model import Estimate, Floats, Reason
from trackspread.noise.effective import Along, around, candidate_shares, centred

_GRID: Floats = np.asarray((np.arange(240) + 0.5) / 240.0)
LEAST_STATIONS = 20


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Moments:
    """Pooled second moments of two series, and what is known of them.

    ``square``, shape (N,), are even quantiles of the posterior of the variance of v, ``slope`` those of the
    regression of u on v, and ``dof`` the independent values that the slope comes of.
    """

    s_uu: float
    s_vv: float
    s_uv: float
    square: Floats
    slope: Floats
    dof: float


@dataclass(frozen=True, kw_only=True, slots=True)
class OwnErrors:
    """What two receivers err by on their own, in common, and the difference (see the module)."""

    sd_a: Estimate
    sd_b: Estimate
    common: Estimate
    difference: Estimate
    told_apart: bool
    ratio: float
    dof: float


def moments(u: Floats, v: Floats, along: Along) -> Moments | None:
    """Return pooled moments of two series (R, S), ``None`` where they have too little in common.

    Of several rides the mean across rides is removed at each station, so that nothing that comes back at
    the same place on every ride counts as error; of one ride nothing is removed.

    Notes
    -----
    How far errors are alike along the route is not known: both posteriors are those of `posterior`. The
    slope is that of least squares, sum(u v) / sum(v^2); given v, its variance is that of the weighted sum
    of errors with the weights v / sum(v^2), of the variance that u has about v.
    """
    both = np.isfinite(u) & np.isfinite(v)
    u, v = np.where(both, u, np.nan), np.where(both, v, np.nan)
    freedom = both.sum(axis=0).astype(float)
    if both.any(axis=1).sum() > 1:
        (u, freedom), (v, _) = centred(u), centred(v)
    known = np.isfinite(u)
    if known.any(axis=0).sum() < LEAST_STATIONS:
        return None
    total = float(freedom.sum())
    s_uu, s_vv, s_uv = (float(np.nansum(x)) / total for x in (u * u, v * v, u * v))
    if not min(s_uu, s_vv) > 1e-12:
        return None
    own = total / float(known.sum())
    left = along.posterior(u - s_uv / s_vv * v, own, v)
    share = candidate_shares(np.where(known, v, 0.0) / (total * s_vv), along)
    return Moments(
        s_uu=s_uu, s_vv=s_vv, s_uv=s_uv, square=along.posterior(v, own).sd(_GRID) ** 2,
        slope=s_uv / s_vv + left.error(share, _GRID), dof=1.0 / (s_vv * float(left.weight @ share)),
    )  # fmt: skip


def own_errors(
    a_m: Floats, b_m: Floats, middle_m: Floats, along: Along, confidence: float
) -> OwnErrors | Reason:
    """Return the standard deviations of two receivers, or why there are none.

    Parameters
    ----------
    a_m, b_m : ndarray, shape (R, S)
        Offsets of both on the rides that they share.
    middle_m : ndarray, shape (R, S)
        The reference m: 0 with two and more rides, as the mean across rides is removed here; the
        consensus of other rides with one; a third receiver for the three-cornered hat.

    Notes
    -----
    Intervals: var D and the slope of S on D each have a posterior (`moments`); the two are independent in
    normal samples, so intervals are quantiles over their product grid. Where a lower end would be
    below zero it is 0, and all of 1 - ``confidence`` lies above the upper end. An estimate at or below zero
    is no estimate: not separable.
    What both share cannot have a negative variance; where var S < var D says so by chance, it is taken as
    nothing, so that no receiver errs by more on its own than in all (the maximum likelihood under
    that bound), and `common` says that it is not separable.
    """
    found = moments(a_m + b_m - 2.0 * middle_m, a_m - b_m, along)
    if found is None:
        return Reason.of("little_in_common", least=LEAST_STATIONS)
    tail = np.array([0.5 - confidence / 2.0, 0.5 + confidence / 2.0])
    lean = np.clip(found.slope, -1.0, 1.0)
    draws_a, draws_b = (np.sqrt(0.5 * found.square[:, None] * (1.0 + x)).ravel() for x in (lean, -lean))
    both = min(found.s_vv, 0.5 * (found.s_vv + found.s_uu))
    sd_a = _sd(0.5 * (both + found.s_uv), _ends(draws_a, confidence), confidence)
    sd_b = _sd(0.5 * (both - found.s_uv), _ends(draws_b, confidence), confidence)
    ends = np.interp(tail, _GRID, found.slope)
    leaning = float(np.clip(found.s_uv / found.s_vv, -0.99, 0.99))
    return OwnErrors(
        sd_a=sd_a, sd_b=sd_b, common=_common(a_m, b_m, along, confidence),
        difference=_difference(sd_a, sd_b, np.quantile(draws_a - draws_b, tail)),
        told_apart=bool(ends[0] > 0.0 or ends[1] < 0.0),
        ratio=float(np.sqrt((1.0 + leaning) / (1.0 - leaning))),
        dof=found.dof,
    )  # fmt: skip


def _ends(draws: Floats, confidence: float) -> Floats:
    """Return the ends of the interval of what is not below 0; where it may be 0, nothing is cut off there."""
    low, high, most = np.quantile(draws, [0.5 - confidence / 2.0, 0.5 + confidence / 2.0, confidence])
    return np.array([low, high]) if low > 0.0 else np.array([0.0, most])


def _sd(variance: float, ends: Floats, confidence: float) -> Estimate:
    if variance <= 0.0:
        return Estimate(reason=Reason.of("negative_variance", most_m=float(ends[1]), confidence=confidence))
    return around(float(np.sqrt(variance)), *ends)


def _difference(sd_a: Estimate, sd_b: Estimate, ends: Floats) -> Estimate:
    if not (np.isfinite(sd_a.value) and np.isfinite(sd_b.value)):
        return Estimate(reason=Reason("one_not_separable"))
    return around(sd_a.value - sd_b.value, *ends)


def _common(a_m: Floats, b_m: Floats, along: Along, confidence: float) -> Estimate:
    """Return the standard deviation of what both share: the root of their covariance across rides."""
    if np.isfinite(a_m + b_m).any(axis=1).sum() < 2:
        return Estimate(reason=Reason("one_ride_together"))
    found = moments(a_m, b_m, along)
    if found is None:
        return Estimate(reason=Reason("few_common_stations"))
    draws = np.sqrt(np.maximum(found.square[:, None] * found.slope, 0.0))
    ends = _ends(draws.ravel(), confidence)
    if found.s_uv <= 0.0:
        return Estimate(reason=Reason.of("common_not_seen", most_m=float(ends[1]), confidence=confidence))
    return around(float(np.sqrt(found.s_uv)), *ends)
