"""What a trace logged out of reach before its first or after its last match: it passes stations away."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from trackspread.geometry.crossings import Crossings, distance_to_way
from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.model import Bools, Floats

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
    time_s = found.time_s.copy()
    away, away_m = found.away.copy(), found.away_m.copy()
    for trace in range(bundle.traces):
        for way in _ways_out_of_reach(bundle, trace, station_m):
            free = np.isnan(found.offset_m[trace]) & ~away[trace]
            passed = free & way.passes(line.station_m)
            count = int(passed.sum())
            if count < 2 or not _alongside(bundle, way, line, passed):
                continue
            away[trace, passed] = True
            logged_s = bundle.time_s[way.first : way.last + 1]
            time_s[trace, passed] = np.interp(line.station_m[passed], way.at_m, logged_s)
            first, last = np.full(count, way.first), np.full(count, way.last)
            away_m[trace, passed] = distance_to_way(bundle, first, last, line, passed)
    return replace(found, time_s=time_s, away=away, away_m=away_m)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Way:
    """Points ``first`` to ``last`` of a trace; ``at_m`` is where each would be if they were on the line.

    What the trace passed before ``from_m`` and after ``to_m`` is known from its matches.
    """

    first: int
    last: int
    at_m: Floats
    from_m: float
    to_m: float

    def passes(self, station_m: Floats) -> Bools:
        """Return which stations it passes."""
        passed = (station_m >= self.at_m[0]) & (station_m <= self.at_m[-1])
        unknown = (station_m > self.from_m) & (station_m < self.to_m)
        return np.asarray(passed & unknown)


def _ways_out_of_reach(bundle: Bundle, trace: int, station_m: Floats) -> Iterator[_Way]:
    """Give the ways of a trace to the first match of each piece, and on from the last."""
    travel_m = bundle.travel_m
    start_m = station_m - travel_m
    pieces = _matched_pieces(bundle, trace, station_m)
    entered_m = np.array([station_m[piece.first] for piece in pieces])
    earliest_m = np.minimum.accumulate(entered_m[::-1])[::-1]
    later_m = np.append(earliest_m, np.inf)[1:]
    reached_m = -np.inf
    for piece, entry_m, next_m in zip(pieces, entered_m, later_m, strict=True):
        if piece.begin < piece.first:
            lead_m = start_m[piece.first] + travel_m[piece.begin : piece.first + 1]
            yield _Way(first=piece.begin, last=piece.first, at_m=lead_m, from_m=reached_m, to_m=entry_m)
        reached_m = max(reached_m, piece.farthest_m)
        if piece.last < piece.end - 1:
            trail_m = start_m[piece.last] + travel_m[piece.last : piece.end]
            yield _Way(first=piece.last, last=piece.end - 1, at_m=trail_m, from_m=reached_m, to_m=next_m)


@dataclass(frozen=True, kw_only=True, slots=True)
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
    begins = part.start + np.flatnonzero(bundle.gap_before[part])
    pieces = []
    for begin, end in pairwise([*begins.tolist(), part.stop]):
        known = begin + np.flatnonzero(np.isfinite(station_m[begin:end]))
        if len(known) > 0:
            farthest_m = float(station_m[known].max())
            first, last = int(known[0]), int(known[-1])
            pieces.append(_Piece(begin=begin, end=end, first=first, last=last, farthest_m=farthest_m))
    return pieces


def _alongside(bundle: Bundle, way: _Way, line: Line, passed: Bools) -> bool:
    """Return whether a way runs in the direction of the line beside it."""
    way_x = bundle.x[way.last] - bundle.x[way.first]
    way_y = bundle.y[way.last] - bundle.y[way.first]
    first, *_, last = np.flatnonzero(passed)
    along_x = line.x[last] - line.x[first]
    along_y = line.y[last] - line.y[first]
    lengths = np.hypot(way_x, way_y) * np.hypot(along_x, along_y)
    return bool(way_x * along_x + way_y * along_y >= ALONG_COS * lengths)
