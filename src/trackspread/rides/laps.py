"""Split a recording of repeated laps into one witness a lap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from trackspread.model import Bools, Floats, Ints, Trace, Witness
from trackspread.rides.routes import LEAST_LENGTH_M, SAME_WAY, poses

SHORTEST_LAP_M = 200.0
POSE_STEP_M = 20.0
MOST_POSES = 20_000
MOST_GATES = 1000
MOST_LAPS = 500
PLAIN_PASSES = 4
LAP_SHARE = 0.5
LATER_LAP = "not measurable: a later lap of a recording that was running already"


def with_laps(witnesses: Sequence[Witness], corridor_m: float) -> tuple[Witness, ...]:
    """Return the witnesses with every recording of laps split; others stay as they are.

    Recordings of one circuit are cut at one place, where they all come by it, and laps of receivers
    ridden together bear the same number where they were ridden at the same time.
    """
    out: list[Witness] = []
    gates: list[Floats] = []
    numbers = _Numbers()
    for witness in witnesses:
        cuts = lap_starts(witness.trace, corridor_m, gates)
        out += _pieces(witness, cuts, numbers) if len(cuts) > 1 else [witness]
    return tuple(out)


def lap_starts(trace: Trace, corridor_m: float, gates: list[Floats]) -> Ints:
    """Return the number of the point where each lap begins, in order; fewer than two where there are no laps.

    A lap begins where the recording comes by one place, the gate, in one direction again, having been
    away. What lies before the first and after the last pass of a gate is looked at in the same way: laps
    the other way round have a gate of their own.

    Parameters
    ----------
    gates : list of ndarray, shape (6,)
        Poses of gates of recordings before this one; those found here are added.
    """
    if len(trace.lon_deg) < 10:
        return np.empty(0, dtype=np.int64)
    pose, along, travel = poses(trace, corridor_m, POSE_STEP_M, MOST_POSES)
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

    The gate is the first of the places passed most often, or one of ``gates`` that is passed at most once
    less.
    """
    nothing = np.empty(0, dtype=np.int64)
    least = max(1, round(SHORTEST_LAP_M / step_m))
    if len(pose) <= least:
        return nothing
    tree = cKDTree(pose)
    candidates = np.flatnonzero(_under_way(pose, step_m))[:: max(1, len(pose) // MOST_GATES)]
    near = tree.query_ball_point(pose[candidates], corridor_m)
    counts = [1 + int(np.sum(np.diff(np.sort(each)) > least)) for each in near]
    if not counts or not 2 <= max(counts) <= MOST_LAPS:
        return nothing
    own = pose[candidates[int(np.argmax(counts))]]
    best = _passes(pose, own, least, corridor_m)
    known = [_passes(pose, gate, least, corridor_m) for gate in gates]
    joined = max(known, key=len, default=nothing)
    shared = len(joined) >= max(2, len(best) - 1)
    passes = joined if shared else best
    if not _are_laps(passes, len(pose)):
        return nothing
    if not shared:
        gates.append(own)
    return passes


def _are_laps(passes: Ints, size: int) -> bool:
    """Return whether a way of ``size`` poses that comes by a gate at ``passes`` is one of laps.

    Three laps are. Two have to make half of the way, and one has to be followed, or led up to, by most
    of another: who once rides around a block, or home by another road, has not ridden laps.
    """
    if len(passes) < 2:
        return False
    rest = max(passes[0], size - passes[-1])
    another = len(passes) > 2 or rest >= SAME_WAY * (passes[-1] - passes[0])
    return bool(another and (len(passes) >= PLAIN_PASSES or passes[-1] - passes[0] >= LAP_SHARE * size))


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
        for piece in pieces:
            start, end = _span(piece)
            alike = [n for a, b, n in before if min(end, b) - max(start, a) > 0.5 * min(end - start, b - a)]
            number = next((n for n in alike if n not in out), 0)
            out.append(number or 1 + max([*taken, *out], default=0))
            if np.isfinite(start):
                self.known.setdefault(ride, []).append((start, end, out[-1]))
        return out


def _span(trace: Trace) -> tuple[float, float]:
    time = trace.time_s[np.isfinite(trace.time_s)]
    return (float(time[0]), float(time[-1])) if len(time) else (float("nan"), float("nan"))


def _pieces(witness: Witness, starts: Ints, numbers: _Numbers) -> list[Witness]:
    """Return one witness a lap; what lies before the first pass and after the last are pieces too."""
    trace = witness.trace
    edges = np.unique(np.concatenate([[0], starts, [len(trace.lon_deg)]])).tolist()
    parts = [_piece(trace, a, b, number) for number, (a, b) in enumerate(pairwise(edges)) if b - a > 1]
    given = numbers.give(witness.ride or trace.file, parts)
    return [
        replace(
            witness,
            trace=part,
            ride=f"{witness.ride or trace.file} lap {number}",
            start_s=witness.start_s if part.part == 1000 * trace.part else float("nan"),
            start_source=witness.start_source if part.part == 1000 * trace.part else "none",
            start_reason="" if part.part == 1000 * trace.part else LATER_LAP,
        )
        for part, number in zip(parts, given, strict=True)
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
        claims=trace.claims.at(part),
    )
