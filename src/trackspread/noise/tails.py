"""How well a mean square is known when errors have heavy tails and rides are of unequal quality.

Real receivers are calm for most of the time, burst now and then, and have good and bad days. A handful of
bursts then holds a third of the variance, and an interval that takes errors for normal gets worse with every
ride added. So the ride is the unit that is sampled, and each ride is cut into blocks of some independent
values: how unlike the mean squares of blocks and rides are says how well their common mean is known.

Model. The mean square of block j of ride i, with a independent values behind it, is

    b_ij = v s_i w_ij chi-square(a) / a

with s_i = eta / chi-square(eta) the quality of the ride and w_ij the power of the block: mostly
h / chi-square(h) (errors by Student's t), with probability p in a burst of B times the power. The variance of
the whole process is v E(s) E(w). All that is not known (v, eta, h, p, B) is summed over a grid with a prior.
Ratios of two chi-squares are Fisher's F (Fisher 1924; textbook), so each block has a closed density.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from scipy.special import gammaln

from trackspread.model import Floats
from trackspread.numeric.intervals import dof_of_width
from trackspread.numeric.runs import evenly

INDEPENDENT_A_BLOCK = 3.0
LEAST_BLOCK_M, MOST_BLOCKS = 600.0, 24
MOST_RIDES = 40

NORMAL = 1e4
"""Degrees of freedom from which a ratio of chi-squares is as good as one chi-square."""
QUALITY = ((NORMAL, 0.4), (15.0, 0.25), (6.0, 0.2), (3.5, 0.15))
"""Degrees of freedom of the quality of a ride and their prior: 3.5 makes rides of one receiver differ by a
factor of two in standard deviation, as static logs of several sessions do."""
POWER = ((NORMAL, 0.5), (8.0, 0.3), (4.0, 0.2))
"""Degrees of freedom of the power of a block and their prior."""
CALM = 0.4
"""Prior probability that there are no bursts."""
BURST_SHARE = (0.01, 0.02, 0.04, 0.08, 0.16)
BURST_POWER = ((5.0, 0.3), (12.0, 0.3), (30.0, 0.2), (70.0, 0.2))
"""Power of bursts and its prior: excursions of real receivers reach ten times their standard deviation."""
BURST_DOF = 6.0

LEVELS, LOWEST, HIGHEST = 96, 0.05, 15.0
VALUES, MOST_OVER = 400, 60.0
LEAST_SHARE = 0.1
LEAST_SQUARE = 1e-6


def tail_dof(
    square_m2: Floats, lengths: Floats, own: float, step_m: float, confidence: float, bursts: bool
) -> float:
    """Return the degrees of freedom with which the mean of ``square_m2`` tells the variance of the process.

    Those of the chi-square whose interval of a standard deviation is as wide, in the logarithm, as that of
    the posterior.

    Parameters
    ----------
    square_m2 : ndarray, shape (R, S)
        Squared error of each ride at each station, NaN where there is none.
    lengths : ndarray, shape (K,)
        Independent values in one ride, as likely each.
    own : float
        Degrees of freedom behind one independent value: (R - 1) / R where the mean of R rides was taken off.
    step_m : float
        Distance of stations.
    confidence : float
    bursts : bool
        Whether bursts may be there that these rides did not show; not where they have been left out.

    Returns
    -------
    float
        NaN where all errors are 0.

    Examples
    --------
    Ten rides whose errors burst once say less than ten that do not:

    >>> calm = np.random.default_rng(1).normal(0.0, 2.0, (10, 400)) ** 2
    >>> burst = calm.copy()
    >>> burst[3, 100:140] *= 60.0
    >>> bool(tail_dof(burst, np.array([30.0]), 0.9, 5.0, 0.95, True)
    ...      < tail_dof(calm, np.array([30.0]), 0.9, 5.0, 0.95, True))
    True
    """
    asked = evenly(len(square_m2), MOST_RIDES)
    square = square_m2[asked]
    known = np.isfinite(square)
    if not known.any() or not np.nanmean(square) > 0.0:
        return float("nan")
    square = square / np.nanmean(square)
    value = np.linspace(np.log(LOWEST), np.log(MOST_OVER), VALUES)
    density = np.zeros(VALUES)
    for length in lengths.tolist():
        block, share = blocks(square, block_count(length, square.shape[1] * step_m))
        free = np.maximum(length / block.shape[1], 0.5) * own * share / max(float(share.mean()), 1e-9)
        density += _density(block, free, value, bursts)
    below = np.cumsum(density) / density.sum()
    tail = 0.5 * (1.0 - confidence)
    low, high = np.interp([tail, 1.0 - tail], below, value)
    return dof_of_width(0.5 * float(high - low), confidence) * len(square_m2) / len(asked)


def block_count(lengths: float, route_m: float) -> int:
    """Return into how many blocks a ride is cut: of some independent values, and longer than a burst."""
    wanted = min(round(lengths / INDEPENDENT_A_BLOCK), int(route_m / LEAST_BLOCK_M))
    return int(np.clip(wanted, 1, MOST_BLOCKS))


def blocks(square: Floats, count: int) -> tuple[Floats, Floats]:
    """Return the mean of each of ``count`` blocks, (R, count), and the share of it that is known."""
    known = np.isfinite(square)
    edges = np.linspace(0, square.shape[1], count + 1).round().astype(int)
    total = np.add.reduceat(np.where(known, square, 0.0), edges[:-1], axis=1)
    number = np.add.reduceat(known.astype(float), edges[:-1], axis=1)
    mean = np.divide(total, number, out=np.ones_like(total), where=number > 0.0)
    share = number / np.diff(edges)
    return np.maximum(mean, LEAST_SQUARE), np.where(share >= LEAST_SHARE, share, 0.0)


def _density(block: Floats, free: Floats, value: Floats, bursts: bool) -> Floats:
    """Return the posterior of the logarithm of the process's variance at ``value``, shape (G,), of sum 1."""
    level = np.linspace(np.log(LOWEST), np.log(HIGHEST), LEVELS)
    likely, prior, mean = _rides(block, free, level, bursts)
    most = likely.max(axis=1, keepdims=True)
    within = np.exp(likely - most)
    found = []
    for eta, weight in QUALITY:
        each = likely if eta >= NORMAL else most + np.log(_kernel(level, eta) @ within + 1e-300)
        found.append(each.sum(axis=0) + np.log(weight * prior))
    joint = np.exp(np.array(found) - np.max(found))
    density = np.zeros(len(value))
    for (eta, _), of_eta in zip(QUALITY, joint, strict=True):
        shift = np.log(_mean_of(eta) * mean)
        for column in np.flatnonzero(of_eta.sum(axis=0) > 1e-4 * joint.sum() / len(mean)):
            density += np.interp(value - shift[column], level, of_eta[:, column], left=0.0, right=0.0)
    return np.asarray(density / density.sum())


