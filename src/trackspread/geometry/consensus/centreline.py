"""The consensus centreline of repeated traces of one route."""

from __future__ import annotations

import math

import numpy as np

from trackspread.geometry.consensus.curve import smooth_curve
from trackspread.geometry.consensus.line_repair import SMOOTH_M, patched, uncurled
from trackspread.geometry.consensus.lines import (
    LEAST_LINE_STATIONS,
    carried_tangents,
    even_stations,
    half_of,
    line_through,
)
from trackspread.geometry.consensus.medoid import medoid
from trackspread.geometry.crossings import crossings, offsets_between, point_offsets
from trackspread.geometry.matching import SCATTER_TO_SCALE, Line, match, refine
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import cumulative_length, smooth, tangents, without_folds
from trackspread.model import Bools, Floats, Ints
from trackspread.numeric.robust import bisquare_location, pooled_scale, ride_weights, running_mean

STEPS = 8  # steps of the centreline, at most
STOP_M = 0.05  # m of move at which it rests
SCALE_WINDOW_M = 150.0  # half window of its scale, m
END_M, INSIDE_M = 20.0, 0.5
"""Metres about an end within which first and last points set it exactly, by which the line ends before."""
JOINS_M, LEAST_BEYOND_M = 40.0, 10.0
"""Metres from an end within which a way comes to the line that counts as its way beyond, and metres
beyond an end that are worth lengthening the first line."""
CARRIER_M = 20.0  # m to either side over which the line has one direction
SPAN_SHARE = 0.25  # share of the way between logged points over which moves are smoothed, to either side
LEAST_MATCHED = 4  # stations with an offset, fewer tell no middle
KNOT_SCATTERS = (8.0, 6.0, 4.0, 3.0, 2.0, 2.0)
"""Distance of the knots of a curve through points in each of its rounds, in scatters of the points."""


def first_line(bundle: Bundle, start: int, step_m: float) -> Line:
    """Return the trace ``start``, smoothed, as a line.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    start : int
        Number of the trace.
    step_m : float
        Distance of neighbouring stations, metres.

    Returns
    -------
    Line
    """
    part = bundle.of(start)
    x, y = even_stations(bundle.x[part], bundle.y[part], step_m)
    half = max(2, round(SMOOTH_M / step_m))
    return line_through(smooth(x, half), smooth(y, half), step_m)


def consensus(
    bundle: Bundle,
    line: Line,
    station_m: Floats,
    *,
    step_m: float,
    reach_m: float,
    gap_m: float,
    left_out: Bools | None = None,
    ride: Ints | None = None,
    steps: int = STEPS,
) -> tuple[Line, Floats]:
    """Move a line onto the robust middle of the traces.

    Each step takes the offsets of all traces at the stations, their bisquare location with a scale pooled
    over 300 m, moves the stations along their normals, smooths lightly but for where the line turns back
    on itself (the tip of a spur would wear off), and resamples the line evenly. It stops after a step whose
    root mean square move is below 0.05 m, and at the latest after eight.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    step_m, reach_m, gap_m, steps : float
        Lengths as of `centreline`, metres; steps at most.
    line, station_m : Line, ndarray of shape (P,)
        Where to start, and the station of each point on it.
    left_out : ndarray of bool, shape (P,), optional
        Points that have no say (those in stretches).
    ride : ndarray of int, shape (T,), optional
        The ride of each trace: its companions share one say. Without it every trace is a ride.

    Returns
    -------
    line, station_m
        The moved line and the station of each point on it.
    """
    if bundle.is_sparse():
        return _through_points(bundle, line, station_m, step_m, reach_m, left_out)
    for step in range(steps):
        across = point_offsets(bundle, station_m, line)
        offset, span = offsets_between(bundle, station_m, line, gap_m, across)
        voiced = offset
        if left_out is not None:
            heard = np.where(left_out, np.nan, station_m)
            voiced = np.where(
                np.isfinite(offsets_between(bundle, heard, line, gap_m, across)[0]), offset, np.nan
            )
        half = max(1, round(SCALE_WINDOW_M / step_m))
        say = None if ride is None else ride_weights(np.isfinite(voiced), ride)
        move = bisquare_location(voiced, pooled_scale(voiced, half, say), say)
        tip = _tips(*tangents(line.x, line.y))
        move = _filled(np.where(tip, move, _smoothed(move, span, 2 if step < 3 else 1, step_m)))
        line, station_m = _moved(line, move, station_m, step_m)
        enough = np.isfinite(offset).sum(axis=0) >= half_of(bundle)
        line, station_m = _ended(bundle, line, enough, station_m, step_m)
        station_m = refine(bundle, station_m, line, reach_m)
        better = uncurled(bundle, line, station_m, step_m)
        if better is not line:
            line, station_m = better, match(bundle, better, reach_m)
        elif step >= 2 and math.sqrt(float(np.mean(move**2))) < STOP_M:
            break
    return line, station_m


