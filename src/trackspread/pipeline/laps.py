"""Split a recording of repeated laps into one witness a lap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from trackspread.model import Ints, Trace, Witness
from trackspread.pipeline.grouping import poses

SHORTEST_LAP_M = 200.0
POSE_STEP_M = 20.0
MOST_LAPS = 100


def with_laps(witnesses: Sequence[Witness], corridor_m: float) -> tuple[Witness, ...]:
    """Return the witnesses with every recording of laps split; others stay as they are."""
    out: list[Witness] = []
    for witness in witnesses:
        cuts = lap_starts(witness.trace, corridor_m)
        out += _pieces(witness, cuts) if len(cuts) > 1 else [witness]
    return tuple(out)


def lap_starts(trace: Trace, corridor_m: float) -> Ints:
    """Return the number of the point where each lap begins, in order; fewer than two where there are no laps.

    A lap begins where the recording comes by one place in one direction again. Of all places along it the
    first is taken that is passed most often; passes less than `SHORTEST_LAP_M` apart along the way
    are one.
    """
    if len(trace.lon_deg) < 10:
        return np.empty(0, dtype=np.int64)
    pose, along, travel = poses(trace, corridor_m, POSE_STEP_M, 20_000)
    near = cKDTree(pose).query_ball_point(pose, corridor_m)
    least = max(1, round(SHORTEST_LAP_M / max(float(along[1]), 1e-9)))
    passes = [_passes(np.sort(np.asarray(found)), i, least) for i, found in enumerate(near)]
    counts = np.array([len(found) for found in passes])
    if counts.max() < 2 or counts.max() > MOST_LAPS:
        return np.empty(0, dtype=np.int64)
    gate = int(np.argmax(counts))
    nearest = [_nearest(pose, gate, found) for found in passes[gate]]
    return np.searchsorted(travel, along[nearest]).astype(np.int64)


def _passes(near: Ints, own: int, least: int) -> list[Ints]:
    """Return the neighbours of a pose in groups, one for each time the recording comes by."""
    groups = np.split(near, np.flatnonzero(np.diff(near) > least) + 1)
    return groups if any(own in group for group in groups) else []


def _nearest(pose: np.ndarray, gate: int, found: Ints) -> int:
    return int(found[np.argmin(np.linalg.norm(pose[found] - pose[gate], axis=1))])


def _pieces(witness: Witness, starts: Ints) -> list[Witness]:
    """Return one witness a lap; what lies before the first lap is a piece of its own."""
    trace = witness.trace
    edges = np.unique(np.concatenate([[0], starts, [len(trace.lon_deg)]]))
    return [
        replace(
            witness,
            trace=_piece(trace, a, b, number),
            ride=f"{witness.ride or trace.file} lap {number + 1}",
            start_s=witness.start_s if number == 0 else float("nan"),
            start_source=witness.start_source if number == 0 else "none",
        )
        for number, (a, b) in enumerate(pairwise(edges.tolist()))
        if b - a > 1
    ]


def _piece(trace: Trace, first: int, end: int, number: int) -> Trace:
    """Return points ``first`` to ``end``, the next lap's first point with them, so that laps meet."""
    part = slice(first, min(end + 1, len(trace.lon_deg)))
    return replace(
        trace,
        part=1000 * trace.part + number,
        time_s=trace.time_s[part],
        lon_deg=trace.lon_deg[part],
        lat_deg=trace.lat_deg[part],
        elevation_m=trace.elevation_m[part],
        break_before=trace.break_before[part],
        points_set_aside=trace.points_set_aside if number == 0 else 0,
        findings=trace.findings if number == 0 else (),
        start_s=trace.start_s if number == 0 else float("nan"),
    )
