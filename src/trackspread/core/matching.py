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

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from trackspread.core.bundle import Bundle
from trackspread.core.polyline import project_at_vertex, project_near, tangents
from trackspread.model import Bools, Floats, Ints

SAMPLE_M = 12.0
LONG_STEP_M = 50.0
CANDIDATES = 6
AWAY, BEFORE = CANDIDATES, CANDIDATES + 1
DISTANCE_SCALE_M = 8.0
DISTANCE_KNEE_M = 12.0
HEADING_COST = 6.0
AWAY_COST = 6.0
WAY_SCALE_M = 8.0
JUMP_COST = 80.0
RETURN_COST = 40.0
BACK_FREE_M = 8.0
BACK_SCALE_M = 2.0
BATCH = 128


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


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Samples:
    """Points of the bundle chosen for matching, padded: shape (T, M); ``index`` is -1 where padded."""

    index: Ints
    x: Floats
    y: Floats
    heading_x: Floats
    heading_y: Floats
    travel_m: Floats


def match(bundle: Bundle, line: Line, reach_m: float) -> Floats:
    """Return the station of every point of the bundle, shape (P,), NaN where it is away from the line."""
    parts = []
    for first in range(0, bundle.traces, BATCH):
        part = bundle.select(list(range(first, min(first + BATCH, bundle.traces))))
        samples = sample(part)
        parts.append(_to_points(part, samples, best_stations(samples, line, reach_m), line, reach_m))
    return np.concatenate(parts)


def sample(bundle: Bundle) -> Samples:
    """Choose one point per `SAMPLE_M` travelled of every trace, with its heading over some 25 m.

    Both ends of every gap are chosen. Beside a step of more than `LONG_STEP_M` one of ordinary
    length gives the heading alone: across a gap the way may have turned.
    """
    travel = bundle.travel_m()
    bin_number = np.floor(travel / SAMPLE_M)
    chosen = np.flatnonzero(np.diff(bin_number, prepend=-1.0) != 0)
    resumed = np.flatnonzero(bundle.gap_before)
    chosen = np.unique(np.concatenate([chosen, resumed, resumed[1:] - 1, bundle.start[1:] - 1]))
    owner = bundle.owner[chosen]
    counts = np.bincount(owner, minlength=bundle.traces)
    column = np.arange(len(chosen)) - np.concatenate([[0], np.cumsum(counts)])[owner]
    index = np.full((bundle.traces, int(counts.max())), -1, dtype=np.int64)
    index[owner, column] = chosen
    safe = np.maximum(index, 0)
    x, y = bundle.x[safe], bundle.y[safe]
    before = index[:, np.maximum(np.arange(index.shape[1]) - 1, 0)]
    after = np.where(np.roll(index, -1, axis=1) >= 0, np.roll(index, -1, axis=1), index)
    after[:, -1] = index[:, -1]
    back, ahead = travel[safe] - travel[before], travel[after] - travel[safe]
    before = np.where((back > LONG_STEP_M) & _short(ahead), safe, before)
    after = np.where((ahead > LONG_STEP_M) & _short(back), safe, after)
    hx, hy = bundle.x[after] - bundle.x[before], bundle.y[after] - bundle.y[before]
    norm = np.hypot(hx, hy)
    norm[norm == 0.0] = np.inf
    return Samples(index=index, x=x, y=y, heading_x=hx / norm, heading_y=hy / norm, travel_m=travel[safe])


def _short(step_m: Floats) -> Bools:
    return (step_m > SAMPLE_M / 6.0) & (step_m < 1.5 * SAMPLE_M)


