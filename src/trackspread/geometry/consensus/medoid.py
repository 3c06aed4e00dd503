"""The medoid of repeated traces: the one that lies best on all others."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import cumulative_length, project_at_vertex, resample
from trackspread.model import Floats
from trackspread.numeric.runs import evenly

CAP_M = 60.0  # m at which a distance counts no more
MEDOID_STEP_M = 20.0  # m between places that are compared
MEDOID_CANDIDATES, JUDGES = 10, 30  # traces tried, and traces that judge them: bounds the work
MOST_MEDOID_POINTS = 100_000  # bounds the work on a very long way


def medoid(bundle: Bundle) -> int:
    """Return the number of the trace that lies best on all others and covers them best.

    The distance of two traces is the mean of their points' distances to the other's way, each at most
    `CAP_M`, both ways; the medoid has the smallest median distance to the rest. Two of four traces may be
    each other's median: of such the one that the others lie nearer to, so that the order does not decide.

    Parameters
    ----------
    bundle : Bundle
        Points of all traces on the grid.

    Returns
    -------
    int
    """
    every = evenly(bundle.traces, JUDGES)
    tried = [every[i] for i in evenly(len(every), MEDOID_CANDIDATES)]
    points = {t: _sampled(bundle.x[bundle.of(t)], bundle.y[bundle.of(t)]) for t in every}
    aside = {}
    for way in every:
        others = every if way in tried else tried
        distances = _mean_distances([points[t] for t in others], points[way])
        aside[way] = dict(zip(others, distances, strict=True))

    def cost(trace: int) -> tuple[float, float]:
        others = [t for t in every if t != trace]
        both = [aside[trace][t] + aside[t][trace] for t in others]
        return float(np.median(both)), float(np.mean([aside[trace][t] for t in others]))

    return min(tried, key=cost) if len(tried) > 1 else tried[0]


def _sampled(x: Floats, y: Floats) -> Floats:
    step_m = max(MEDOID_STEP_M, float(cumulative_length(x, y)[-1]) / MOST_MEDOID_POINTS)
    return np.column_stack(resample(x, y, step_m))


def _mean_distances(traces: list[Floats], way: Floats) -> list[float]:
    """Return the mean distance of the points of each trace to a way, not only to its vertices."""
    points, (x, y) = np.concatenate(traces), way.T
    along = cumulative_length(x, y)
    reach_m = CAP_M + float(np.diff(along, prepend=0.0).max())  # nearer than the cap: a vertex lies within it
    vertex = np.asarray(cKDTree(way).query(points, distance_upper_bound=reach_m)[1], dtype=np.int64)
    near = vertex < len(way)
    distance = np.full(len(points), CAP_M)
    px, py = points[near].T
    distance[near] = project_at_vertex(px, py, vertex[near], x, y, along)[2]
    ends = np.cumsum([len(points) for points in traces])[:-1]
    return [float(np.mean(part)) for part in np.split(np.minimum(distance, CAP_M), ends)]
