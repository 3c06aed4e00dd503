"""Where a line begins and ends: where half of the traces run."""

from __future__ import annotations

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
    rough = passed[[0, -1]] * (line.length_m / (len(enough) - 1))
    span = _outermost(bundle, station_m)
    span = np.where(np.abs(span - rough) < END_M, span, rough)
    if np.all(np.abs(span - line.station_m[[0, -1]]) < INSIDE_M):
        return line, station_m
    x, y = (_piece(c, line.station_m, span) for c in (line.x, line.y))
    cut = line_through(x, y, step_m)
    return cut, (station_m - span[0]) * (cut.length_m / (span[1] - span[0]))


def _outermost(bundle: Bundle, station_m: Floats) -> Floats:
    """Return between which stations half of the traces run, by their first and their farthest points."""
    known = np.flatnonzero(np.isfinite(station_m))
    at = station_m[known]
    first = np.flatnonzero(np.diff(bundle.owner[known], prepend=-1))
    begins = np.sort(at[first])
    ends = np.sort(np.maximum.reduceat(at, first))
    half = half_of(bundle)
    return np.array([begins[half - 1] + INSIDE_M, ends[-half] - INSIDE_M])


def _piece(values: Floats, station_m: Floats, span_m: Floats) -> Floats:
    """Return values between two stations; beyond the ends the first and the last piece run on straight."""
    rise, run = np.diff(values)[[0, -1]], np.diff(station_m)[[0, -1]]
    slope = rise / np.maximum(run, 1e-9)
    beyond = span_m - np.clip(span_m, station_m[0], station_m[-1])
    ends = np.interp(span_m, station_m, values) + slope * beyond
    inner = (station_m > span_m[0]) & (station_m < span_m[1])
    return np.concatenate([ends[:1], values[inner], ends[1:]])


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
    head_x, head_y = _way_beyond(bundle, line, station_m, 1)
    tail_x, tail_y = _way_beyond(bundle, line, station_m, -1)
    if len(head_x) == len(tail_x) == 0:
        return line
    x = np.concatenate([head_x, line.x, tail_x[::-1]])
    y = np.concatenate([head_y, line.y, tail_y[::-1]])
    return line_through(x, y, step_m)


def _way_beyond(bundle: Bundle, line: Line, station_m: Floats, direction: int) -> tuple[Floats, Floats]:
    """Return the way before the line's start (direction 1) or, read backwards, after its end (-1).

    A way counts that passes the end, or comes to the line within `JOINS_M` of it.
    """
    inward_m = station_m if direction == 1 else line.length_m - station_m
    ways = []
    for trace in range(bundle.traces):
        part = bundle.of(trace)
        x, y, at = (values[part][::direction] for values in (bundle.x, bundle.y, inward_m))
        first = int(np.argmax(at > 0.0))
        if first > 0 and (at[first] < JOINS_M or np.isfinite(at[first - 1])):
            length = cumulative_length(x[: first + 1], y[: first + 1])
            ways.append((float(length[-1] - at[first]), x[:first], y[:first]))
    ways.sort(key=lambda way: -way[0])
    need = half_of(bundle)
    if len(ways) < need or ways[need - 1][0] < LEAST_BEYOND_M:
        return np.empty(0), np.empty(0)
    return ways[need - 1][1:]
