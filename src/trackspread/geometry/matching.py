"""Match traces to a line in order of travel, never by the nearest point alone.

Candidates of a point are the local minima of its distance to the line. Of all sequences of candidates
the one is taken that best explains the distances, the headings and the lengths travelled between the
points (Viterbi; Newson & Krumm 2009, "Hidden Markov map matching through noise and sparseness", give
the form: a cost for the distance, a cost for the difference of the two ways). A point may also be
*away*: then the station where the trace left is remembered, and coming back is judged from there; a trace
that has not yet been on the line may come to it anywhere.
All traces run through the same pass side by side.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.spatial import cKDTree

from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import project_at_vertex, project_near, tangents
from trackspread.geometry.samples import Samples, sample
from trackspread.model import Bools, Floats, Ints

CANDIDATES = 6  # feet on the line tried for each
DISTANCE_SCALE_M = 8.0  # s of the cost of a distance, m
KNEE = 1.5  # knee of that cost, in s
AWAY_COST = 6.0  # least cost of a point away from the line
AWAY_SHARE = 0.63  # share of the reach at which a point costs as much as being away
SCATTER_TO_SCALE = 1.4826  # standard deviations in a median absolute deviation, 1 / Φ⁻¹(0.75)
HEADING_COST, HEADING_SCATTERS = 6.0, 5.0
"""Cost of a heading at right angles; scatters of way over which a heading of sparse traces counts in full."""
WAY_SCALE_M = 8.0  # m of way too much or too little that cost 1
JUMP_COST = 80.0  # most that a jump along the line costs
RETURN_COST = 40.0  # most that coming back elsewhere costs
BACK_FREE_M = 8.0  # m that a point may fall back free
BACK_SCALE_M = 2.0  # m of way backwards that cost as much as one unit
BATCH = 128  # traces matched at once, bounds memory
BLOCK = 2048  # rows of a table of costs at once, bounds memory


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Line:
    """A polyline with stations; vertices lie at most a few metres apart."""

    x: Floats
    y: Floats
    station_m: Floats

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return float(self.station_m[-1])


def match(bundle: Bundle, line: Line, reach_m: float) -> Floats:
    """Return the station of every point of the bundle, shape (P,), NaN where it is away from the line.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    line : Line
        The centreline.
    reach_m : float
        Farthest distance of a point that belongs to the line, metres.

    Returns
    -------
    ndarray of float, shape (P,)
    """
    parts, sparse = [], bundle.is_sparse()
    for first in range(0, bundle.traces, BATCH):
        part = bundle.select(list(range(first, min(first + BATCH, bundle.traces))))
        samples = sample(part, sparse)
        parts.append(_to_points(part, samples, best_stations(samples, line, reach_m), line, reach_m))
    return np.concatenate(parts)


def candidates(px: Floats, py: Floats, line: Line, reach_m: float) -> tuple[Ints, Floats, Floats]:
    """Return point number, station and distance of every local minimum of distance within reach.

    The result is sorted by point, then by station; at most `CANDIDATES` (the nearest) a point.

    Parameters
    ----------
    px : ndarray of float, shape (P,)
        East of the points, metres.
    py : ndarray of float, shape (P,)
        North of the points, metres.
    line : Line
        The centreline.
    reach_m : float
        Farthest distance of a point that belongs to the line, metres.

    Returns
    -------
    point : ndarray of int, shape (K,)
    station_m, distance_m : ndarray of float, shape (K,)
    """
    tree, points = cKDTree(np.column_stack([line.x, line.y])), cKDTree(np.column_stack([px, py]))
    pairs = points.sparse_distance_matrix(tree, reach_m, output_type="ndarray")
    table = csr_array((pairs["v"], (pairs["i"], pairs["j"])), shape=(len(px), len(line.x)))
    table.sort_indices()
    point, vertex = np.repeat(np.arange(len(px)), np.diff(table.indptr)), table.indices.astype(np.int64)
    distance = table.data
    joined = (point[1:] == point[:-1]) & (vertex[1:] == vertex[:-1] + 1)
    low = np.ones(len(point), dtype=bool)
    low[1:] &= ~joined | (distance[1:] < distance[:-1])
    low[:-1] &= ~joined | (distance[1:] >= distance[:-1])
    point, vertex = point[low], vertex[low]
    station, _, foot = project_at_vertex(px[point], py[point], vertex, line.x, line.y, line.station_m)
    station = np.clip(station, 0.0, line.length_m)
    rank = _rank_within(point, foot)
    keep = rank < CANDIDATES
    return point[keep], station[keep], foot[keep]


def _rank_within(group: Ints, value: Floats) -> Ints:
    """Return the rank of each value within its group (groups are sorted)."""
    order = np.lexsort((value, group))
    first = np.concatenate([[0], np.flatnonzero(np.diff(group[order])) + 1]).astype(np.int64)
    size = np.diff(np.concatenate([first, [len(group)]]))
    rank = np.empty(len(group), dtype=np.int64)
    rank[order] = np.arange(len(group)) - np.repeat(first, size) if len(group) else order
    return rank


def best_stations(samples: Samples, line: Line, reach_m: float) -> Floats:
    """Return the station of every sample on the cheapest sequence, shape (T, M), NaN where away.

    Parameters
    ----------
    samples : Samples
        The points to match.
    line : Line
        The centreline.
    reach_m : float
        Farthest distance of a point that belongs to the line, metres.

    Returns
    -------
    ndarray of float, shape (T, M)
    """
    at, cost, wide = _candidate_table(samples, line, reach_m)
    _, traces, states = cost.shape
    away, rows = states - 2, np.arange(traces)
    travel, valid = samples.travel_m.T.copy(), (samples.index >= 0).T.copy()
    there = np.isfinite(cost[:, :, :away]) & valid[:, :, None]
    total = cost[0].copy()
    total[:, away] = np.inf
    memory, left_at, seen = np.zeros(traces), travel[0].copy(), 1
    back: NDArray[np.int8] = np.zeros(cost.shape, dtype=np.int8)
    for i, move in enumerate(_moves(at, travel, samples.bent_m.T, wide), 1):
        np.add(move, total[:, :, None], out=move)
        origin = move.argmin(axis=1)
        if ((origin[:, :away] == away) & there[i]).any():  # seldom: coming back would win, were it free
            leaves = valid[seen:i] & (back[seen:i, :, away] < away)
            last = i - 1 - leaves[::-1].argmax(axis=0)
            left = at[last - 1, rows, np.minimum(back[last, rows, away], away - 1)]
            memory = np.where(leaves.any(axis=0), left, memory)
            left_at, seen = np.where(leaves.any(axis=0), travel[last - 1, rows], left_at), i
            rejoin = _way_cost(at[i] - memory[:, None], (travel[i] - left_at)[:, None], wide)
            move[:, away, :away] += np.minimum(rejoin, RETURN_COST)
            origin = move.argmin(axis=1)
        back[i] = origin
        np.copyto(total, np.minimum.reduce(move, axis=1) + cost[i], where=valid[i, :, None])
    return _traced_back(at, total, back, valid)


def _moves(at_m: Floats, travel_m: Floats, bent_m: Floats, wide: float) -> Iterator[Floats]:
    """Give the costs of going from each state of a sample to each of the next, step by step, (T, N, N).

    States are the candidates, being away, and not having come to the line yet, in this order. Coming back is
    free here.
    """
    steps, traces, away = at_m.shape
    block = max(1, BLOCK // traces)
    for first in range(1, steps, block):
        here, before = slice(first, first + block), slice(first - 1, min(first + block, steps) - 1)
        way = travel_m[here] - travel_m[before]
        ahead = at_m[here, :, None, :] - at_m[before, :, :, None]
        bent = bent_m[here, :, None, None]
        if bent.any():  # the line may be so much longer than the straight line between two points
            ahead = ahead - np.clip(ahead - way[:, :, None, None], 0.0, bent)
        move = np.full((*way.shape, away + 2, away + 2), np.inf)
        np.minimum(_way_cost(ahead, way[:, :, None, None], wide), JUMP_COST, out=move[..., :away, :away])
        move[..., : away + 1, away] = move[..., away:, :away] = move[..., away + 1, away + 1] = 0.0
        yield from move


def _candidate_table(samples: Samples, line: Line, reach_m: float) -> tuple[Floats, Floats, float]:
    """Return the stations of the candidates of every sample, shape (M, T, K), and what each state costs.

    Costs have shape (M, T, K + 2): after the candidates, being away and not having come yet. With them
    comes how many times wider than usual the traces scatter.
    """
    traces, steps = samples.index.shape
    order = samples.index.T.ravel()
    where = np.flatnonzero(order >= 0)
    columns = (
        samples.x, samples.y, samples.heading_x, samples.heading_y, samples.heading_over_m,
        samples.heading_share,
    )  # fmt: skip
    x, y, heading_x, heading_y, over_m, share = (c.T.ravel()[where] for c in columns)
    point, at, distance = candidates(x, y, line, reach_m)
    slot = np.arange(len(point)) - np.searchsorted(point, point)
    tx, ty = tangents(line.x, line.y)
    along_x, along_y = np.interp(at, line.station_m, tx), np.interp(at, line.station_m, ty)
    agreement = heading_x[point] * along_x + heading_y[point] * along_y
    most = int(slot.max(initial=0)) + 1
    station = np.zeros((traces * steps, most))
    cost = np.full((traces * steps, most + 2), np.inf)
    station[where[point], slot] = at
    sparse = traces > 2 and bool(np.isfinite(over_m).all())
    scatter = _scatter_m(point, distance, 0.5 + 0.5 / traces if sparse else 0.5)
    wide = max(1.0, scatter / DISTANCE_SCALE_M)
    trusted = share[point] * np.minimum(over_m[point] / max(HEADING_SCATTERS * scatter, 1e-6), 1.0)
    cost[where[point], slot] = _distance_cost(distance, wide) + HEADING_COST * trusted * (1.0 - agreement)
    cost[:, most:] = _away_cost(reach_m, wide)
    return station.reshape(steps, traces, most), cost.reshape(steps, traces, most + 2), wide


def _scatter_m(point: Ints, distance_m: Floats, share: float = 0.5) -> float:
    """Return by how much traces scatter about a line, metres.

    The median distance of the points within reach (sorted by number) to their nearest foot, as a standard
    deviation (Hampel 1974: 1.4826 times for normal errors); or another quantile, where the line may be one of
    few sparse traces, whose own points say nothing.
    """
    if len(point) == 0:
        return 0.0
    first = np.flatnonzero(np.diff(point, prepend=-1))
    nearest = np.minimum.reduceat(distance_m, first)
    return SCATTER_TO_SCALE * float(np.quantile(nearest, share))


def _distance_cost(distance_m: Floats, wide: float) -> Floats:
    """Return Huber's loss of the distance: quadratic near the line, linear beyond the knee."""
    scaled = distance_m / (wide * DISTANCE_SCALE_M)
    near = np.minimum(scaled, KNEE)
    return np.asarray(near * (scaled - near / 2.0))


