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

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from scipy.special import gammaln

from trackspread.model import Estimate, Floats, Ints
from trackspread.noise.effective import around
from trackspread.numeric.intervals import shortest
from trackspread.numeric.runs import evenly

INDEPENDENT_A_BLOCK = 3.0  # independent values in a block
LEAST_BLOCK_M, MOST_BLOCKS = 300.0, 24  # m, shortest block; the number of blocks bounds the work
MOST_RIDES = 40  # rides that are asked, bounds the work

NORMAL = 1e4
"""Degrees of freedom from which a ratio of chi-squares is as good as one chi-square."""
QUALITY = ((NORMAL, 0.4), (15.0, 0.25), (6.0, 0.2), (3.5, 0.15))
"""Degrees of freedom of the quality of a ride and their prior: 3.5 makes rides of one receiver differ by a
factor of two in standard deviation, as static logs of several sessions do."""
POWER = ((NORMAL, 0.5), (8.0, 0.3), (4.0, 0.2))
"""Degrees of freedom of the power of a block and their prior."""
CALM = 0.4  # prior probability that a receiver has no bursts
BURST_SHARE = (0.01, 0.02, 0.04, 0.08, 0.16)  # shares of the way that bursts take
BURST_POWER = ((5.0, 0.3), (12.0, 0.3), (30.0, 0.2), (70.0, 0.2))
"""Power of bursts and its prior: excursions of real receivers reach ten times their standard deviation."""
BURST_DOF = 6.0  # degrees of freedom of the power of a burst

