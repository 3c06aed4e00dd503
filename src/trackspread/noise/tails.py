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
from typing import NamedTuple

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
LEAST_WEIGHT, TINY = 1e-9, 1e-300  # keep a division and a logarithm from nought
LEAST_KIND = 1e-4  # of the mean weight of a kind, below which one is dropped
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
    share = min(1.0, MOST_RIDES / rides)
    asked = [_fewer(sample, share) for sample in samples]
    value = np.linspace(np.log(LOWEST), np.log(MOST_OVER), VALUES)
    if not any(np.nansum(sample.error_m**2) > 0.0 for sample in asked):
        return np.full(VALUES, np.nan), np.full(VALUES, np.nan)
    density = np.zeros(VALUES)
    for place in range(len(samples[0].lengths)):
        density += _density(*_stacked(asked, place), value, bursts)
    density /= density.sum()
    below = np.cumsum(density) - 0.5 * density
    return np.exp(0.5 * math.sqrt(share) * value), below


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


def _fewer(sample: Sample, share: float) -> Sample:
    """Return so large a share of the rides, evenly from first to last."""
    rides = np.unique(sample.ride)
    wanted = math.ceil(share * len(rides))
    kept = np.isin(sample.ride, rides[evenly(len(rides), wanted)])
    return replace(sample, error_m=sample.error_m[kept], ride=sample.ride[kept])


def _stacked(samples: Sequence[Sample], place: int) -> tuple[Floats, Floats]:
    """Return the mean square of every block over that of all, (R, C), and the values behind it."""
    blocks = [_blocks(sample, float(sample.lengths[place])) for sample in samples]
    most = max(square.shape[1] for square, _, _ in blocks)
    padded = [[np.pad(x, ((0, 0), (0, most - x.shape[1]))) for x in parts] for parts in blocks]
    square, number, free = (np.concatenate(parts) for parts in zip(*padded, strict=True))
    usual = (square * number).sum() / number.sum()
    return np.maximum(square / usual, LEAST_SQUARE), free


def _blocks(sample: Sample, length: float) -> tuple[Floats, Floats, Floats]:
    """Return mean square, stations a trace and values of every block of each ride, (R, C), of one sample."""
    count = block_count(length, sample.error_m.shape[1] * sample.step_m)
    worth = length / count
    mean, known = block_squares(sample.error_m, count, worth, about_truth=sample.own == 1.0)
    of_ride = (np.unique(sample.ride)[:, None] == sample.ride).astype(float)
    number, total = of_ride @ known, of_ride @ (mean * known)
    square = np.divide(total, number, out=np.ones_like(total), where=number > 0.0)
    number /= of_ride.sum(axis=1, keepdims=True)
    share = number / number.max()
    share[share < LEAST_SHARE] = 0.0
    return square, number, sample.own * max(worth, 0.5) * share


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
    filled = np.where(known, error_m, 0.0)
    edges = np.linspace(0, error_m.shape[1], count + 1).round().astype(int)
    block = np.repeat(np.arange(count), np.diff(edges))

    def sums(values: Floats) -> Floats:
        return np.add.reduceat(values, edges[:-1], axis=1)

    number = sums(known.astype(float))
    some, divisor = number > 0.0, np.maximum(number, 1.0)
    if about_truth:
        return np.where(some, sums(filled**2) / divisor, 1.0), number
    rides = np.maximum(some.sum(axis=0), 1)
    power = np.ones(number.shape)
    for _ in range(TURNS):
        weight = np.where(known, 1.0 / power[:, block], 0.0)
        weight /= np.maximum(weight.sum(axis=0), LEAST_WEIGHT)
        location = (weight * filled).sum(axis=0)
        residual = np.where(known, filled - location, 0.0)
        leverage = sums(weight) / divisor
        mean = sums(residual**2) / divisor / np.maximum(1.0 - leverage, LEAST_SHARE)
        mean = np.maximum(mean, LEAST_SQUARE * mean.max())
        mean = np.where(some, mean, 1.0)
        level = np.exp(np.log(mean).sum(axis=0) / rides)
        power = (worth * mean + PRIOR_DOF * level) / (worth + PRIOR_DOF)
    return mean, number


