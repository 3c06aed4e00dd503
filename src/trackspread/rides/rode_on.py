"""Find where a recording that holds a whole route comes to it and leaves it for elsewhere."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from trackspread.model import Trace
from trackspread.numeric.runs import evenly, joined, runs
from trackspread.rides.routes import (
    LEAST_LENGTH_M,
    MOST_ROUTE_POSES,
    NEAR_CORRIDORS,
    PART_OF_WAY,
    POOL,
    POSE_STEP_M,
    poses,
)

RODE_ON = "rode on"


def ends_on_route(trace: Trace, members: Sequence[Trace], corridor_m: float) -> list[int]:
    """Return the points at which a recording comes to a route and at which it goes on elsewhere.

    These are the ends of the longest run of its poses, place and heading, in the corridor of the route: a way
    beside it, up to what a member may have, does not end a run.

    Parameters
    ----------
    trace : Trace
        Of two points or more.
    members : sequence of Trace
        Of the route; of many some are asked.
    corridor_m : float
        Half width of the corridor in which ways are one, metres.

    Returns
    -------
    list of int
        Two at most; none where less than `LEAST_LENGTH_M` lies beyond.
    """
    asked = [members[k] for k in evenly(len(members), POOL)]
    ways = [poses(one, corridor_m, POSE_STEP_M, MOST_ROUTE_POSES)[0] for one in asked]
    pose, along, travel = poses(trace, corridor_m, POSE_STEP_M, MOST_ROUTE_POSES)
    apart_m, _ = cKDTree(np.concatenate(ways)).query(pose, distance_upper_bound=NEAR_CORRIDORS * corridor_m)
    beside = round((1.0 - PART_OF_WAY) * float(np.median([len(way) for way in ways])))
    spans = joined(runs(np.isfinite(apart_m)), beside)
    if not len(spans):
        return []
    first, last = spans[np.argmax(spans[:, 1] - spans[:, 0])]
    first_m, last_m = float(along[first]), float(along[last])
    beyond = ((first_m, first_m), (last_m, float(travel[-1]) - last_m))
    return [int(np.searchsorted(travel, at)) for at, length in beyond if length >= LEAST_LENGTH_M]
