"""Split a recording of repeated laps into one witness a lap."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, pairwise

import numpy as np
from scipy.spatial import cKDTree

from trackspread.model import Bools, Floats, Ints, Trace, Witness
from trackspread.numeric.runs import evenly
from trackspread.readers.notes import noticed
from trackspread.rides.pieces import piece, span_s, with_pieces
from trackspread.rides.routes import LEAST_LENGTH_M, NEAR_CORRIDORS, SAME_WAY, poses

SHORTEST_LAP_M = 200.0  # shortest lap, m
LAP_POSE_STEP_M = 20.0  # m between places of a lap
MOST_POSES = 20_000  # bounds the work
MOST_GATES = 1000  # places tried as start of a lap, bounds the work
MOST_LAPS = 500  # bounds the work
PLAIN_PASSES = 4  # passes of a gate that are laps, however long the rest of the way is
LAP_SHARE = 0.5  # share of the way that fewer passes must embrace
MOST_COMMON = 20  # gates tried on all files, bounds the work
MOST_LEVELS = 4  # numbers of laps tried, bounds the work
MOVES_ON_SHARE, MOVES_ON, MOVES_ON_M = 0.45, 1.6, 15.0
"""Share of the corridor, times the distance beside, and m by which laps move on."""
LAPS = "laps"
LATER_LAP = "later_lap"
"""Code of the reason why such a lap has no start: the recording was running already."""


def with_laps(witnesses: Sequence[Witness], corridor_m: float, always: bool = True) -> tuple[Witness, ...]:
    """Return the witnesses with every recording of laps split; others stay as they are.

    Whether a recording holds laps is asked of it alone, at the best gate of its own; where it is cut is the
    gate that most recordings come by, so that neither hangs on the order of the files. Laps of receivers
    ridden together bear the same number where they were ridden at the same time.

    Parameters
    ----------
    witnesses : sequence of Witness
        All recordings.
    corridor_m : float
        How far apart two passes of one way may lie, metres.
    always : bool
        Without it recordings are split only where all of them hold laps. Where some do, each of those bears a
        finding `laps` that says how many, and how to split it.

    Returns
    -------
    tuple of Witness
        In the same order, the laps of a recording in order of time.
    """
    own: list[list[Floats]] = [[] for _ in witnesses]
    counts = [len(lap_starts(w.trace, corridor_m, gates)) for w, gates in zip(witnesses, own, strict=True)]
    holding = sum(count > 1 for count in counts)
    if not holding:
        return tuple(witnesses)
    if not (always or holding == len(witnesses)):
        told = zip(witnesses, counts, strict=True)
        return tuple(replace(w, trace=noticed(w.trace, LAPS, count)) if count > 1 else w for w, count in told)
    gates = _common_first([gate for found in own for gate in found], witnesses, corridor_m)
    out: list[Witness] = []
    numbers = _Numbers()
    for witness, count in zip(witnesses, counts, strict=True):
        if count > 1:
            cuts = lap_starts(witness.trace, corridor_m, list(gates))
            out += _pieces(witness, cuts, numbers)
        else:
            out.append(witness)
    return tuple(out)


def _common_first(gates: list[Floats], witnesses: Sequence[Witness], corridor_m: float) -> list[Floats]:
    """Return the gates, that first by which all recordings come most often; ties by place, not by order."""
    gates = sorted(gates, key=lambda gate: [round(float(value), 3) for value in gate])
    gates = [gates[k] for k in evenly(len(gates), MOST_COMMON)]
    passes = np.zeros(len(gates), dtype=np.int64)
    for witness in witnesses if len(gates) > 1 else ():
        if len(witness.trace.lon_deg) > 1:
            pose, along, _ = poses(witness.trace, corridor_m, LAP_POSE_STEP_M, MOST_POSES)
            least = max(1, round(SHORTEST_LAP_M / max(float(along[1]), 1e-6)))
            passes += [len(_passes(pose, gate, least, corridor_m)) for gate in gates]
    return [gates[k] for k in np.argsort(-passes, kind="stable").tolist()]


def numbered(witnesses: Sequence[Witness]) -> tuple[Witness, ...]:
    """Return the witnesses with ``#1``, ``#2``, … behind the names of files that hold several of them.

    Parameters
    ----------
    witnesses : sequence of Witness
        Those of one file in order.

    Returns
    -------
    tuple of Witness
    """
    total = Counter(w.trace.file for w in witnesses)
    so_far = Counter[str]()
    out: list[Witness] = []
    for witness in witnesses:
        file = witness.trace.file
        so_far[file] += 1
        name = file if total[file] == 1 else f"{file}#{so_far[file]}"
        out.append(replace(witness, trace=replace(witness.trace, file=name)))
    return tuple(out)


def lap_starts(trace: Trace, corridor_m: float, gates: list[Floats]) -> Ints:
    """Return the number of the point where each lap begins, in order; fewer than two where there are no laps.

    A lap begins where the recording comes by one place, the gate, in one direction again, having been
    away. What lies before the first and after the last pass of a gate is looked at in the same way: laps
    the other way round have a gate of their own.

    Parameters
    ----------
    trace : Trace
        The recording.
    corridor_m : float
        How far apart two passes of one way may lie, metres.
    gates : list of ndarray, shape (6,)
        Poses of gates to be tried, the best first; those found here are added.

    Returns
    -------
    ndarray of int, shape (L,)
    """
    if len(trace.lon_deg) < 10:
        return np.empty(0, dtype=np.int64)
    pose, along, travel = poses(trace, corridor_m, LAP_POSE_STEP_M, MOST_POSES)
    if not travel[-1] > SHORTEST_LAP_M:
        return np.empty(0, dtype=np.int64)
    found: list[int] = []
    rest = [(0, len(pose))]
    while rest:
        first, end = rest.pop()
        passes = first + _circuit(pose[first:end], float(along[1]), corridor_m, gates)
        if len(passes) > 1:
            found += passes.tolist()
            rest += [(first, int(passes[0])), (int(passes[-1]), end)]
    return np.searchsorted(travel, _long_enough(along[sorted(set(found))], travel[-1])).astype(np.int64)


def _long_enough(starts_m: Floats, end_m: float) -> Floats:
    """Return the starts that leave no piece shorter than a route may be; what is shorter stays with a lap."""
    kept: list[float] = []
    for start in starts_m.tolist():
        if not kept or start - kept[-1] >= LEAST_LENGTH_M:
            kept.append(start)
    if kept and kept[0] < LEAST_LENGTH_M:
        kept[0] = 0.0
    if kept and end_m - kept[-1] < LEAST_LENGTH_M:
        kept.pop()
    return np.array(kept)


def _circuit(pose: Floats, step_m: float, corridor_m: float, gates: list[Floats]) -> Ints:
    """Return the poses at which a piece of way passes its gate, or none where it holds no laps.

    The gate is the first of the places passed most often, or the first of ``gates`` that is passed at most
    once less and makes laps too.
    """
    nothing = np.empty(0, dtype=np.int64)
    least = max(1, round(SHORTEST_LAP_M / step_m))
    if len(pose) <= least:
        return nothing
    tree = cKDTree(pose)
    candidates = np.flatnonzero(_under_way(pose, step_m))[:: max(1, len(pose) // MOST_GATES)]
    near = tree.query_ball_point(pose[candidates], corridor_m, return_sorted=True)
    counts = _times_near(near, least)
    if not counts or not 2 <= max(counts) <= MOST_LAPS:
        return nothing
    for count in sorted({count for count in counts if count > 1}, reverse=True)[:MOST_LEVELS]:
        own = pose[candidates[counts.index(count)]]
        best = _passes(pose, own, least, corridor_m)
        if _are_laps(pose, best, corridor_m):
            break
    else:
        return nothing
    for gate in gates:
        joined = _passes(pose, gate, least, corridor_m)
        if len(joined) >= max(2, len(best) - 1) and _are_laps(pose, joined, corridor_m):
            return joined
    gates.append(own)
    return best


def _times_near(near: Sequence[Sequence[int]], least: int) -> list[int]:
    """Return how often a way comes by each of some places: runs of poses near it, ``least`` poses apart.

    ``near`` holds the numbers of the poses near each place, in order.
    """
    sizes = np.array([len(each) for each in near], dtype=np.int64)
    place = np.repeat(np.arange(len(sizes)), sizes)
    step = np.diff(np.fromiter(chain.from_iterable(near), dtype=np.int64, count=len(place)))
    again = place[1:][(step > least) & (place[1:] == place[:-1])]
    return (1 + np.bincount(again, minlength=len(sizes))).tolist()  # type: ignore[no-any-return]


def _are_laps(pose: Floats, passes: Ints, corridor_m: float) -> bool:
    """Return whether a way of poses that comes by a gate at ``passes`` is one of laps.

    Three laps are. Two have to make half of the way, and one has to be followed, or led up to, by most
    of another: who once rides around a block, or home by another road, has not ridden laps. Most laps have to
    run the way of the lap before: the two lobes of a figure of eight are no laps.
    """
    if len(passes) < 2:
        return False
    size = len(pose)
    rest = max(passes[0], size - passes[-1])
    another = len(passes) > 2 or rest >= SAME_WAY * (passes[-1] - passes[0])
    if not another or (len(passes) < PLAIN_PASSES and passes[-1] - passes[0] < LAP_SHARE * size):
        return False
    laps = [pose[first:end] for first, end in pairwise(passes.tolist())]
    near_m = NEAR_CORRIDORS * corridor_m
    alike = [share_near(lap, before, near_m) >= SAME_WAY for before, lap in pairwise(laps)]
    if not alike:
        ways = (pose[: passes[0]], pose[passes[-1] :])
        alike = [share_near(way, laps[0], near_m) >= SAME_WAY for way in ways if len(way) == rest]
        laps += [way for way in ways if len(way) == rest]
    return 2 * sum(alike) >= len(alike) and not _moves_on(laps, corridor_m)


def _moves_on(laps: Sequence[Floats], corridor_m: float) -> bool:
    """Return whether laps move across the ground, as legs that are walked to and fro do.

    Each then lies so far beside the one before as no error does (a share of the corridor), or the first and
    the last lie farther apart than neighbours by a factor.
    """
    beside = float(np.median([_apart_m(lap, before) for before, lap in pairwise(laps)]))
    if beside > MOVES_ON_SHARE * corridor_m:
        return True
    ends = _apart_m(laps[-1], laps[0])
    return len(laps) > 2 and ends > max(MOVES_ON * beside, MOVES_ON_M)


def _apart_m(way: Floats, other: Floats) -> float:
    """Return the median distance of the places of a way from those of another, metres."""
    return float(np.median(cKDTree(other[:, :3]).query(way[:, :3])[0]))


def share_near(way: Floats, other: Floats, near_m: float) -> float:
    """Return the share of the poses or places of a way, shape (N, d), that lie near those of another.

    Parameters
    ----------
    way, other : ndarray, shape (N, d)
        Metres.
    near_m : float
        How far apart they may be.

    Returns
    -------
    float
    """
    distance, _ = cKDTree(other).query(way, distance_upper_bound=near_m)
    return float(np.mean(np.isfinite(distance)))


def _under_way(pose: Floats, step_m: float) -> Bools:
    """Return where a trace gets on: the wander of a fix at rest passes many places many times."""
    ahead, behind = (
        np.minimum(np.arange(len(pose)) + 2, len(pose) - 1),
        np.maximum(np.arange(len(pose)) - 2, 0),
    )
    made = np.linalg.norm(pose[ahead, :3] - pose[behind, :3], axis=1)
    return np.asarray(made > 0.4 * step_m * (ahead - behind))


def _passes(pose: Floats, gate: Floats, least: int, corridor_m: float) -> Ints:
    """Return the pose nearest to the gate each time the trace comes by, having been away in between."""
    apart = np.linalg.norm(pose - gate, axis=1)
    away = np.linalg.norm(pose[:, :3] - gate[:3], axis=1) > 1.5 * corridor_m
    out: list[int] = []
    near = np.flatnonzero(apart <= corridor_m)
    for group in np.split(near, np.flatnonzero(np.diff(near) > least) + 1):
        if len(group) and (not out or away[out[-1] : group[0]].any()):
            out.append(int(group[np.argmin(apart[group])]))
    return np.array(out, dtype=np.int64)


class _Numbers:
    """Numbers of laps: those that receivers of one ride rode at the same time bear the same."""

    def __init__(self) -> None:
        self.known: dict[str, list[tuple[float, float, int]]] = {}

    def give(self, ride: str, pieces: Sequence[Trace]) -> list[int]:
        """Return the number of each lap of one recording, from 1."""
        before = tuple(self.known.get(ride, ()))
        taken = {number for *_, number in before}
        out: list[int] = []
        for lap in pieces:
            start, end = span_s(lap)
            alike = [n for a, b, n in before if min(end, b) - max(start, a) > 0.5 * min(end - start, b - a)]
            number = next((n for n in alike if n not in out), 0)
            out.append(number or 1 + max([*taken, *out], default=0))
            if np.isfinite(start):
                self.known.setdefault(ride, []).append((start, end, out[-1]))
        return out


def _pieces(witness: Witness, starts: Ints, numbers: _Numbers) -> list[Witness]:
    """Return one witness a lap; what lies before the first pass and after the last are pieces too.

    The next lap's first point comes with each, so that laps meet.
    """
    trace = witness.trace
    edges = np.unique(np.concatenate([[0], starts, [len(trace.lon_deg)]])).tolist()
    parts = [
        piece(trace, a, min(b + 1, len(trace.lon_deg)), number)
        for number, (a, b) in enumerate(pairwise(edges))
        if b - a > 1
    ]
    name = witness.ride or trace.file
    rides = [f"{name} lap {number}" for number in numbers.give(name, parts)]
    return with_pieces(witness, parts, rides, LATER_LAP)