def _density(block: Floats, free: Floats, value: Floats, bursts: bool) -> Floats:
    """Return the posterior of the logarithm of the process's variance at ``value``, shape (G,), of sum 1."""
    level = np.linspace(np.log(LOWEST), np.log(HIGHEST), LEVELS)
    kinds = _powers(bursts)
    ride = _ride_likelihood(block, free, level, kinds)
    most = ride.max(axis=1, keepdims=True)
    within = np.exp(ride - most)
    log_prior = np.log([kind.prior for kind in kinds])
    log_mean = np.log([kind.mean() for kind in kinds])
    joint = []
    for eta, weight in QUALITY:
        each = ride if eta >= NORMAL else most + np.log(_kernel(level, eta) @ within + TINY)
        joint.append(each.sum(axis=0) + log_prior + np.log(weight))
    posterior = np.exp(np.array(joint) - np.max(joint))
    density = np.zeros(len(value))
    for (eta, _), of_eta in zip(QUALITY, posterior, strict=True):
        shift = np.log(_mean_of(eta)) + log_mean
        worth = of_eta.sum(axis=0) > LEAST_KIND * posterior.sum() / len(kinds)
        for kind in np.flatnonzero(worth):
            at = value - shift[kind]
            density += np.interp(at, level, of_eta[:, kind], left=0.0, right=0.0)
    return np.asarray(density / density.sum())


class _Power(NamedTuple):
    """A kind of power of a block: h / chi-square(h), or, over a ``share`` of the way, a burst."""

    prior: float
    h: float
    share: float
    times: float

    def mean(self) -> float:
        return (1.0 - self.share) * _mean_of(self.h) + self.share * self.times * _mean_of(BURST_DOF)


def _powers(bursts: bool) -> list[_Power]:
    usual = CALM if bursts else 1.0
    each = (1.0 - usual) / len(BURST_SHARE)
    calm = [_Power(usual * weight, h, 0.0, 1.0) for h, weight in POWER]
    if not bursts:
        return calm
    return calm + [
        _Power(each * first * second, h, share, times)
        for share, (times, first), (h, second) in product(BURST_SHARE, BURST_POWER, POWER)
    ]


def _ride_likelihood(block: Floats, free: Floats, level: Floats, kinds: Sequence[_Power]) -> Floats:
    """Return the log likelihood of each ride, (R, V, K), whose variance has the logarithm ``level``, (V,)."""
    over = np.log(block)[:, :, None] - level
    known = free[:, :, None] > 0.0
    free = np.where(known, free[:, :, None], 1.0)
    usual = {h: np.exp(_log_f(over, free, h)) for h, _ in POWER}
    times = {kind.times for kind in kinds}
    burst = {more: np.exp(_log_f(over - np.log(more), free, BURST_DOF)) for more in times}
    likelihood = np.empty((len(block), len(level), len(kinds)))
    for place, kind in enumerate(kinds):
        density = (1.0 - kind.share) * usual[kind.h] + kind.share * burst[kind.times]
        log = np.where(known, np.log(density + TINY), 0.0)
        likelihood[:, :, place] = log.sum(axis=1)
    return likelihood


def _log_f(log_x: Floats, above: Floats, below: float) -> Floats:
    """Return the log density of Fisher's F in log x (textbook)."""
    half, other = 0.5 * above, 0.5 * below
    beta = gammaln(half) + gammaln(other) - gammaln(half + other)
    ratio = np.log(above / below) + log_x
    return np.asarray(half * ratio - (half + other) * np.logaddexp(0.0, ratio) - beta)


def _kernel(level: Floats, eta: float) -> Floats:
    """Return the probability of each ride's level, columns, about each common one, rows: eta / chi2(eta)."""
    half = 0.5 * eta
    apart = level - level[:, None]
    log = half * (np.log(half) - apart - np.exp(-apart)) - gammaln(half)
    return np.asarray(np.exp(log) * (level[1] - level[0]))


def _mean_of(dof: float) -> float:
    """Return the mean of dof / chi-square(dof)."""
    return dof / (dof - 2.0)