def _through_points(
    bundle: Bundle, line: Line, station_m: Floats, step_m: float, reach_m: float, left_out: Bools | None
) -> tuple[Line, Floats]:
    """Return the smooth curve through the points of sparse traces, and the station of each point on it.

    Curve and feet of the points take turns (`curve.smooth_curve`). It spans where at least half of the traces
    run; one that goes on out of reach runs on. Knots lie farther apart than points scatter, at first
    much farther, or the curve would wind through the scatter of many.
    """
    say = np.ones(len(station_m), dtype=bool) if left_out is None else ~left_out
    for scatters in KNOT_SCATTERS:
        known = np.flatnonzero(np.isfinite(station_m) & say)
        if len(known) < LEAST_MATCHED:
            break
        at, first = station_m[known], np.flatnonzero(np.diff(bundle.owner[known], prepend=-1))
        begins, ends = np.minimum.reduceat(at, first), np.maximum.reduceat(at, first)
        last = np.append(first[1:], len(known)) - 1
        begins[~_at_edge(bundle, known[first], -1)] = at.min()
        ends[~_at_edge(bundle, known[last], 1)] = at.max()
        begins, ends = np.sort(begins), np.sort(ends)
        need = min(half_of(bundle), len(first))
        span = float(ends[-need] - begins[need - 1])
        if not span >= LEAST_LINE_STATIONS * step_m:
            break
        stations = begins[need - 1] + np.linspace(0.0, span, round(span / step_m) + 1)
        offset = point_offsets(bundle, station_m, line)[known]
        scatter = SCATTER_TO_SCALE * float(np.median(np.abs(offset)))
        spacing = max(step_m, span / len(known), scatters * scatter)
        x, y, _ = smooth_curve(at, bundle.x[known], bundle.y[known], stations, spacing)
        line = line_through(x, y, step_m)
        station_m = refine(bundle, (station_m - stations[0]) * (line.length_m / span), line, reach_m)
    return line, station_m


def _at_edge(bundle: Bundle, points: Ints, direction: int) -> Bools:
    """Return which points are the first (direction -1) or the last (1) of their trace."""
    return np.asarray(
        points == (bundle.start[1:] - 1 if direction == 1 else bundle.start)[bundle.owner[points]]
    )