def candidates(px: Floats, py: Floats, line: Line, reach_m: float) -> tuple[Ints, Floats, Floats]:
    """Return point number, station and distance of every local minimum of distance within reach.

    The result is sorted by point, then by station; at most `CANDIDATES` (the nearest) a point.
    """
    tree, points = cKDTree(np.column_stack([line.x, line.y])), cKDTree(np.column_stack([px, py]))
    pairs = points.sparse_distance_matrix(tree, reach_m, output_type="ndarray")
    order = np.lexsort((pairs["j"], pairs["i"]))
    point, vertex, distance = pairs["i"][order], pairs["j"][order], pairs["v"][order]
    joined = (point[1:] == point[:-1]) & (vertex[1:] == vertex[:-1] + 1)
    low = np.ones(len(point), dtype=bool)
    low[1:] &= ~joined | (distance[1:] < distance[:-1])
    low[:-1] &= ~joined | (distance[1:] >= distance[:-1])
    point, vertex = point[low].astype(np.int64), vertex[low].astype(np.int64)
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
    """Return the station of every sample on the cheapest sequence, shape (T, M), NaN where away."""
    station, cost = _candidate_table(samples, line, reach_m)
    traces, steps, states = station.shape
    rows = np.arange(traces)
    valid = samples.index >= 0
    total = cost[:, 0].copy()
    total[:, AWAY] = np.inf
    memory, left_at = np.zeros(traces), samples.travel_m[:, 0].copy()
    back: NDArray[np.int8] = np.zeros(station.shape, dtype=np.int8)
    move = np.full((traces, states, states), np.inf)
    move[:, :BEFORE, AWAY] = move[:, BEFORE, :AWAY] = move[:, BEFORE, BEFORE] = 0.0
    for i in range(1, steps):
        way = samples.travel_m[:, i] - samples.travel_m[:, i - 1]
        ahead = station[:, i, None, :AWAY] - station[:, i - 1, :AWAY, None]
        move[:, :AWAY, :AWAY] = np.minimum(_way_cost(ahead, way[:, None, None]), JUMP_COST)
        since = samples.travel_m[:, i] - left_at
        rejoin = _way_cost(station[:, i, :AWAY] - memory[:, None], since[:, None])
        move[:, AWAY, :AWAY] = np.minimum(rejoin, RETURN_COST)
        reached = total[:, :, None] + move
        back[:, i] = np.argmin(reached, axis=1)
        new = np.take_along_axis(reached, back[:, i, None, :].astype(np.int64), axis=1)[:, 0] + cost[:, i]
        total = np.where(valid[:, i, None], new, total)
        origin = back[:, i, AWAY]
        leaves = valid[:, i] & (origin < AWAY)
        memory = np.where(leaves, station[rows, i - 1, origin], memory)
        left_at = np.where(leaves, samples.travel_m[:, i - 1], left_at)
    return _traced_back(station, total, back, valid)


def _candidate_table(samples: Samples, line: Line, reach_m: float) -> tuple[Floats, Floats]:
    """Return station and cost of the candidates of every sample and of being away, shape (T, M, K + 2)."""
    traces, steps = samples.index.shape
    valid = samples.index >= 0
    where = np.flatnonzero(valid.ravel())
    point, at, distance = candidates(samples.x.ravel()[where], samples.y.ravel()[where], line, reach_m)
    flat = where[point]
    slot = np.arange(len(point)) - np.searchsorted(point, point)
    tx, ty = tangents(line.x, line.y)
    along_x, along_y = np.interp(at, line.station_m, tx), np.interp(at, line.station_m, ty)
    agreement = samples.heading_x.ravel()[flat] * along_x + samples.heading_y.ravel()[flat] * along_y
    cost = np.full((traces * steps, CANDIDATES + 2), np.inf)
    station = np.zeros(cost.shape)
    cost[flat, slot] = _distance_cost(distance) + HEADING_COST * (1.0 - agreement)
    station[flat, slot] = at
    cost[:, AWAY:] = AWAY_COST
    shape = (traces, steps, CANDIDATES + 2)
    return station.reshape(shape), cost.reshape(shape)


def _distance_cost(distance_m: Floats) -> Floats:
    """Return Huber's loss of the distance: quadratic near the line, linear beyond the knee."""
    near = np.minimum(distance_m, DISTANCE_KNEE_M)
    return np.asarray(near * (distance_m - near / 2.0) / DISTANCE_SCALE_M**2)


def _way_cost(ahead_m: Floats, way_m: Floats) -> Floats:
    """Return the cost of going ``ahead_m`` along the line while ``way_m`` was travelled."""
    backward = np.maximum(-ahead_m - BACK_FREE_M, 0.0)
    return np.asarray(np.abs(ahead_m - way_m) / WAY_SCALE_M + backward / BACK_SCALE_M)


def _traced_back(station: Floats, total: Floats, back: NDArray[np.int8], valid: Bools) -> Floats:
    """Follow the cheapest sequence from its end, shape (T, M)."""
    traces, steps, _ = station.shape
    rows = np.arange(traces)
    out = np.full((traces, steps), np.nan)
    state = np.argmin(total, axis=1)
    for i in range(steps - 1, -1, -1):
        here = valid[:, i] & (state < CANDIDATES)
        out[here, i] = station[rows, i, np.minimum(state, CANDIDATES - 1)][here]
        state = np.where(valid[:, i], back[rows, i, state], state)
    return out


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
    """Return stations moved to the nearest foot within some 40 m of ``near_m``; NaN stays NaN, shape (P,)."""
    out = np.full(len(near_m), np.nan)
    known = np.flatnonzero(np.isfinite(near_m))
    step = max(line.length_m / (len(line.x) - 1), 0.1)
    half = max(2, int(np.ceil(40.0 / step)))
    for part in np.array_split(known, max(1, len(known) // 50_000)):
        station, _, distance = project_near(
            bundle.x[part], bundle.y[part], near_m[part], line.x, line.y, line.station_m, half
        )
        out[part] = np.where(distance <= reach_m, station, np.nan)
    return out
