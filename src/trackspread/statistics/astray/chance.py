"""How often chance makes what looks like a stretch, by the tail that the rides themselves show.

A fault steps out and comes back: it has two edges, of like size and to opposite sides. Errors with heavy
tails have sharp edges too, but each for itself: they jump and fade, or go to and fro; and they have
excursions of all heights. So two rates are reckoned: that of two such edges which meet by chance, and that
of excursions so high, from the edges and excursions of all rides that are not of a fault themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.ndimage import maximum_filter1d

from trackspread.model import Bools, Floats, Ints
from trackspread.numeric.robust import running_mean
from trackspread.numeric.runs import joined, runs

CHANCE_A_KM = 0.0075  # false stretches a trace-km that are borne: 1 in 133 km, as 1 in 50 is aimed at
LOOKS = 2  # the excursions are counted once with faults known by their edges left out, once with all found
EDGE_M = 50.0  # m over which an edge rises
APART_M = 40.0  # m within which two edges are one, and within which an end of a run has its edge
LEAST_EDGE = 0.8  # scales; smaller changes are no edges
HALF = 0.5
"""Edges half as sharp as those of a run are counted, so that there are enough to tell a rate. Two edges are a
pair where the blunter one is half as sharp as the other; near by, where they may be of a burst or of another
fault, those of pairs count by half."""
NEARBY_M = 500.0  # m to both sides within which a trace's own edges are counted: bursts have many
PRIOR_KM = 2.0  # km that all rides count for beside those, and all other receivers beside one
JEFFREYS = 0.5  # count that is added to what is seen, so that a rate is never 0 (Jeffreys 1946, for Poisson)
MEAN_OVER_M = 150.0  # m over which the height of an excursion is a mean: a short peak is of no stretch
OVER = 2.0  # scales above which an excursion is counted
TAIL_SHAPE = 0.2  # shape of the tail of excursions: 1 / dof of Student's t, five of them
USUAL_EXCESS, PRIOR_EXCURSIONS = 0.5, 3.0
"""Scales by which excursions of normal errors rise above `OVER` on average, and how many that counts for."""


class Span(NamedTuple):
    """Stations ``first`` to ``last`` of trace ``trace``."""

    trace: int
    first: int
    last: int


class _Places(NamedTuple):
    """Edges or excursions: their traces, first and last stations and sizes in scales, shape (E,)."""

    trace: Ints
    first: Ints
    last: Ints
    size: Floats

    def meet(self, trace: int, first: int, last: int) -> Bools:
        """Return which of them share a station with a span."""
        return np.asarray((self.trace == trace) & (self.first <= last) & (self.last >= first))


def chance_a_km(
    z: Floats, known: Bools, found: Sequence[Span], step_m: float, receiver: Ints | None = None
) -> Floats:
    """Return how many runs such as each of those found chance makes a trace-km, shape (N,).

    Parameters
    ----------
    z : ndarray, shape (T, S)
        Deviations from what is usual with each trace there, in scales, 0 where unknown.
    known : ndarray of bool, shape (T, S)
        Where there is data.
    found : sequence of Span, length N
        Runs of stations.
    step_m : float
        Distance between stations, metres.
    receiver : ndarray of int, shape (T,), optional
        Number of the receiver of each trace; without it they are all of one.

    Returns
    -------
    ndarray, shape (N,)

    Notes
    -----
    Of the two rates, each at most 1, it is q (1 - ln q) with q their product, as two independent p-values
    make one (Fisher 1932, Statistical Methods for Research Workers, section 21.1; from memory). Excursions
    that are faults themselves hide others (masking). So those found are left out, and the rest is judged
    once more.

    Examples
    --------
    Chance hardly makes a step out and back among calm rides; among rides that jump as far it does:

    >>> z = np.random.default_rng(1).normal(0.0, 0.3, (4, 800))
    >>> z[2, 300:340] += 8.0
    >>> known, found = np.ones(z.shape, bool), [Span(2, 300, 339)]
    >>> bool(chance_a_km(z, known, found, 5.0)[0] < CHANCE_A_KM)
    True
    >>> z[[0, 1, 3]] += 8.0 * (np.arange(800) // 90 % 2)
    >>> bool(chance_a_km(z, known, found, 5.0)[0] < CHANCE_A_KM)
    False
    """
    if not found:
        return np.zeros(0)
    km = known.sum(axis=1) * step_m / 1000.0
    weight = _weights(km, np.zeros(len(z), dtype=np.int64) if receiver is None else receiver)
    pairs = np.minimum(_pairs(z, known, found, step_m, km, weight), 1.0)
    mean = np.nan_to_num(running_mean(np.where(known, z, np.nan), round(MEAN_OVER_M / 2.0 / step_m)))
    rate = pairs
    for _ in range(LOOKS):
        high = np.minimum(_excursions(mean, found, step_m, km, weight, rate < CHANCE_A_KM), 1.0)
        both = np.maximum(pairs * high, np.finfo(float).tiny)
        rate = both * (1.0 - np.log(both))
    return np.asarray(rate)


def _weights(km: Floats, receiver: Ints) -> Floats:
    """Return what each trace counts for beside each, (T, T): those of other receivers `PRIOR_KM` in all."""
    same = receiver[:, None] == receiver
    others_km = np.maximum((~same * km).sum(axis=1, keepdims=True), PRIOR_KM)
    return np.asarray(np.where(same, 1.0, PRIOR_KM / others_km))


def _pairs(
    z: Floats, known: Bools, found: Sequence[Span], step_m: float, km: Floats, weight: Floats
) -> Floats:
    """Return how many pairs of edges as sharp as those of each run meet by chance a trace-km, shape (N,).

    Of edges that come r a km, r² L / 2 pairs a km are to opposite sides and at most L km apart (coincidences
    of a Poisson process: Gilbert & Pollak 1957, Bell Syst. Tech. J. 36:1005). r is that of edges at least
    `HALF` as sharp as the blunter one of the run, near by on the trace and, as if over `PRIOR_KM`, of all
    rides. Where the data end an edge is not seen: ends take its place.
    """
    reach, nearby = round(APART_M / step_m), round(NEARBY_M / step_m)
    change = _changes(z, known, step_m)
    edges = _edges(change, reach)
    sharp = [_sharpness(z, change, known, run, reach) for run in found]
    ends = [
        edges.meet(run.trace, run.first - 2 * reach, run.first + 2 * reach)
        | edges.meet(run.trace, run.last - 2 * reach, run.last + 2 * reach)
        for run in found
    ]
    single = np.ones(len(edges.size), dtype=bool)
    for (out, back), own in zip(sharp, ends, strict=True):
        single &= ~(own & (min(out, back) >= HALF * max(out, back)))
    cuts_a_km = 2.0 * sum(len(runs(row)) for row in known) / km.sum()
    rate = np.empty(len(found))
    for number, (run, (out, back), own) in enumerate(zip(found, sharp, ends, strict=True)):
        counted = ~own & (edges.size >= HALF * min(out, back))
        number_of_all = float(weight[run.trace, edges.trace] @ (counted & single)) + JEFFREYS
        of_all = number_of_all / float(weight[run.trace] @ km)
        first, last = max(0, run.first - nearby), run.last + nearby
        near_km = float(known[run.trace, first:last].sum()) * step_m / 1000.0
        here = float(np.where(single, 1.0, HALF)[counted & edges.meet(run.trace, first, last)].sum())
        of_edges = (here + PRIOR_KM * of_all) / (near_km + PRIOR_KM)
        length_km = (run.last - run.first + 1) * step_m / 1000.0
        other = cuts_a_km if np.isinf(max(out, back)) else of_edges
        rate[number] = 0.5 * length_km * other * (of_edges if np.isfinite(min(out, back)) else cuts_a_km)
    return rate


def _changes(z: Floats, known: Bools, step_m: float) -> Floats:
    """Return the change of z over `EDGE_M` about each station, 0 where it is not known, shape (T, S)."""
    at, half = np.arange(z.shape[1]), max(1, round(EDGE_M / step_m / 2))
    ahead, behind = np.minimum(at + half, z.shape[1] - 1), np.maximum(at - half, 0)
    return np.where(known[:, ahead] & known[:, behind], z[:, ahead] - z[:, behind], 0.0)


def _edges(change: Floats, reach: int) -> _Places:
    """Return the places where the change is the largest within ``reach`` stations."""
    size = np.abs(change)
    most = maximum_filter1d(size, 2 * reach + 1, axis=1, mode="nearest")
    peak = (size == most) & (most > LEAST_EDGE)
    peak[:, 1:] &= ~peak[:, :-1]  # of equal ones the first
    trace, station = np.nonzero(peak)
    return _Places(trace=trace, first=station, last=station, size=most[trace, station])


def _sharpness(z: Floats, change: Floats, known: Bools, run: Span, reach: int) -> tuple[float, float]:
    """Return how sharp a run steps out and back, in scales; infinite where the data end at it."""
    side = 1.0 if z[run.trace, run.first : run.last + 1].sum() >= 0.0 else -1.0
    row, seen = side * change[run.trace], known[run.trace]
    out = max(0.0, float(row[max(0, run.first - reach) : run.first + reach + 1].max()))
    back = max(0.0, float(-row[max(0, run.last - reach) : run.last + reach + 1].min()))
    before, after = seen[max(0, run.first - reach) : run.first], seen[run.last + 1 : run.last + 1 + reach]
    cut = np.inf
    return (out if before.sum() > HALF * reach else cut), (back if after.sum() > HALF * reach else cut)


def _excursions(
    mean: Floats, found: Sequence[Span], step_m: float, km: Floats, weight: Floats, of_fault: Bools
) -> Floats:
    """Return how many excursions as high as each run chance makes a trace-km, of running means, shape (N,).

    Peaks over the threshold `OVER` (Pickands 1975, Ann. Statist. 3:119; Davison & Smith 1990, J. R. Statist.
    Soc. B 52:393): they exceed it by a generalised Pareto law of shape `TAIL_SHAPE`, whose mean is that of
    all excursions but the run itself and those ``of_fault``.
    """
    high = _high(mean, step_m)
    chance = np.ones(len(high.size), dtype=bool)
    for run, fault in zip(found, of_fault, strict=True):
        if fault:
            chance &= ~high.meet(*run)
    rate = np.empty(len(found))
    for number, run in enumerate(found):
        counted = weight[run.trace, high.trace] * (chance & ~high.meet(*run))
        count = float(counted.sum())
        excess = float(counted @ (high.size - OVER)) + USUAL_EXCESS * PRIOR_EXCURSIONS
        spread = (1.0 - TAIL_SHAPE) * excess / (count + PRIOR_EXCURSIONS)
        above = max(0.0, float(np.abs(mean[run.trace, run.first : run.last + 1]).max()) - OVER)
        tail = (1.0 + TAIL_SHAPE * above / spread) ** (-1.0 / TAIL_SHAPE)
        rate[number] = (count + JEFFREYS) / float(weight[run.trace] @ km) * tail
    return rate


def _high(mean: Floats, step_m: float) -> _Places:
    """Return the excursions above `OVER`, those less than an edge apart as one, with their peaks."""
    size, rows = np.abs(mean), list[tuple[int, int, int]]()
    for trace in np.flatnonzero((size > OVER).any(axis=1)).tolist():
        spans = joined(runs(size[trace] > OVER), round(EDGE_M / step_m))
        rows += [(trace, int(first), int(last)) for first, last in spans]
    trace_of, first_of, last_of = np.array(rows, dtype=np.int64).reshape(-1, 3).T
    peak = [float(size[t, a : b + 1].max()) for t, a, b in rows]
    return _Places(trace=trace_of, first=first_of, last=last_of, size=np.array(peak))