def _away_cost(reach_m: float, wide: float) -> float:
    """Return the cost of being away: that of a point at `AWAY_SHARE` of the reach, `AWAY_COST` at least.

    Where traces scatter more widely it is that of a point farther out, up to the whole reach.
    """
    share = min(1.0, AWAY_SHARE * wide)
    return max(AWAY_COST, float(_distance_cost(np.array(share * reach_m), wide)))


def _way_cost(ahead_m: Floats, way_m: Floats, wide: float) -> Floats:
    """Return the cost of going ``ahead_m`` along the line while ``way_m`` was travelled."""
    backward = np.maximum(-ahead_m - wide * BACK_FREE_M, 0.0)
    return np.asarray((np.abs(ahead_m - way_m) / WAY_SCALE_M + backward / BACK_SCALE_M) / wide)


def _traced_back(at_m: Floats, total: Floats, back: NDArray[np.int8], valid: Bools) -> Floats:
    """Follow the cheapest sequence from its end; arrays by step and trace, the result of shape (T, M)."""
    steps, traces, most = at_m.shape
    rows = np.arange(traces)
    states = np.empty((steps, traces), dtype=np.int64)
    state = np.argmin(total, axis=1)
    for i in range(steps - 1, -1, -1):
        states[i] = state
        state = np.where(valid[i], back[i, rows, state], state)
    out = np.take_along_axis(at_m, np.minimum(states, most - 1)[:, :, None], axis=2)[:, :, 0]
    return np.where(valid & (states < most), out, np.nan).T


