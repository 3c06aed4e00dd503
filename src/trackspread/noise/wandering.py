"""How errors on the plane of the earth wander in time: sums of two Gauss-Markov processes out of a grid.

A receiver's error keeps its direction on the earth for minutes while the line turns. Its part along the line
is then c(t) E(t) + s(t) N(t), with (c, s) the direction of the line and E, N alike and independent. As both
are sums of Gauss-Markov processes, the innovations of the Kalman filter are the whitened columns, and their
variances give the determinant of the covariance, at a cost that grows with the number of instants only
(Kalman 1960, J. Basic Eng. 82:35; for the likelihood Schweppe 1965, IEEE Trans. Inf. Theory 11:61; both from
memory).
"""

from __future__ import annotations

from functools import cache

import numpy as np

from trackspread.model import Floats

TIMES_S = 2.0 * 3.0 ** np.arange(8)
SHORT_SHARES = (0.5, 0.2, 0.07, 0.02)  # shares of the variance in the quicker of two processes
PRIOR_POWER = 0.25  # of time constants in the prior
JITTER = 1e-6  # m², keeps a variance from nought


@cache
def wanderings() -> tuple[Floats, Floats]:
    """Return share of the slow process, its time constant, the quick one's, (K, 3), s, and their prior, (K,).

    Time constants from 2 s to over an hour, evenly in the logarithm; the prior of the slow one grows with its
    length to the power of `PRIOR_POWER`, within one of them all are alike.

    Returns
    -------
    kind : ndarray of float, shape (K, 3)
    prior : ndarray of float, shape (K,)
    """
    kinds = [(1.0, slow, slow) for slow in TIMES_S]
    for number, slow in enumerate(TIMES_S):
        kinds += [(1.0 - share, slow, quick) for quick in TIMES_S[:number] for share in SHORT_SHARES]
    kind = np.array(kinds)
    alike = np.array([np.sum(kind[:, 1] == slow) for slow in kind[:, 1]])
    prior = kind[:, 1] ** PRIOR_POWER / alike
    return kind, prior / prior.sum()


def whitened(
    columns: Floats, noise: Floats, direction: Floats, step_s: float, kind: Floats
) -> tuple[Floats, Floats]:
    """Return X' R^-1 X, shape (K, R, c, c), and log |R|, (K, R), of every row under every wandering.

    Parameters
    ----------
    columns : ndarray, shape (R, T, c)
        Columns X of each row, instants ``step_s`` apart; an instant with a NaN does not count.
    noise : ndarray, shape (K, R, T)
        Variance of what is independent from instant to instant, as a share of the wandering's.
    direction : ndarray, shape (R, T, 2)
        Unit vector along which the error is seen; a shorter one sees less of it.
    kind : ndarray, shape (K, 3)
        See `wanderings`.
    step_s : float
        Time between two values, seconds.

    Returns
    -------
    gram, log_det : ndarray
    """
    rows, _, width = columns.shape
    share = np.stack([kind[:, 0]] * 2 + [1.0 - kind[:, 0]] * 2, axis=1)
    time_s = np.stack([kind[:, 1]] * 2 + [kind[:, 2]] * 2, axis=1)
    transition = np.exp(
        -step_s / time_s
    )  # the diagonal: east and north of the slow process, then of the quick
    both = (transition[:, :, None] * transition[:, None, :])[:, None]
    stationary = (share[:, :, None] * np.eye(4))[:, None]
    process_noise = stationary * (1.0 - both)
    known = np.asarray(np.isfinite(columns).all(axis=2))
    filled = np.where(known[:, :, None], columns, 0.0)
    observation = np.concatenate([direction, direction], axis=2)
    state = np.zeros((len(kind), rows, 4, width))
    covariance = np.broadcast_to(stationary, (len(kind), rows, 4, 4))
    gram, log_det = np.zeros((len(kind), rows, width, width)), np.zeros((len(kind), rows))
    for at in range(columns.shape[1]):
        seen = observation[:, at, :, None]
        cross = covariance @ seen
        innovation = filled[:, at, None, :] - (seen * state).sum(axis=2, keepdims=True)
        variance = (cross * seen).sum(axis=(2, 3)) + noise[:, :, at] + JITTER
        precision = (known[:, at] / variance)[:, :, None, None]
        gram = gram + precision * innovation * innovation.transpose(0, 1, 3, 2)
        log_det = log_det + known[:, at] * np.log(variance)
        gain = cross * precision
        state = (state + gain * innovation) * transition[:, None, :, None]
        covariance = (covariance - gain * cross.transpose(0, 1, 3, 2)) * both + process_noise
    return gram, log_det
