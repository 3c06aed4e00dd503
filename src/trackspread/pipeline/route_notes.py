"""What a reader must know of a route beside its figures."""

from __future__ import annotations

import numpy as np

from trackspread.model import Reason
from trackspread.pipeline.route import Judged
from trackspread.rides.laps import LAPS, LATER_LAP
from trackspread.statistics.astray.dead_ends import DeadEnd, dead_ends, witnessed_by_all

WENT_ASIDE = "went_aside"
LITTLE = 0.5
"""A trace with less of the route is named, with what it lacks."""


def notes_of(judged: Judged) -> tuple[Reason, ...]:
    """Return what a reader must know beside the figures.

    Parameters
    ----------
    judged : Judged

    Returns
    -------
    tuple of Reason
    """
    told = []
    aboard = judged.tracks.witnesses
    timeless = tuple((w.receiver, w.ride) for w in aboard if not np.isfinite(w.trace.time_s).any())
    if len(timeless) == len(aboard):
        told.append(Reason("no_times_at_all"))
    elif timeless:
        told.append(Reason.of("timeless", traces=timeless))
    little = _cover_little(judged)
    if little:
        told.append(Reason.of("cover_little", traces=little))
    aside = tuple(
        (aboard[e.trace].receiver, aboard[e.trace].ride, e.station_m, e.far_m) for e in _aside(judged)
    )
    if aside:
        told.append(Reason.of(WENT_ASIDE, traces=aside))
    if len(np.unique(judged.tracks.ride)) == 2:
        told.append(Reason("two_rides"))
    holding = tuple((w.trace.file, f.count) for w in aboard for f in w.trace.findings if f.code == LAPS)
    if holding:
        told.append(Reason.of("holds_laps", files=holding))
    if any(witness.start_reason == LATER_LAP for witness in aboard):
        told.append(Reason("laps_count"))
    return tuple(told)


def _cover_little(judged: Judged) -> tuple[tuple[str, float, float, float, float], ...]:
    """Return the traces with less than `LITTLE` of the route, and what each lacks.

    Its file, the share that it has, and what is missing before it begins, after it ends and between, metres.
    """
    out = []
    seen_at = np.isfinite(judged.found.offset_m) | judged.found.away
    step, length = judged.variance.correlation.step_m, judged.line.length_m
    for witness, seen in zip(judged.tracks.witnesses, seen_at, strict=True):
        there = np.flatnonzero(seen)
        if seen.mean() >= LITTLE:
            continue
        begins, ends = (float(judged.line.station_m[k]) for k in there[[0, -1]]) if len(there) else (0.0, 0.0)
        inside = max(ends - begins - (len(there) - 1) * step, 0.0) if len(there) else length
        out.append((witness.trace.file, float(seen.mean()), begins, length - ends, inside))
    return tuple(out)


def _aside(judged: Judged) -> list[DeadEnd]:
    """Return the dead ends that were ridden in and out, those out that lie in a stretch or a variant."""
    line, found, bundle = judged.line, judged.found, judged.tracks.bundle
    line_xy, told = np.column_stack([line.x, line.y]), list[DeadEnd]()
    for trace in range(bundle.traces):
        told += dead_ends(trace, line_xy, line.station_m, found.time_s[trace], bundle.way_xyt(trace))
    seen = witnessed_by_all(told, judged.tracks.ride.tolist(), found.time_s, line.station_m)
    at = [int(np.searchsorted(line.station_m, end.station_m)) for end in seen]
    return [end for end, k in zip(seen, at, strict=True) if not judged.left_out[end.trace, k]]
