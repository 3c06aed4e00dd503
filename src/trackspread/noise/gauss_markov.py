"""How errors wander: two Gauss-Markov processes and white noise, out of one grid of kinds.

The state x holds both processes along each axis in which the error is seen: one axis, across the line,
where errors keep to the line; two, east and north, where they keep to the earth. From instant to instant

    x' = transition x + w     transition = exp(-step / size)     var w = share (1 - transition^2)
    y  = direction x + e      var e = noise

with the share of each process in a variance of 1. The innovations of the Kalman filter, over the root of
their variance, are the values whitened; the product of these variances is the determinant of their
covariance R. The cost grows with the number of instants only (Kalman 1960, J. Basic Eng. 82:35; for the
likelihood Schweppe 1965, IEEE Trans. Inf. Theory 11:61; both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trackspread.model import Bools, Floats, Ints

Instants = NDArray[np.floating[Any]]
SIZES: Floats = np.asarray(3.0 ** np.arange(8))
"""Constants of the processes, in units of the shortest."""
LENGTH_UNIT_M, TIME_UNIT_S = 12.5, 2.0  # m and s, shortest constants: to 27 km and to 73 min
QUICK_SHARES = (0.5, 0.2, 0.07, 0.02)  # shares of the variance in the quicker of two processes
WHITE_SHARES = (0.5, 0.2, 0.1, 0.05, 0.03, 0.018, 0.011, 0.007)
"""The same where the quicker is the shortest, noise from point to point: 1 % is told from 2 %, for the
variance that increments tell hangs on it."""
COARSENING = 20.0  # rides that halve the say of the likelihood (Miller & Dunson 2019)
JITTER = 1e-6  # share of the variance, least noise


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Kinds:
    """Kinds of error, shape (K,): the share of the slow process, places of both in `SIZES`, and the prior."""

    share: Floats
    slow: Ints
    quick: Ints
    prior: Floats

    def of(self, chosen: Bools) -> Kinds:
        """Return some of them, ``chosen`` of shape (K,)."""
        return Kinds(
            share=self.share[chosen], slow=self.slow[chosen], quick=self.quick[chosen],
            prior=self.prior[chosen],
        )  # fmt: skip

    def correlation(self, apart: Instants) -> Floats:
        """Return rho, (K, S), at distances (S,), in units of the shortest process."""
        alike = np.exp(-apart / SIZES[:, None])
        share = self.share[:, None]
        return np.asarray(share * alike[self.slow] + (1.0 - share) * alike[self.quick])

    def mean_correlation(self, weight: Floats, apart: Instants) -> Floats:
        """Return the mean of rho, (S,), over kinds of ``weight``, (K,)."""
        slow = np.bincount(self.slow, weight * self.share, len(SIZES))
        quick = np.bincount(self.quick, weight * (1.0 - self.share), len(SIZES))
        return np.asarray((slow + quick) @ np.exp(-apart / SIZES[:, None]) / weight.sum())


@cache
def grid() -> Kinds:
    """Return all kinds: one process of every size, and every two sizes with every share of the quick one.

    A priori all sizes are as likely for the slow process, and for one of them all quick ones and shares.

    Returns
    -------
    Kinds
    """
    places = range(len(SIZES))
    kinds = [(1.0, slow, slow) for slow in places]
    for slow in places:
        for quick in range(slow):
            parts = QUICK_SHARES if quick else WHITE_SHARES
            kinds += [(1.0 - part, slow, quick) for part in parts]
    share, (slow, quick) = np.array([kind[0] for kind in kinds]), np.array([kind[1:] for kind in kinds]).T
    prior = 1.0 / np.bincount(slow)[slow]
    return Kinds(share=share, slow=slow, quick=quick, prior=prior / prior.sum())


def whitened(
    columns: Floats, noise: Floats, direction: Floats, at: Instants, kinds: Kinds
) -> tuple[Floats, Floats]:
    """Return X' R^-1 X, shape (K, R, c, c), and log |R|, (K, R), of every row under every kind.

    Parameters
    ----------
    columns : ndarray, shape (R, T, c)
        Columns X of each row at the instants; one with a NaN does not count.
    noise : ndarray, shape (K, R, T)
        Variance of what is independent from instant to instant, as a share of the processes'.
    direction : ndarray, shape (R, T, d)
        Along which the error is seen, on one axis or on two; shorter than 1 it sees less of it.
    at : ndarray, shape (T,)
        The instants, rising, in units of the shortest process.
    kinds : Kinds
        Of number K.

    Returns
    -------
    gram, log_det : ndarray
    """
    rows, _, width = columns.shape
    axes = direction.shape[2]
    known = np.asarray(np.isfinite(columns).all(axis=2))
    value = np.where(known[:, :, None], columns, 0.0).transpose(1, 2, 0)[..., None]
    seen = np.tile(direction, 2).transpose(1, 2, 0)[..., None]
    white = noise.transpose(2, 1, 0) + JITTER
    share = np.repeat([kinds.share, 1.0 - kinds.share], axes, axis=0)[:, None]
    size = np.repeat(SIZES[[kinds.slow, kinds.quick]], axes, axis=0)[:, None]
    stationary = np.eye(2 * axes)[:, :, None, None] * share
    steps = np.diff(at, append=at[-1:])
    state = np.zeros((width, 2 * axes, rows, len(kinds.share)))
    covariance = np.repeat(stationary, rows, axis=2)
    gram, log_det = np.zeros((width, width, *state.shape[2:])), np.zeros(state.shape[2:])
    for instant, step in enumerate(steps):
        there, axis = known[:, instant, None], seen[instant]
        cross = (covariance * axis).sum(axis=1)
        variance = (cross * axis).sum(axis=0) + white[instant]
        innovation = value[instant] - (state * axis).sum(axis=1)
        precision = there / variance
        gram += precision * innovation[:, None] * innovation
        log_det += there * np.log(variance)
        gain = precision * cross
        transition = np.exp(-step / size)
        both = transition[:, None] * transition
        process_noise = stationary * (1.0 - both)
        state = (state + gain * innovation[:, None]) * transition
        covariance = (covariance - gain[:, None] * cross) * both + process_noise
    return gram.transpose(3, 2, 0, 1), log_det.T


def weights(prior: Floats, log_det: Floats, square: Floats, dof: float, rides: float) -> Floats:
    """Return the posterior of kinds, (K,), from the restricted likelihood of what is left of the values.

    The likelihood is |R|^(-1/2) Q^(-N/2), the variance with the prior 1 / v integrated out (Box & Tiao
    1973, Bayesian Inference in Statistical Analysis, section 2.4). As no kind is the truth it is raised to
    the power a / (a + rides), a = `COARSENING` (Miller & Dunson 2019, J. Am. Stat. Assoc. 114:1113; both
    from memory).

    Parameters
    ----------
    prior : ndarray, shape (K,)
    log_det : ndarray, shape (K,)
        Logarithm of the determinant of R, and of X' R^-1 X where something was taken off.
    square : ndarray, shape (K,)
        Q, the sum of squares of the whitened values.
    dof : float
        N, degrees of freedom of that sum.
    rides : float
        Independent series.

    Returns
    -------
    ndarray, shape (K,)
    """
    likelihood = -0.5 * log_det - 0.5 * dof * np.log(square)
    tempered = likelihood * COARSENING / (COARSENING + rides)
    weight = prior * np.exp(tempered - tempered.max())
    return np.asarray(weight / weight.sum())
