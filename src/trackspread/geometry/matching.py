"""Match traces to a line in order of travel, never by the nearest point alone.

Candidates of a point are the local minima of its distance to the line. Of all sequences of candidates
the one is taken that best explains the distances, the headings and the lengths travelled between the
points (`viterbi`). This module gives the candidates and what each of them costs, the emission of the hidden
Markov model; then it carries the stations over to all points of the traces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import project_at_vertex, project_near, tangents
from trackspread.geometry.samples import Samples, sample
from trackspread.geometry.viterbi import AWAY, Lattice, cheapest_states
from trackspread.model import Bools, Floats, Ints
from trackspread.numeric.robust import MAD_TO_SD

CANDIDATES = 6  # feet on the line tried for each
DISTANCE_SCALE_M = 8.0  # s of the cost of a distance, m
KNEE = 1.5  # knee of that cost, in s
AWAY_COST = 6.0  # least cost of a point away from the line
AWAY_SHARE = 0.63  # share of the reach at which a point costs as much as being away
HEADING_COST, HEADING_SCATTERS = 6.0, 5.0
"""Cost of a heading at right angles; scatters of way over which a heading of sparse traces counts in full."""
FOOT_WITHIN_M = 40.0  # m along the line within which the foot of a point is looked for
BATCH = 128  # traces matched at once, bounds memory


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

    @property
    def columns(self) -> tuple[Floats, Floats, Floats]:
        """``x``, ``y`` and ``station_m``, as the functions of `polyline` take them."""
        return self.x, self.y, self.station_m


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
    sparse = bundle.is_sparse
    stations = []
    for first in range(0, bundle.traces, BATCH):
        traces = range(bundle.traces)[first : first + BATCH]
        part = bundle.select(list(traces))
        samples = sample(part, sparse)
        matched = best_stations(samples, line, reach_m)
        stations.append(_to_points(part, samples, matched, line, reach_m))
    return np.concatenate(stations)


def best_stations(samples: Samples, line: Line, reach_m: float) -> Floats:
    """Return the station of every sample on the cheapest sequence, shape (N,), NaN where away.

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
    ndarray of float, shape (N,)
    """
    lattice = _lattice(samples, line, reach_m)
    state = cheapest_states(lattice)
    away = np.full((len(state), 2), np.nan)
    station_m = np.hstack([lattice.station_m, away])
    every = np.arange(len(state))
    return np.asarray(station_m[every, state])


# --- candidates --------------------------------------------------------------------------------------


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
    point, vertex, distance_m = _vertices_within(px, py, line, reach_m)
    lowest = _local_minima(point, vertex, distance_m)
    point, vertex = point[lowest], vertex[lowest]
    x, y = px[point], py[point]
    foot_m, _, distance_m = project_at_vertex(x, y, vertex, *line.columns)
    station_m = np.clip(foot_m, 0.0, line.length_m)
    nearest = _rank_within(point, distance_m) < CANDIDATES
    return point[nearest], station_m[nearest], distance_m[nearest]


def _vertices_within(px: Floats, py: Floats, line: Line, reach_m: float) -> tuple[Ints, Ints, Floats]:
    """Return point, vertex of the line and distance of all pairs within reach, by point, then by vertex."""
    points = cKDTree(np.column_stack([px, py]))
    vertices = cKDTree(np.column_stack([line.x, line.y]))
    pairs = points.sparse_distance_matrix(vertices, reach_m, output_type="coo_matrix")
    table = pairs.tocsr()
    table.sort_indices()
    vertices_of_each = np.diff(table.indptr)
    point = np.repeat(np.arange(len(px)), vertices_of_each)
    return point, table.indices.astype(np.int64), table.data


def _local_minima(point: Ints, vertex: Ints, distance_m: Floats) -> Bools:
    """Return which pairs are nearer than those of the vertices before and after."""
    same_point = np.diff(point) == 0
    next_vertex = np.diff(vertex) == 1
    neighbours = same_point & next_vertex
    falling = np.diff(distance_m) < 0.0
    lowest = np.ones(len(point), dtype=bool)
    lowest[1:][neighbours & ~falling] = False
    lowest[:-1][neighbours & falling] = False
    return lowest


def _rank_within(group: Ints, value: Floats) -> Ints:
    """Return the rank of each value within its group; groups are sorted."""
    smallest_first = np.lexsort((value, group))
    rank = np.empty(len(group), dtype=np.int64)
    rank[smallest_first] = _number_within(group)
    return rank


def _number_within(group: Ints) -> Ints:
    """Return 0, 1, 2, … for the values of each group; groups are sorted."""
    first = np.searchsorted(group, group)
    return np.arange(len(group)) - first


# --- emission ----------------------------------------------------------------------------------------


def _lattice(samples: Samples, line: Line, reach_m: float) -> Lattice:
    """Return the candidates of every sample, what they cost, and what being away costs."""
    point, station_m, distance_m = candidates(samples.x, samples.y, line, reach_m)
    scatter_m = _scatter_m(point, distance_m, _scatter_share(samples))
    wide = max(1.0, scatter_m / DISTANCE_SCALE_M)
    cost = _distance_cost(distance_m, wide)
    cost += _heading_cost(samples, line, point, station_m, scatter_m)
    state = _number_within(point)
    rows, states = len(samples.index), int(state.max(initial=0)) + 1
    stations_m = np.zeros((rows, states))
    stations_m[point, state] = station_m
    emission = np.full((rows, states + 2), np.inf)
    emission[point, state] = cost
    emission[:, AWAY:] = _away_cost(reach_m, wide)
    return Lattice(
        station_m=stations_m,
        emission=emission,
        travel_m=samples.travel_m,
        bent_m=samples.bent_m,
        first=samples.first,
        wide=wide,
    )


def _scatter_share(samples: Samples) -> float:
    """Return which quantile of the distances tells the scatter: the median, or more for few sparse traces.

    The line may be one of them, whose own points say nothing.
    """
    traces = len(samples.first)
    sparse = bool(np.isfinite(samples.heading_over_m).all())
    return 0.5 + 0.5 / traces if sparse and traces > 2 else 0.5


def _scatter_m(point: Ints, distance_m: Floats, share: float = 0.5) -> float:
    """Return by how much traces scatter about a line, metres.

    A quantile of the distances of the points within reach (sorted by number) to their nearest foot, as a
    standard deviation (Hampel 1974: 1.4826 times the median for normal errors).
    """
    if len(point) == 0:
        return 0.0
    first = np.flatnonzero(np.diff(point, prepend=-1))
    nearest = np.minimum.reduceat(distance_m, first)
    return MAD_TO_SD * float(np.quantile(nearest, share))


def _distance_cost(distance_m: Floats, wide: float) -> Floats:
    """Return Huber's loss of the distance: quadratic near the line, linear beyond the knee."""
    scaled = distance_m / (wide * DISTANCE_SCALE_M)
    near = np.minimum(scaled, KNEE)
    return np.asarray(near * (scaled - near / 2.0))


