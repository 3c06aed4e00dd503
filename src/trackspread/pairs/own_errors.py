"""What two receivers ridden together err by on their own, ride by ride, without a ground truth.

Two receivers carried on one ride share the rider's line and part of the sky. With deviations d_a and d_b from
the consensus of the *other* rides let

    D = d_a - d_b          (what is common drops out)
    S = d_a + d_b

Then var D = var_a + var_b and cov(S, D) = var_a - var_b, whatever the two have in common: the estimators of
Grubbs (1948), J. Am. Stat. Assoc. 43:243; beside the mean of several others they are the N-cornered hat. It
is the model of the comparison over all routes (`log_ratio`), held to one route.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trackspread.model import Estimate, Floats, Reason
from trackspread.noise.effective import around
from trackspread.pairs.contrasts import contrast, ride_level
from trackspread.pairs.log_ratio import LEAST_STATIONS, Shared, shared_moments, together
from trackspread.statistics.power import likely_log_variance

_SHARES: Floats = np.asarray((np.arange(240) + 0.5) / 240.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class OwnErrors:
    """What two receivers err by on their own, in common, and the difference (see the module).

    ``log_var`` is the variance of the logarithm of a ride's mean square (`power.likely_log_variance`).
    """

    sd_a: Estimate
    sd_b: Estimate
    common: Estimate
    difference: Estimate
    told_apart: bool
    ratio: float
    log_var: float


def own_errors(
    a_m: Floats, b_m: Floats, sds: tuple[Estimate, Estimate], others: int, lengths: float, confidence: float
) -> OwnErrors | Reason:  # fmt: skip
    """Return how two receivers differ, or why that cannot be said.

    Parameters
    ----------
    a_m, b_m : ndarray, shape (R, S)
        Deviations of each from the consensus of the other rides, on the rides that they share.
    sds : tuple of Estimate
        The standard deviation of each on its own, the same beside whomever it is set.
    others : int
        Rides in the consensus.
    lengths : float
        Independent values in a ride.
    confidence : float

    Returns
    -------
    OwnErrors or Reason
    """
    shared = shared_moments(a_m, b_m)
    share = together([shared])
    if share is None:
        ridden = int((np.isfinite(a_m + b_m).sum(axis=1) >= LEAST_STATIONS).sum())
        return Reason("one_ride_two_receivers") if ridden == 1 else Reason.of(
            "little_in_common", least=LEAST_STATIONS
        )  # fmt: skip
    found = contrast(share, ride_level([0.5 * shared.gap_m2], lengths), confidence)
    return OwnErrors(
        sd_a=sds[0], sd_b=sds[1], difference=found.difference, ratio=found.ratio.value,
        log_var=_log_variance(shared, lengths),
        common=common_sd(shared, others, lengths, confidence),
        told_apart=found.p <= 1.0 - confidence,
    )  # fmt: skip


def _log_variance(shared: Shared, lengths: float) -> float:
    logs = [np.log(square) for square in shared.squares()]
    squares = sum(float(np.sum((log - log.mean()) ** 2)) for log in logs)
    return likely_log_variance(lengths, squares, 2.0 * (len(shared.rides) - 1))


def common_sd(shared: Shared, others: int, lengths: float, confidence: float) -> Estimate:
    """Return the standard deviation of what both share on a ride: the rider's line, the sky.

    With m other rides in the consensus var S = (1 + 1/m) (4 var_c + var D), so that var_c is a quarter of
    m / (m + 1) var S - var D. Both have the posterior of `ride_level`, as if independent; where the lower end
    would be below zero it is 0.

    Parameters
    ----------
    shared : Shared
        Moments on shared rides.
    others : int
        Companions beside the two.
    lengths : float
        Independent values in one ride.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    Estimate
    """
    tails, kept = 0.5 + 0.5 * confidence * np.array([-1.0, 1.0]), others / (others + 1.0)
    both, gap = (ride_level([square], lengths) for square in (shared.sum_m2, shared.gap_m2))
    square = np.subtract.outer(kept * both.quantile(_SHARES) ** 2, gap.quantile(_SHARES) ** 2)
    low, high = 0.5 * np.sqrt(np.maximum(np.quantile(square, tails), 0.0))
    value = kept * both.value**2 - gap.value**2
    if value <= 0.0:
        return Estimate(reason=Reason.of("common_not_seen", most_m=float(high), confidence=confidence))
    return around(0.5 * math.sqrt(value), float(low), float(high))
