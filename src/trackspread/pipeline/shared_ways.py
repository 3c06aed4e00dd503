"""Routes that share a part of their way: what each must say of the others, and how to have them as one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trackspread.model import Reason, RouteResult
from trackspread.pipeline.titles import apart_m, poses_of
from trackspread.rides.routes import NEAR_CORRIDORS, PART_OF_WAY

SHARED_WAY = "shared_way"
HALF_SHARED = 0.5  # share of the shorter way from which it is told
MOST_CORRIDOR_M = 200.0  # m, wider is no remedy: whole streets lie within
CORRIDOR_STEP_M = 10.0  # m, to which a corridor is rounded upwards


def with_shared_ways(routes: Sequence[RouteResult], corridor_m: float) -> tuple[RouteResult, ...]:
    """Return the routes, each with a note of those that share half of the way with it in its direction.

    Parameters
    ----------
    routes : sequence of RouteResult
        All of one analysis.
    corridor_m : float
        Half width of the corridor in which ways are one, metres.

    Returns
    -------
    tuple of RouteResult
        In the same order.
    """
    poses = [poses_of(route) for route in routes]
    shared: list[list[tuple[str, float, float]]] = [[] for _ in routes]
    for one in range(len(routes)):
        for other in range(one + 1, len(routes)):
            apart = apart_m(poses[one], poses[other], 1), apart_m(poses[other], poses[one], 1)
            shares = [float((m <= NEAR_CORRIDORS * corridor_m).mean()) for m in apart]
            if max(shares) < HALF_SHARED:
                continue
            length_m = min(share * routes[k].length_m for share, k in zip(shares, (one, other), strict=True))
            wide_m = max(float(np.quantile(m, PART_OF_WAY, method="higher")) for m in apart)
            wide_m = CORRIDOR_STEP_M * np.ceil(wide_m / NEAR_CORRIDORS / CORRIDOR_STEP_M)
            remedy_m = float(wide_m) if corridor_m < wide_m <= MOST_CORRIDOR_M else 0.0
            for mine, others in ((one, other), (other, one)):
                shared[mine].append((routes[others].title or routes[others].name, length_m, remedy_m))
    return tuple(
        replace(route, notes=(*route.notes, Reason.of(SHARED_WAY, ways=tuple(ways)))) if ways else route
        for route, ways in zip(routes, shared, strict=True)
    )
