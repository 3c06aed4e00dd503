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
    judges = evenly(bundle.traces, JUDGES)
    if len(judges) == 1:
        return judges[0]
    tried = evenly(len(judges), MEDOID_CANDIDATES)
    points = [_sampled(bundle.x[part], bundle.y[part]) for part in map(bundle.of, judges)]
    aside_m = np.full((len(points), len(points)), np.nan)
    for way in range(len(points)):
        compared = range(len(points)) if way in tried else tried
        others = [other for other in compared if other != way]
        aside_m[way, others] = _mean_distances([points[other] for other in others], points[way])
    both_m = np.nanmedian((aside_m + aside_m.T)[tried], axis=1)
    own_m = np.nanmean(aside_m[tried], axis=1)
    best = int(np.lexsort((own_m, both_m))[0])
    return judges[tried[best]]


def _sampled(x: Floats, y: Floats) -> Floats:
    length_m = float(cumulative_length(x, y)[-1])
    step_m = max(MEDOID_STEP_M, length_m / MOST_MEDOID_POINTS)
    return np.column_stack(resample(x, y, step_m))


def _mean_distances(traces: list[Floats], way: Floats) -> Floats:
    """Return the mean distance of the points of each trace to a way, not only to its vertices."""
    points = np.concatenate(traces)
    x, y = way.T
    along = cumulative_length(x, y)
    reach_m = CAP_M + float(np.diff(along).max(initial=0.0))  # nearer than the cap: a vertex lies within it
    _, vertex = cKDTree(way).query(points, distance_upper_bound=reach_m)
    near = vertex < len(way)
    px, py = points[near].T
    distance = np.full(len(points), CAP_M)
    distance[near] = project_at_vertex(px, py, vertex[near], x, y, along)[2]
    sizes = [len(trace) for trace in traces]
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    return np.add.reduceat(np.minimum(distance, CAP_M), first) / sizes