def _heading_cost(samples: Samples, line: Line, point: Ints, station_m: Floats, scatter_m: float) -> Floats:
    """Return the cost of the angle between way and line, less where a heading is in doubt, shape (K,)."""
    tx, ty = tangents(line.x, line.y)
    along_x = np.interp(station_m, line.station_m, tx)
    along_y = np.interp(station_m, line.station_m, ty)
    cosine = samples.heading_x[point] * along_x + samples.heading_y[point] * along_y
    in_full_m = max(HEADING_SCATTERS * scatter_m, 1e-6)
    trusted = np.minimum(samples.heading_over_m / in_full_m, 1.0) * samples.heading_share
    return HEADING_COST * trusted[point] * (1.0 - cosine)


def _away_cost(reach_m: float, wide: float) -> float:
    """Return the cost of being away: that of a point at `AWAY_SHARE` of the reach, `AWAY_COST` at least.

    Where traces scatter more widely it is that of a point farther out, up to the whole reach.
    """
    share = min(1.0, AWAY_SHARE * wide)
    farthest = _distance_cost(np.array(share * reach_m), wide)
    return max(AWAY_COST, float(farthest))


# --- from samples to points --------------------------------------------------------------------------


def _to_points(bundle: Bundle, samples: Samples, matched: Floats, line: Line, reach_m: float) -> Floats:
    """Carry the stations of the samples to all points between them, then to the nearest foot nearby.

    Between two samples they are interpolated by way travelled, where both are on the line.
    """
    every = np.arange(len(bundle.travel_m))
    before = np.searchsorted(samples.index, every, side="right") - 1
    is_sample = samples.index[before] == every
    after = before + ~is_sample
    step_m = samples.travel_m[after] - samples.travel_m[before]
    way_m = bundle.travel_m - samples.travel_m[before]
    share = way_m / np.where(step_m > 0.0, step_m, 1.0)
    near_m = matched[before] + share * (matched[after] - matched[before])
    return refine(bundle, near_m, line, reach_m)


def refine(
    bundle: Bundle, near_m: Floats, line: Line, reach_m: float, within_m: float = FOOT_WITHIN_M
) -> Floats:
    """Return stations moved to the nearest foot within some metres of ``near_m``; NaN stays NaN, shape (P,).

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
    within_m : float
        How far along the line the foot is looked for, metres.

    Returns
    -------
    ndarray of float, shape (P,)
    """
    step_m = max(line.length_m / (len(line.x) - 1), 0.1)
    half_width = max(2, math.ceil(within_m / step_m))
    known = np.flatnonzero(np.isfinite(near_m))
    near = near_m[known]
    x, y = bundle.x[known], bundle.y[known]
    toward_x, toward_y = bundle.heading
    heading = toward_x[known], toward_y[known]
    foot_m, _, distance_m = project_near(x, y, near, *line.columns, half_width, heading)
    before = (near < 0.0) & (foot_m > 0.0)
    after = (near > line.length_m) & (foot_m < line.length_m)
    foot_m = np.where(before | after, near, foot_m)
    station_m = np.full(len(near_m), np.nan)
    station_m[known] = np.where(distance_m <= reach_m, foot_m, np.nan)
    return station_m
