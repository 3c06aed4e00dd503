"""Circuits: traces of one closed way that start elsewhere on it begin, as parts, where most of them do.

A circuit has no first station of its own. The one that its traces start at most often, the gate, becomes
station 0. A trace that starts elsewhere on the circuit is turned: what it logged before it came by the gate
stands behind what it logged after, with a gap between, so that all its way counts.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.points import Part
from trackspread.geometry.polyline import cumulative_length, headings, resample
from trackspread.model import Floats, Ints

NEAR_M = 50.0
"""Places of one circuit: the corridor of grouping (`Options.corridor_m`, 40 m) with its slack of 1.2."""
CIRCUIT_STEP_M = 10.0  # m between places at which a circuit is looked for
MOST_POSES = 20_000  # bounds the work on a very long way
ON_CIRCUIT = 0.7
"""Share of a way that has to run with others (`rides.routes.SAME_WAY`)."""
LEAST_HEAD_M = 60.0
"""Who starts nearer to the gate starts at the gate: two late fixes may lie so far apart."""
MOST_STARTS = 60  # bounds the work, starts tried


def turned(parts: Sequence[Part]) -> list[Part]:
    """Return the parts with those turned that start elsewhere on a circuit; others stay as they are.

    A part is turned where it comes by the gate, in the direction of those that start there, and where most of
    its way up to there runs with the way of those: only a closed way comes back to its start.

    Parameters
    ----------
    parts : sequence of Part
        ``x``, ``y`` (metres), ``time_s``, ``gap_before`` of each trace, shape (P,) each.

    Returns
    -------
    list of Part
        Times of a turned part fall once, at the gap.
    """
    same = list(parts)
    if len(parts) < 2 or any(len(part[0]) < 2 for part in parts):
        return same
    begin = np.array([_start(part) for part in parts])
    if (np.hypot(*(begin[:, :2] - begin[0, :2]).T) <= LEAST_HEAD_M).all():
        return same
    trees = [cKDTree(begin)] + [cKDTree(_poses(part)[0]) for part in parts]
    gate = _gate(begin, trees[0], trees[1:])
    at_gate = np.flatnonzero(np.linalg.norm(begin - begin[gate], axis=1) <= LEAST_HEAD_M).tolist()
    out = []
    for number, part in enumerate(parts):
        cut = 0 if number in at_gate else _comes_by(part, begin[gate], [trees[1 + k] for k in at_gate])
        out.append(_turned(part, cut) if cut else part)
    return out


def _gate(begin: Floats, starts: cKDTree, ways: Sequence[cKDTree]) -> int:
    """Return the number of the trace whose start is the gate.

    That of most starts nearby; of such that which most traces come by; of such the one farthest west, so that
    the order of the files says nothing.
    """
    tried = range(min(len(begin), MOST_STARTS))
    nearby = [len(starts.query_ball_point(begin[k], LEAST_HEAD_M)) for k in tried]
    most = [k for k in tried if nearby[k] == max(nearby)]

    def passed(k: int) -> int:
        return sum(bool(way.query(begin[k], distance_upper_bound=NEAR_M)[0] <= NEAR_M) for way in ways)

    return min(most, key=lambda k: (-passed(k), *begin[k].tolist()))


def _start(part: Part) -> Floats:
    """Return the pose of a part's start, shape (4,): its place, and its heading over the first metres."""
    return np.asarray(_poses(part)[0][0])


def _poses(part: Part) -> tuple[Floats, Floats]:
    """Return place and heading along a way, shape (N, 4), a full turn as two `NEAR_M`; and the way made."""
    x, y = part[0], part[1]
    length = float(cumulative_length(x, y)[-1])
    step = max(CIRCUIT_STEP_M, length / MOST_POSES)
    px, py = resample(x, y, step)
    if len(px) < 3:
        px, py = resample(x, y, max(length / 2.0, 1e-6))
    heading = headings(px, py)
    pose = np.column_stack([px, py, NEAR_M * np.cos(heading), NEAR_M * np.sin(heading)])
    return pose, np.linspace(0.0, length, len(px))


def _comes_by(part: Part, gate: Floats, there: Sequence[cKDTree]) -> int:
    """Return the number of the first point at the gate after a head that runs with ``there``, or 0."""
    pose, made = _poses(part)
    near = np.flatnonzero((np.linalg.norm(pose - gate, axis=1) <= NEAR_M) & (made > LEAST_HEAD_M))
    if len(near) == 0:
        return 0
    group = near[: int(np.argmax(np.append(np.diff(near) > 1, True))) + 1]
    passes = int(group[np.argmin(np.linalg.norm(pose[group, :2] - gate[:2], axis=1))])
    head = pose[:passes]
    beside = np.any([way.query(head, distance_upper_bound=NEAR_M)[0] <= NEAR_M for way in there], axis=0)
    if np.mean(beside) < ON_CIRCUIT:
        return 0
    cut = int(np.searchsorted(cumulative_length(part[0], part[1]), made[passes]))
    return cut if 0 < cut < len(part[0]) - 1 else 0


def _turned(part: Part, cut: int) -> Part:
    order: Ints = np.roll(np.arange(len(part[0])), -cut)
    x, y, time_s = part[0][order], part[1][order], part[2][order]
    gap_before = part[3][order]
    gap_before[len(order) - cut] = True
    return x, y, time_s, gap_before