def _to_points(bundle: Bundle, samples: Samples, matched: Floats, line: Line, reach_m: float) -> Floats:
    """Carry the stations of the samples to all points between them, then to the nearest foot nearby."""
    at = np.full(len(bundle.x), np.nan)
    used = samples.index >= 0
    at[samples.index[used]] = matched[used]
    rough = np.full(len(bundle.x), np.nan)
    travel = bundle.travel_m()
    for trace in range(bundle.traces):
        part = bundle.of(trace)
        rough[part] = _between(travel[part], at[part], samples.index[trace] - part.start)
    return refine(bundle, rough, line, reach_m)


def _between(travel_m: Floats, at_m: Floats, sample_index: Ints) -> Floats:
    """Interpolate stations by way travelled between neighbouring samples that are both on the line."""
    index = sample_index[sample_index >= 0]
    known = index[np.isfinite(at_m[index])]
    if len(known) == 0:
        return at_m
    out = np.interp(travel_m, travel_m[known], at_m[known])
    block = np.searchsorted(index, np.arange(len(at_m)), side="right") - 1
    right = np.minimum(block + (index[block] != np.arange(len(at_m))), len(index) - 1)
    off = np.isnan(at_m[index])
    out[off[block] | off[right]] = np.nan
    return out


def refine(bundle: Bundle, near_m: Floats, line: Line, reach_m: float) -> Floats:
    """Return stations moved to the nearest foot within some 40 m of ``near_m``; NaN stays NaN, shape (P,).

    Of two legs the one counts that runs with the way from the point before to the point after. What lies
    beyond an end stays beyond: a way that winds about before the line begins may come by it too early.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    near_m : ndarray of float, shape (P,)
        Station of each point nearly, metres.
    line : Line
        The centreline.
    reach_m : float
        Farthest distance of a point that belongs to the line, metres.

    Returns
    -------
    ndarray of float, shape (P,)
    """
    out = np.full(len(near_m), np.nan)
    known = np.flatnonzero(np.isfinite(near_m))
    step = max(line.length_m / (len(line.x) - 1), 0.1)
    half = max(2, int(np.ceil(40.0 / step)))
    x, y, toward_x, toward_y = (c[known] for c in (bundle.x, bundle.y, *bundle.heading()))
    near, end = near_m[known], line.length_m
    station, _, distance = project_near(
        x, y, near, line.x, line.y, line.station_m, half, (toward_x, toward_y)
    )
    stays = (near < 0.0) & (station > 0.0) | (near > end) & (station < end)
    out[known] = np.where(distance <= reach_m, np.where(stays, near, station), np.nan)
    return out
