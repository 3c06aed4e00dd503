"""The standard deviation of a receiver over its rides, the ride being the unit.

Errors of one ride are alike for minutes, and rides are of unequal quality. So each ride gives one mean
square, and how far these lie apart says how well their mean is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trackspread.model import Floats

_NODES, _NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
_UNEQUAL = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.25, 1.5, 1.8, 2.2, 2.7])
UNEQUAL_PRIOR = 0.6  # mode of the prior of s at 0.85
GRID, REACH = 240, 4.0  # points of the grid, and its half width in log SD
DOF_STEP = 0.1
"""Degrees of freedom are rounded to so much in the logarithm."""
MOST_RIDE_DOF = 60.0
"""Beyond it chi-square is narrower than the steps of the quadrature over quality; how rides differ counts."""
_LEVELS = np.linspace(-20.0, 14.0, 681)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SdPosterior:
    """Posterior of a standard deviation: ``log_sd``, (G,), evenly spaced, and ``weight``, (G,), of sum 1.

    ``value`` is the root mean square of the rides, whose square has the expectation of the variance.
    """

    value: float
    log_sd: Floats
    weight: Floats

    def quantile(self, share: Floats) -> Floats:
        """Return the standard deviations below which ``share``, (Q,), of the posterior lie."""
        below = np.cumsum(self.weight) - 0.5 * self.weight
        return np.asarray(np.exp(np.interp(share, below, self.log_sd)))


@lru_cache(maxsize=512)
def _log_likely(dof: float) -> Floats:
    """Return the log likelihood of log(q / sigma^2) over `_LEVELS` for every tau of `_UNEQUAL`, (L, U)."""
    quality = _UNEQUAL[:, None] * _NODES - 0.5 * _UNEQUAL[:, None] ** 2
    level = _LEVELS[:, None, None] - quality
    density = np.exp(0.5 * dof * (level - np.exp(level) + 1.0)) @ (_NODE_WEIGHTS / _NODE_WEIGHTS.sum())
    return np.asarray(np.log(density + 1e-300))


def sd_posterior(square_m2: Floats, dof: Floats) -> SdPosterior | None:
    """Return the posterior of the standard deviation that rides are drawn from.

    Parameters
    ----------
    square_m2 : ndarray, shape (n,)
        Mean square error of each ride.
    dof : ndarray, shape (n,)
        Independent values behind each.

    Returns
    -------
    SdPosterior or None
        ``None`` without a ride that has an error.

    Notes
    -----
    q = sigma^2 exp(tau z - tau^2 / 2) chi-square(dof) / dof, z standard normal from ride to ride, so that
    sigma^2 is the mean over rides. Rides do differ: tau has the density tau^2 exp(-tau^2 / (2 s^2)) a priori
    with s = `UNEQUAL_PRIOR` (mode 0.85, nothing at 0), log sigma a flat one.
    """
    some = (square_m2 > 0.0) & (dof > 0.0)
    if not some.any():
        return None
    q = square_m2[some]
    nu = np.exp(np.round(np.log(np.minimum(dof[some], MOST_RIDE_DOF)) / DOF_STEP) * DOF_STEP)
    middle = 0.5 * np.log(np.mean(q))
    log_sd = middle + np.linspace(-REACH, REACH, GRID)
    prior = _UNEQUAL**2 * np.exp(-0.5 * (_UNEQUAL / UNEQUAL_PRIOR) ** 2) * np.gradient(_UNEQUAL)
    total = np.zeros((GRID, len(_UNEQUAL)))
    for free in np.unique(nu):
        mine = nu == free
        level = np.log(q[mine])[:, None] - 2.0 * log_sd
        for place, likely in enumerate(_log_likely(float(free)).T):
            total[:, place] += np.interp(level, _LEVELS, likely).sum(axis=0)
    weight = np.exp(total - total.max()) @ prior
    return SdPosterior(value=float(np.exp(middle)), log_sd=log_sd, weight=np.asarray(weight / weight.sum()))
