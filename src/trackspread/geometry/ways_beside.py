"""What a trace logged out of reach before its first or after its last match: it passes stations away."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from trackspread.geometry.crossings import Crossings, distance_to_way
from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.model import Floats, Ints

ALONG_COS = 0.25  # cosine of the angle to the line up to which a start out of reach runs beside it


def with_ways_beside(found: Crossings, bundle: Bundle, station_m: Floats, line: Line) -> Crossings:
    """Return the crossings with what a trace logged out of reach before its first or after its last match.

    A receiver that begins far off, or goes off and then leaps back or stops, is beside the line, only not
    near it: it passes those stations away. In every piece between two interruptions they are reckoned from
    the nearest match by the way logged. A way that comes across the line (more than `ALONG_COS` says) is
    another way, and stays without stations.

    Parameters
    ----------
    station_m : ndarray, shape (P,)
        Station of every point of the bundle, NaN away.
    found : Crossings
        Of all traces.
    bundle : Bundle
        Points of all traces on the grid.
    line : Line
        The centreline on its grid.

    Returns
    -------
    Crossings
    """
    out = replace(found, time_s=found.time_s.copy(), away=found.away.copy(), away_m=found.away_m.copy())
    travel = bundle.travel_m
    for trace in range(bundle.traces):
        pieces = _matched_pieces(bundle, trace, station_m)
        entered = np.array([station_m[piece.first] for piece in pieces])
        later = np.append(np.minimum.accumulate(entered[::-1])[::-1], np.inf)[1:]
        reached = -np.inf
        for piece, entered_m, later_m in zip(pieces, entered, later, strict=True):
            lead = slice(piece.begin, piece.first + 1)
            at = entered_m - travel[piece.first] + travel[lead]
            _pass_beside(out, trace, bundle, line, lead, at, (reached, entered_m))
            reached = max(reached, piece.farthest_m)
            trail = slice(piece.last, piece.end)
            at = station_m[piece.last] - travel[piece.last] + travel[trail]
            _pass_beside(out, trace, bundle, line, trail, at, (reached, later_m))
    return out


@dataclass(frozen=True, slots=True)
class _Piece:
    """Points ``begin`` to ``end`` between two interruptions; ``first`` and ``last`` of them on the line."""

    begin: int
    end: int
    first: int
    last: int
    farthest_m: float


def _matched_pieces(bundle: Bundle, trace: int, station_m: Floats) -> list[_Piece]:
    """Return the pieces of a trace between two interruptions that have points on the line."""
    part = bundle.of(trace)
    interrupted = part.start + np.flatnonzero(bundle.gap_before[part])
    pieces = []
    for begin, end in pairwise([*interrupted.tolist(), part.stop]):
        known = begin + np.flatnonzero(np.isfinite(station_m[begin:end]))
        if len(known):
            farthest_m = float(station_m[known].max())
            pieces.append(_Piece(begin, end, int(known[0]), int(known[-1]), farthest_m))
    return pieces


def _pass_beside(
    out: Crossings, trace: int, bundle: Bundle, line: Line, points: slice, at_m: Floats,
    between_m: tuple[float, float],
) -> None:  # fmt: skip
    """Mark the stations between two others that some points of a trace pass out of reach.

    ``at_m`` is where on the line each of the points would be.
    """
    if len(at_m) < 2:
        return
    station = line.station_m
    passed = (station >= at_m[0]) & (station <= at_m[-1])
    between = (station > between_m[0]) & (station < between_m[1])
    free = np.isnan(out.offset_m[trace]) & ~out.away[trace]
    where = passed & between & free
    start, end = points.start, points.stop - 1
    if where.sum() < 2 or not _alongside(bundle, start, end, line, np.flatnonzero(where)):
        return
    out.away[trace] |= where
    out.time_s[trace, where] = np.interp(station[where], at_m, bundle.time_s[points])
    first, last = (np.full(int(where.sum()), point, dtype=np.int64) for point in (start, end))
    out.away_m[trace, where] = distance_to_way(bundle, first, last, line, where)


def _alongside(bundle: Bundle, start: int, end: int, line: Line, where: Ints) -> bool:
    """Return whether the way between two points runs in the direction of the line beside it."""
    way_x, way_y = bundle.x[end] - bundle.x[start], bundle.y[end] - bundle.y[start]
    first, last = where[0], where[-1]
    along_x, along_y = line.x[last] - line.x[first], line.y[last] - line.y[first]
    lengths = np.hypot(way_x, way_y) * np.hypot(along_x, along_y)
    return bool(way_x * along_x + way_y * along_y >= ALONG_COS * lengths)
