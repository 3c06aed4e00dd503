"""Where a line begins and ends: where half of the traces run."""

from __future__ import annotations

from operator import itemgetter

import numpy as np

from trackspread.geometry.consensus.lines import half_of, line_through
from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import cumulative_length
from trackspread.model import Bools, Floats

END_M, INSIDE_M = 20.0, 0.5
"""Metres about an end within which first and last points set it exactly, by which the line ends before."""
JOINS_M, LEAST_BEYOND_M = 40.0, 10.0
"""Metres from an end within which a way comes to the line that counts as its way beyond, and metres
beyond an end that are worth lengthening the first line."""


def ended(bundle: Bundle, line: Line, enough: Bools, station_m: Floats, step_m: float) -> tuple[Line, Floats]:
    """Let a line begin and end where half of the traces do, shorter or longer than it was.

    The outermost stations that half of the traces pass say where to within `END_M`, the first and the
    farthest points of the traces exactly. The line ends `INSIDE_M` before those, so that half of the traces
    pass its ends after a small move, too.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    line : Line
        The line so far.
    enough : ndarray of bool, shape (S,)
        Stations that half of the traces passed before the line was moved.
    station_m : ndarray of float, shape (P,)
        Station of each point on the line, metres; NaN away from it.
    step_m : float
        Distance of neighbouring stations, metres.

    Returns
    -------
    line : Line
    station_m : ndarray of float, shape (P,)
    """
    passed = np.flatnonzero(enough)
    if len(passed) < 2:
        return line, station_m
    rough_m = passed[[0, -1]] * (line.length_m / (len(enough) - 1))
    exact_m = _outermost(bundle, station_m)
    span_m = np.where(np.abs(exact_m - rough_m) < END_M, exact_m, rough_m)
    moved_m = span_m - line.station_m[[0, -1]]
    if np.all(np.abs(moved_m) < INSIDE_M):
        return line, station_m
    x = _piece(line.x, line.station_m, span_m)
    y = _piece(line.y, line.station_m, span_m)
    cut = line_through(x, y, step_m)
    begin_m, end_m = span_m
    return cut, (station_m - begin_m) * (cut.length_m / (end_m - begin_m))


def _outermost(bundle: Bundle, station_m: Floats) -> Floats:
    """Return between which stations half of the traces run, by their first and their farthest points."""
    known = np.flatnonzero(np.isfinite(station_m))
    owner, at_m = bundle.owner[known], station_m[known]
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    begins_m = np.sort(at_m[first])
    ends_m = np.sort(np.maximum.reduceat(at_m, first))
    half = half_of(bundle)
    return np.array([begins_m[half - 1] + INSIDE_M, ends_m[-half] - INSIDE_M])


def _piece(values: Floats, station_m: Floats, span_m: Floats) -> Floats:
    """Return values between two stations; beyond the ends the first and the last piece run on straight."""
    rise = np.diff(values)[[0, -1]]
    run = np.diff(station_m)[[0, -1]]
    slope = rise / np.maximum(run, 1e-9)
    beyond_m = span_m - np.clip(span_m, station_m[0], station_m[-1])
    begin, end = np.interp(span_m, station_m, values) + slope * beyond_m
    inner = (station_m > span_m[0]) & (station_m < span_m[1])
    return np.concatenate([[begin], values[inner], [end]])


def extended(bundle: Bundle, line: Line, station_m: Floats, step_m: float) -> Line:
    """Lengthen a line at both ends as far as half of the traces run beyond it.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    line : Line
        The line so far.
    station_m : ndarray of float, shape (P,)
        Station of each point on the line, metres; NaN away from it.
    step_m : float
        Distance of neighbouring stations, metres.

    Returns
    -------
    Line
    """
    head = _way_beyond(bundle, station_m, 1)
    tail = _way_beyond(bundle, line.length_m - station_m, -1)
    if len(head) == len(tail) == 0:
        return line
    middle = np.column_stack([line.x, line.y])
    x, y = np.concatenate([head, middle, tail[::-1]]).T
    return line_through(x, y, step_m)


def _way_beyond(bundle: Bundle, inward_m: Floats, direction: int) -> Floats:
    """Return the points before the line's start (direction 1) or, read backwards, after its end (-1), (B, 2).

    ``inward_m``, shape (P,), is how far from that end along the line each point is. A way counts that passes
    the end, or comes to the line within `JOINS_M` of it.
    """
    points = np.column_stack([bundle.x, bundle.y])
    ways = []
    for trace in range(bundle.traces):
        part = bundle.of(trace)
        way, at_m = points[part][::direction], inward_m[part][::direction]
        entry = int(np.argmax(at_m > 0.0))
        if entry > 0 and (at_m[entry] < JOINS_M or np.isfinite(at_m[entry - 1])):
            to_entry_m = cumulative_length(*way[: entry + 1].T)[-1]
            ways.append((float(to_entry_m - at_m[entry]), way[:entry]))
    ways.sort(key=itemgetter(0), reverse=True)
    need = half_of(bundle)
    if len(ways) < need:
        return np.empty((0, 2))
    length_m, way = ways[need - 1]
    return way if length_m >= LEAST_BEYOND_M else way[:0]