LEVELS, LOWEST, HIGHEST = 96, 0.05, 15.0
"""Points of the grid of levels, from the lowest to the highest, in usual powers."""
VALUES, MOST_OVER = 400, 60.0  # points of the grid of the mean power, up to so many usual ones
LEAST_SHARE = 0.1  # share of a block with data, below which it says nothing
LEAST_SQUARE = 1e-6  # share of the largest square: copies have none
LEAST_WEIGHT = 1e-9  # keeps a division from nought
TURNS, PRIOR_DOF = 6, 4.0
"""Turns of the fit, and degrees of freedom that draw a block's power to that of the rides."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Sample:
    """The rides of one route: what the variance of a process is inferred from.

    ``error_m``, shape (T, S), are errors of traces, NaN unknown, at stations ``step_m`` apart; ``ride``,
    (T,), the numbers of their rides; ``lengths``, (K,), independent values in one ride, as likely each;
    ``own`` the degrees of freedom behind one: (R - 1) / R where the mean of R rides was taken off, 1 where
    errors are about the truth.
    """

    error_m: Floats
    ride: Ints
    lengths: Floats
    own: float
    step_m: float


def sd_ends(samples: Sequence[Sample], confidence: float, bursts: bool) -> tuple[float, float]:
    """Return the factors that take a root mean square to the ends of the interval of the process's SD.

    Parameters
    ----------
    samples : sequence of Sample
        One a route, with the same number of ``lengths``; all rides are drawn from one process.
    confidence : float
    bursts : bool
        Whether bursts may be there that these rides did not show; not where they have been left out.

    Returns
    -------
    tuple of float
        The shortest interval of the posterior of the SD; NaN where all errors are 0. Of many rides
        `MOST_RIDES` are asked, and the logarithms of both ends drawn nearer by the root of their share.

    Examples
    --------
    Ten rides whose errors burst once say less than ten that do not:

    >>> calm = np.random.default_rng(1).normal(0.0, 2.0, (10, 400))
    >>> burst = calm.copy()
    >>> burst[3, 100:140] *= 8.0
    >>> def width(error):
    ...     sample = Sample(
    ...         error_m=error, ride=np.arange(10), lengths=np.array([30.0]), own=0.9, step_m=5.0
    ...     )
    ...     low, high = sd_ends([sample], 0.95, True)
    ...     return high / low
    >>> width(burst) > width(calm)
    True
    """
    sd, below = sd_below(samples, bursts)
    low, high = shortest(sd, below, confidence).tolist()
    return low, high


def sd_below(samples: Sequence[Sample], bursts: bool) -> tuple[Floats, Floats]:
    """Return the posterior of the process's SD: values over the root mean square, and the share below each.

    Parameters
    ----------
    samples, bursts
        As for `sd_ends`.

    Returns
    -------
    sd, below : ndarray, shape (G,)
        NaN where all errors are 0.
    """
    rides = sum(len(np.unique(sample.ride)) for sample in samples)
    asked = [_fewer(one, min(1.0, MOST_RIDES / rides)) for one in samples]
    value = np.linspace(np.log(LOWEST), np.log(MOST_OVER), VALUES)
    known = sum(float(np.nansum(one.error_m**2)) for one in asked)
    if not known > 0.0:
        return np.full(VALUES, np.nan), np.full(VALUES, np.nan)
    density = np.zeros(VALUES)
    for place in range(len(samples[0].lengths)):
        density += _density(*_stacked(asked, place), value, bursts)
    nearer = np.sqrt(sum(len(np.unique(one.ride)) for one in asked) / rides)
    return np.exp(0.5 * nearer * value), (np.cumsum(density) - 0.5 * density) / density.sum()


def sd_told(value: float, samples: Sequence[Sample], confidence: float, bursts: bool) -> Estimate:
    """Return a root mean square with the interval of `sd_ends`.

    Parameters
    ----------
    value : float
        Root mean square, metres.
    samples, confidence, bursts
        As for `sd_ends`.

    Returns
    -------
    Estimate
    """
    low, high = sd_ends(samples, confidence, bursts)
    if not low > 0.0:
        return Estimate(value=value, low=value, high=value)
    return around(value, value * low, value * high)


def _fewer(one: Sample, share: float) -> Sample:
    """Return so large a share of the rides, evenly from first to last."""
    rides = np.unique(one.ride)
    kept = np.isin(one.ride, rides[evenly(len(rides), math.ceil(share * len(rides)))])
    return replace(one, error_m=one.error_m[kept], ride=one.ride[kept])


def _stacked(samples: Sequence[Sample], place: int) -> tuple[Floats, Floats]:
    """Return the mean square of every block over that of all, (R, C), and the values behind it."""
    parts = []
    for one in samples:
        length = float(one.lengths[place])
        count = block_count(length, one.error_m.shape[1] * one.step_m)
        squares = block_squares(one.error_m, count, length / count, about_truth=one.own == 1.0)
        mean, known = _by_ride(*squares, one.ride)
        parts.append((mean, known, max(length / count, 0.5) * one.own))
    most = max(square.shape[1] for square, _, _ in parts)
    square, number, free = [], [], []
    for mean, known, each in parts:
        wide = ((0, 0), (0, most - mean.shape[1]))
        share = known / np.max(known)
        share = np.where(share >= LEAST_SHARE, share, 0.0)
        square.append(np.pad(mean, wide, constant_values=1.0))
        number.append(np.pad(known, wide))
        free.append(np.pad(each * share, wide))
    mean, known = np.concatenate(square), np.concatenate(number)
    usual = float((mean * known).sum() / known.sum())
    return np.maximum(mean / usual, LEAST_SQUARE), np.concatenate(free)


def _by_ride(mean: Floats, known: Floats, ride: Ints) -> tuple[Floats, Floats]:
    """Return the mean square of every block of each ride, over its traces, and the stations behind it."""
    of_ride = (np.unique(ride)[:, None] == ride).astype(float)
    number = of_ride @ known
    total = np.where(number > 0.0, of_ride @ (mean * known), 1.0)
    return total / np.where(number > 0.0, number, 1.0), number / of_ride.sum(axis=1, keepdims=True)


def block_count(lengths: float, route_m: float) -> int:
    """Return into how many blocks a ride is cut: of some independent values, and about as long as a burst.

    Parameters
    ----------
    lengths : float
        Independent values in one ride.
    route_m : float
        Length of the route, metres.

    Returns
    -------
    int
    """
    wanted = min(round(lengths / INDEPENDENT_A_BLOCK), int(route_m / LEAST_BLOCK_M))
    return int(np.clip(wanted, 1, MOST_BLOCKS))


def block_squares(
    error_m: Floats, count: int, worth: float, *, about_truth: bool = False
) -> tuple[Floats, Floats]:
    """Return the mean square of each of ``count`` blocks, (R, count), and how many stations it comes of.

    Errors are taken about their location across rides, each ride with the reciprocal of its power in that
    block for a weight, and divided by 1 - weight (the leverage of a weighted mean): about the plain mean a
    burst of one of three rides would show in the other two as well. Power and location are found in turn,
    the power shrunk towards the geometric mean of the rides by `PRIOR_DOF` against ``worth`` values, so
    that rides of like power keep like weights (the location of Student's t: Lange et al. 1989).

    Parameters
    ----------
    error_m : ndarray, shape (R, S)
        Errors, metres, NaN unknown.
    count : int
        Blocks of a ride.
    worth : float
        Stations that one independent value takes.
    about_truth : bool
        Whether errors are about the truth, so that nothing is taken off.

    Returns
    -------
    square_m2, stations : ndarray, shape (R, count)
    """
    known = np.isfinite(error_m)
    edges = np.linspace(0, error_m.shape[1], count + 1).round().astype(int)
    block = np.repeat(np.arange(count), np.diff(edges))
    number = np.add.reduceat(known.astype(float), edges[:-1], axis=1)
    some, filled = number > 0.0, np.where(known, error_m, 0.0)
    if about_truth:
        mean = np.add.reduceat(filled**2, edges[:-1], axis=1) / np.maximum(number, 1.0)
        return np.where(some, mean, 1.0), number
    power, mean = np.ones(number.shape), np.ones(number.shape)
    for _ in range(TURNS):
        weight = np.where(known, 1.0 / power[:, block], 0.0)
        weight = weight / np.maximum(weight.sum(axis=0), LEAST_WEIGHT)
        residual = np.where(known, filled - (weight * filled).sum(axis=0), 0.0)
        leverage, square = (
            np.add.reduceat(x, edges[:-1], axis=1) / np.maximum(number, 1.0) for x in (weight, residual**2)
        )
        mean = square / np.maximum(1.0 - leverage, LEAST_SHARE)
        mean = np.where(some, np.maximum(mean, LEAST_SQUARE * float(mean.max())), 1.0)
        level = np.exp((some * np.log(mean)).sum(axis=0) / np.maximum(some.sum(axis=0), 1))
        power = (worth * mean + PRIOR_DOF * level) / (worth + PRIOR_DOF)
    return mean, number


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