def _rides(block: Floats, free: Floats, level: Floats, bursts: bool) -> tuple[Floats, Floats, Floats]:
    """Return the log likelihood of each ride, (R, V, C), the prior of each kind of power and its mean, (C,).

    ``level``, (V,), is the logarithm of the variance of the ride.
    """
    over = np.log(block)[:, :, None] - level
    known = free[:, :, None] > 0.0
    free = np.where(known, free[:, :, None], 1.0)
    calm = [np.exp(_log_f(over, free, h)) for h, _ in POWER]
    columns = [np.where(known, np.log(one + 1e-300), 0.0).sum(axis=1) for one in calm]
    prior, mean = [weight for _, weight in POWER], [_mean_of(h) for h, _ in POWER]
    if bursts:
        prior = [CALM * weight for weight in prior]
        wild = [np.exp(_log_f(over - np.log(power), free, BURST_DOF)) for power, _ in BURST_POWER]
        kinds = product(BURST_SHARE, zip(BURST_POWER, wild, strict=True), zip(POWER, calm, strict=True))
        for share, ((power, first), stormy), ((h, second), steady) in kinds:
            mixed = (1.0 - share) * steady + share * stormy
            columns.append(np.where(known, np.log(mixed + 1e-300), 0.0).sum(axis=1))
            prior.append((1.0 - CALM) / len(BURST_SHARE) * first * second)
            mean.append((1.0 - share) * _mean_of(h) + share * power * _mean_of(BURST_DOF))
    return np.stack(columns, axis=2), np.array(prior), np.array(mean)


def _log_f(log_x: Floats, above: Floats, below: float) -> Floats:
    """Return the log density of Fisher's F in log x (textbook)."""
    half, other = 0.5 * above, 0.5 * below
    beta = gammaln(half) + gammaln(other) - gammaln(half + other)
    ratio = np.log(above / below) + log_x
    return np.asarray(half * ratio - (half + other) * np.logaddexp(0.0, ratio) - beta)


def _kernel(level: Floats, eta: float) -> Floats:
    """Return the probability of each ride's level, columns, about each common one, rows: eta / chi2(eta)."""
    half = 0.5 * eta
    apart = level[None, :] - level[:, None]
    log = half * np.log(half) - half * apart - half * np.exp(-apart) - gammaln(half)
    return np.asarray(np.exp(log) * (level[1] - level[0]))


def _mean_of(dof: float) -> float:
    """Return the mean of dof / chi-square(dof)."""
    return dof / (dof - 2.0)