def _smoothed(move_m: Floats, span_m: Floats, least: int, step_m: float) -> Floats:
    """Return moves, shape (S,), smoothed over the ways between logged points, ``span_m``, shape (T, S).

    There the offset is interpolated, and does not see a bulge of the line: moves that differ over less
    would let one grow. ``least`` stations to either side are taken in any case.
    """
    known = np.isfinite(span_m)
    mean = np.where(known, span_m, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    half = np.maximum(np.round(SPAN_SHARE * mean / step_m).astype(np.int64), least)
    if half.max() == least:
        return running_mean(move_m, least)
    total = np.concatenate([[0.0], np.cumsum(_filled(move_m))])
    at = np.arange(len(move_m))
    right, left = np.minimum(at + half + 1, len(at)), np.maximum(at - half, 0)
    return np.asarray((total[right] - total[left]) / (right - left))


def _filled(values: Floats) -> Floats:
    """Return values with NaN filled by linear interpolation, 0 where there is nothing at all."""
    known = np.isfinite(values)
    if not known.any():
        return np.zeros(len(values))
    at = np.arange(len(values))
    return np.interp(at, at[known], values[known])


def _moved(line: Line, move_m: Floats, station_m: Floats, step_m: float) -> tuple[Line, Floats]:
    """Move the stations to the right by ``move_m``, smooth lightly, and carry the points' stations over."""
    tx, ty = carried_tangents(line, round(CARRIER_M / step_m))
    x, y = line.x + move_m * ty, line.y - move_m * tx
    tip = _tips(*tangents(line.x, line.y))
    x, y = np.where(tip, x, smooth(x, 2)), np.where(tip, y, smooth(y, 2))
    keep = without_folds(x, y, tx, ty)
    x, y, old = x[keep], y[keep], line.station_m[keep]
    new = cumulative_length(x, y)
    carried = (
        np.interp(station_m, old, new) + np.minimum(station_m, 0.0) + np.maximum(station_m - old[-1], 0.0)
    )
    moved = line_through(x, y, step_m)
    return moved, carried * (moved.length_m / new[-1])


def _tips(tx: Floats, ty: Floats) -> Bools:
    """Return the stations where the line turns back within two stations either way, shape (S,)."""
    turned = np.zeros(len(tx), dtype=bool)
    turned[2:-2] = tx[4:] * tx[:-4] + ty[4:] * ty[:-4] < -0.3
    return turned


def _ended(
    bundle: Bundle, line: Line, enough: Bools, station_m: Floats, step_m: float
) -> tuple[Line, Floats]:
    """Let a line begin and end where half of the traces do, shorter or longer than it was.

    The outermost stations that half of the traces pass (``enough``: by stations before the move) say where to
    within `END_M`, the first and the farthest points of the traces exactly. The line ends `INSIDE_M` before
    those, so that half of the traces pass its ends after a small move, too.
    """
    where = np.flatnonzero(enough)
    if len(where) < 2:
        return line, station_m
    known = np.flatnonzero(np.isfinite(station_m))
    at, first = station_m[known], np.flatnonzero(np.diff(bundle.owner[known], prepend=-1))
    begins, ends = np.sort(at[first]), np.sort(np.maximum.reduceat(at, first))
    span = np.array([begins[half_of(bundle) - 1] + INSIDE_M, ends[-half_of(bundle)] - INSIDE_M])
    rough = where[[0, -1]] * (line.length_m / (len(enough) - 1))
    span = np.where(np.abs(span - rough) < END_M, span, rough)
    if np.all(np.abs(span - line.station_m[[0, -1]]) < INSIDE_M):
        return line, station_m
    x, y = (_piece(c, line.station_m, span) for c in (line.x, line.y))
    cut = line_through(x, y, step_m)
    return cut, (station_m - span[0]) * (cut.length_m / (span[1] - span[0]))


def _piece(values: Floats, station_m: Floats, span_m: Floats) -> Floats:
    """Return values between two stations; beyond the ends the first and the last piece run on straight."""
    slope = np.diff(values)[[0, -1]] / np.maximum(np.diff(station_m)[[0, -1]], 1e-9)
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
    head = _way_beyond(bundle, line, station_m, 1)
    tail = _way_beyond(bundle, line, station_m, -1)
    x = np.concatenate([head[0], line.x, tail[0][::-1]])
    y = np.concatenate([head[1], line.y, tail[1][::-1]])
    return line_through(x, y, step_m) if len(x) > len(line.x) else line


def _way_beyond(bundle: Bundle, line: Line, station_m: Floats, direction: int) -> tuple[Floats, Floats]:
    """Return the way before the line's start (direction 1) or, read backwards, after its end (-1).

    A way counts that passes the end, or comes to the line within `JOINS_M` of it.
    """
    ways = []
    for trace in range(bundle.traces):
        part = bundle.of(trace)
        at = station_m[part][::direction]
        at = at if direction == 1 else line.length_m - at
        x, y = (c[part][::direction] for c in (bundle.x, bundle.y))
        first = int(np.argmax(at > 0.0))
        if first > 0 and (at[first] < JOINS_M or np.isfinite(at[first - 1])):
            length = float(cumulative_length(x[: first + 1], y[: first + 1])[-1]) - at[first]
            ways.append((length, x[:first], y[:first]))
    ways.sort(key=lambda way: -way[0])
    need = half_of(bundle)
    if len(ways) < need or ways[need - 1][0] < LEAST_BEYOND_M:
        return np.empty(0), np.empty(0)
    return ways[need - 1][1:]


def centreline(
    bundle: Bundle,
    *,
    step_m: float,
    reach_m: float,
    gap_m: float,
    start: int | None = None,
    ride: Ints | None = None,
) -> tuple[Line, Floats]:
    """Return the consensus line of a bundle and the station of each of its points, shape (P,).

    It starts from the medoid, unless the number of another trace is given; little hangs on that.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    step_m : float
        Distance of neighbouring stations, metres.
    reach_m : float
        Farthest distance of a point that belongs to the line, metres.
    gap_m : float
        Way without a logged point beyond which nothing is known, metres.
    start : int or None
        Number of the trace to start from.
    ride : ndarray of int, shape (T,)
        Number of the ride of each trace; companions share one.

    Returns
    -------
    line : Line
    station_m : ndarray of float, shape (P,)
        Metres along it.
    """
    line = first_line(bundle, medoid(bundle) if start is None else start, step_m)
    station = match(bundle, line, reach_m)
    longer = extended(bundle, line, station, step_m)
    if longer is not line:
        line, station = longer, match(bundle, longer, reach_m)
    better = line
    if not bundle.is_sparse():
        better = patched(bundle, line, station, crossings(bundle, station, line, gap_m), step_m)
    if better is not line:
        line, station = better, match(bundle, better, reach_m)
    line, _ = consensus(
        bundle, line, station, step_m=step_m, reach_m=reach_m, gap_m=gap_m, ride=ride, steps=3
    )
    station = match(bundle, line, reach_m)
    return consensus(bundle, line, station, step_m=step_m, reach_m=reach_m, gap_m=gap_m, ride=ride)
