"""The cheapest sequence of states through a lattice of candidates: Viterbi's algorithm.

The hidden Markov model of map matching (Newson & Krumm 2009): each sample has an *emission* cost for each of
its states, each pair of states of two successive samples a *transition* cost; costs are minus the logarithms
of probabilities. The states of a sample are up to ``K`` candidates on the line, being `AWAY` from it, and
`NOT_YET` having come to it. Where the line was left is remembered, and coming back is judged from there.

Most samples have one candidate and cannot be away. The lattice is cut at them, and only the pieces between
are searched, all side by side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from trackspread.model import Bools, Floats, Ints

AWAY, NOT_YET = -2, -1  # the last two states of a sample
WAY_SCALE_M = 8.0  # m of way too much or too little that cost 1
JUMP_COST = 80.0  # most that a jump along the line costs
RETURN_COST = 40.0  # most that coming back elsewhere costs
BACK_FREE_M = 8.0  # m that a point may fall back free
BACK_SCALE_M = 2.0  # m of way backwards that cost as much as one unit


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Lattice:
    """States of ``N`` samples of several traces, one trace after the other.

    ``station_m``, shape (N, K), says where on the line the candidates are, ``emission``, shape (N, K + 2),
    what each state costs, infinite where there is none; a sample fills its candidates from the first.
    ``travel_m``, shape (N,), is the way travelled, ``bent_m`` by how much the way to a sample may be longer
    than that, and ``first``, shape (T,), the first sample of each trace. Traces that scatter ``wide`` times
    wider than usual pay so much less for a metre.
    """

    station_m: Floats
    emission: Floats
    travel_m: Floats
    bent_m: Floats
    first: Ints
    wide: float

    def way_cost(self, ahead_m: Floats, way_m: Floats) -> Floats:
        """Return the cost of going ``ahead_m`` along the line while ``way_m`` was travelled, any shape."""
        length = np.abs(ahead_m - way_m) / WAY_SCALE_M
        backward = np.maximum(-ahead_m - self.wide * BACK_FREE_M, 0.0)
        return np.asarray((length + backward / BACK_SCALE_M) / self.wide)


def cheapest_states(lattice: Lattice) -> Ints:
    """Return the state of every sample on the cheapest sequence of each trace, shape (N,).

    Parameters
    ----------
    lattice : Lattice

    Returns
    -------
    ndarray of int, shape (N,)
        Number of a candidate; `AWAY` and `NOT_YET` are K and K + 1 here.
    """
    edge = np.zeros(len(lattice.emission) + 1, dtype=bool)
    edge[lattice.first] = edge[-1] = True
    certain = _certain(lattice, edge)
    emission = lattice.emission.copy()
    emission[certain, AWAY:] = np.inf
    begin, end = _runs(~certain, edge)
    begin = begin - ~edge[begin]
    end = end + ~edge[end]
    return _searched(replace(lattice, emission=emission), begin, end)


def _certain(lattice: Lattice, edge: Bools) -> Bools:
    """Return which samples are on their only candidate in the cheapest sequence, shape (N,).

    ``edge``, shape (N + 1,), marks the first sample of each trace, and the end. Being on the line saves the
    cost of being away, less the emission and the transitions on both sides. Take samples in a row that save,
    with one candidate each: a sequence that is away at one of them is cheaper on the line, unless it has to
    pay for coming back at one end of the row. So it is certain where both parts of the row save more than
    that; at the first or last sample of a trace nothing has to be paid.
    """
    candidates = np.isfinite(lattice.emission[:, :AWAY]).sum(axis=1)
    alone = candidates == 1
    in_row = alone & (edge[:-1] | np.roll(alone, 1)) & (edge[1:] | np.roll(alone, -1))
    only = replace(lattice, station_m=lattice.station_m[:, :1])
    transition = np.zeros(len(edge))
    transition[1:-1] = _between_candidates(only, np.arange(1, len(alone))).ravel()
    transition[edge] = 0.0
    saved = lattice.emission[:, AWAY] - lattice.emission[:, 0]
    saved = saved - transition[:-1] - transition[1:]
    in_row &= saved > 0.0
    begin, end = _runs(in_row, edge)
    total = np.concatenate([[0.0], np.cumsum(np.where(in_row, saved, 0.0))])
    row = np.repeat(np.arange(len(begin)), end - begin)
    at = np.flatnonzero(in_row)
    before = total[at + 1] - total[begin[row]]
    after = total[end[row]] - total[at]
    to_come = np.where(edge[begin], 0.0, RETURN_COST)[row]
    to_leave = np.where(edge[end], 0.0, RETURN_COST)[row]
    in_row[at] = (before > to_come) & (after > to_leave)
    return np.asarray(in_row)


def _runs(where: Bools, edge: Bools) -> tuple[Ints, Ints]:
    """Return begin and end (exclusive) of the runs of True, none of them across an edge."""
    begins = where & (edge[:-1] | ~np.roll(where, 1))
    ends = where & (edge[1:] | ~np.roll(where, -1))
    return np.flatnonzero(begins), np.flatnonzero(ends) + 1


def _searched(lattice: Lattice, begin: Ints, end: Ints) -> Ints:
    """Return the states of all samples, those of the pieces ``begin`` to ``end`` by Viterbi's algorithm.

    Outside of the pieces it is the only candidate. Pieces go side by side, the longest first, so those that
    still run at a step are the first ones.
    """
    longest_first = np.argsort(begin - end, kind="stable")
    begin, end = begin[longest_first], end[longest_first]
    steps = np.arange(int((end - begin).max(initial=0)))
    running = np.searchsorted(begin - end, -steps)
    station_m, travel_m = lattice.station_m, lattice.travel_m
    backpointer = np.zeros(lattice.emission.shape, dtype=np.int8)
    cost = lattice.emission[begin]
    cost[:, AWAY] = np.inf
    left_m, left_travel_m = np.zeros(len(begin)), travel_m[begin]
    for step in steps[1:]:
        active = slice(running[step])
        now = begin[active] + step
        transition = _transition(lattice, now, left_m[active], left_travel_m[active])
        arrival = cost[active, :, None] + transition
        predecessor = arrival.argmin(axis=1)
        cost[active] = arrival.min(axis=1) + lattice.emission[now]
        backpointer[now] = predecessor
        source = predecessor[:, AWAY]
        leaving = np.flatnonzero(source < station_m.shape[1])
        left_m[leaving] = station_m[now[leaving] - 1, source[leaving]]
        left_travel_m[leaving] = travel_m[now[leaving] - 1]
    states = np.zeros(len(station_m), dtype=np.int64)
    state = cost.argmin(axis=1)
    for step in steps[::-1]:
        active = slice(running[step])
        now = begin[active] + step
        states[now] = state[active]
        state[active] = backpointer[now, state[active]]
    return states


def _transition(lattice: Lattice, now: Ints, left_m: Floats, left_travel_m: Floats) -> Floats:
    """Return the cost from each state of the sample before to each of sample ``now``, (A, K + 2, K + 2).

    The line was left at the station ``left_m`` after the way ``left_travel_m``, shape (A,).
    """
    states = lattice.emission.shape[1]
    cost = np.full((len(now), states, states), np.inf)
    cost[:, :AWAY, :AWAY] = _between_candidates(lattice, now)
    cost[:, :NOT_YET, AWAY] = 0.0
    cost[:, NOT_YET, :AWAY] = 0.0
    cost[:, NOT_YET, NOT_YET] = 0.0
    ahead_m = lattice.station_m[now] - left_m[:, None]
    way_m = lattice.travel_m[now] - left_travel_m
    rejoining = lattice.way_cost(ahead_m, way_m[:, None])
    cost[:, AWAY, :AWAY] = np.minimum(rejoining, RETURN_COST)
    return cost


def _between_candidates(lattice: Lattice, now: Ints) -> Floats:
    """Return the cost from each candidate of the sample before to each of sample ``now``, shape (A, K, K)."""
    way_m = (lattice.travel_m[now] - lattice.travel_m[now - 1])[:, None, None]
    ahead_m = lattice.station_m[now, None, :] - lattice.station_m[now - 1, :, None]
    longer_m = np.clip(ahead_m - way_m, 0.0, lattice.bent_m[now, None, None])
    return np.minimum(lattice.way_cost(ahead_m - longer_m, way_m), JUMP_COST)
