"""Find where a recording that goes somewhere and comes back by the same way turns."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from trackspread.model import Floats, Ints, Trace
from trackspread.rides.laps import MOVES_ON_SHARE
from trackspread.rides.routes import MOST_ROUTE_POSES, NEAR_CORRIDORS, PART_OF_WAY, POSE_STEP_M, poses

HALF = 0.5  # share of a half that has to lie on one street, and may not be its own way back
FARTHER = 2.0  # times as far as from the other half lies a half from its own way back, where it has none
LEAST_HALF_M = 200.0  # m of either half: of less a copy is not known (`duplicates.LEAST_COMMON_M`)
BETWEEN = 5  # places looked at from one pose to the next
BACK = np.array([1.0, 1.0, 1.0, -1.0, -1.0, -1.0])  # turns the heading of a pose
THERE_AND_BACK = "there and back"


def turning_point(trace: Trace, corridor_m: float) -> int:
    """Return the point at which a recording of a way there and back turns, 0 where it holds none.

    `PART_OF_WAY` of either half has to be ridden back in the other, on the same street: half of it within
    `MOVES_ON_SHARE` of the corridor. So a dead end within a ride, a loop behind a shared first part, and the
    two sides of a block stay one ride. So do laps and shuttles, of which a half holds its own way
    back. A place counts once, however long the watch stood there.

    Parameters
    ----------
    trace : Trace
    corridor_m : float
        Half width of the corridor in which ways are one, metres.

    Returns
    -------
    int
    """
    if len(trace.lon_deg) < 10:
        return 0
    pose, along, travel = poses(trace, corridor_m, POSE_STEP_M, MOST_ROUTE_POSES)
    if not travel[-1] > 2.0 * LEAST_HALF_M:
        return 0
    weight = 1.0 / cKDTree(pose).query_ball_point(pose, 0.5 * corridor_m, return_length=True)
    apart_m, partner = _back_in(pose, pose, NEAR_CORRIDORS * corridor_m)
    there = np.isfinite(apart_m)
    if weight @ there < PART_OF_WAY * weight.sum():
        return 0
    cut = _most_partners_across(np.flatnonzero(there), partner[there], weight[there])
    if min(along[cut], travel[-1] - along[cut]) < LEAST_HALF_M:
        return 0
    out, home = (pose[:cut], weight[:cut]), (pose[cut:], weight[cut:])
    if _is_back(out, home, corridor_m) and _is_back(home, out, corridor_m):
        return int(np.searchsorted(travel, along[cut]))
    return 0


def _back_in(way: Floats, other: Floats, near_m: float) -> tuple[Floats, Ints]:
    """Return how far from each pose of a way another comes back, infinite beyond a limit, and where."""
    at = np.arange(0.0, len(other) - 1 + 1e-9, 1.0 / BETWEEN)
    finely = np.stack([np.interp(at, np.arange(len(other)), column) for column in other.T], axis=1)
    apart_m, place = cKDTree(finely).query(way * BACK, distance_upper_bound=near_m)
    return apart_m, place // BETWEEN


def _most_partners_across(pose: Ints, partner: Ints, weight: Floats) -> int:
    """Return the pose before which most poses lie whose partners lie behind, the middle of such poses."""
    first, last = np.minimum(pose, partner), np.maximum(pose, partner)
    size = int(last.max()) + 2
    across = np.cumsum(np.bincount(first + 1, weight, size) - np.bincount(last + 1, weight, size))
    most = np.flatnonzero(across >= across.max() - 1e-6)
    return int(most[len(most) // 2])


def _is_back(half: tuple[Floats, Floats], other: tuple[Floats, Floats], corridor_m: float) -> bool:
    """Return whether one half, poses and their weights, is the way back of the other."""
    way, weight = half
    apart_m, _ = _back_in(way, other[0], NEAR_CORRIDORS * corridor_m)
    own_m, _ = _back_in(way, way, NEAR_CORRIDORS * corridor_m)
    ridden, near = np.isfinite(apart_m), apart_m <= MOVES_ON_SHARE * corridor_m
    itself = near & (own_m < FARTHER * apart_m)
    shares = [float(weight @ mask / weight.sum()) for mask in (ridden, near, itself)]
    return shares[0] >= PART_OF_WAY and shares[1] >= HALF and shares[2] < HALF
