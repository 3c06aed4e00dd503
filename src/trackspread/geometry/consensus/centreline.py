"""The consensus centreline of repeated traces of one route.

From the medoid the line is moved onto the robust middle of the offsets until it rests (`consensus`); sparse
traces have a curve through their points instead (`curve`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trackspread.geometry.consensus.curve import through_points
from trackspread.geometry.consensus.ends import ended, extended
from trackspread.geometry.consensus.line_repair import SMOOTH_M, patched, uncurled
from trackspread.geometry.consensus.lines import carried_tangents, even_stations, half_of, line_through
from trackspread.geometry.consensus.medoid import medoid
from trackspread.geometry.crossings import offsets_between, point_offsets
from trackspread.geometry.matching import Line, match, refine
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import cumulative_length, smooth, tangents, without_folds
from trackspread.model import Bools, Floats, Ints
from trackspread.numeric.robust import bisquare_location, nan_median, pooled_scale, ride_weights

STEPS = 8  # steps of the centreline, at most
FIRST_STEPS = 3  # of them, at most, before the traces are matched again
FOOT_MOVES_M = 20.0  # m along the line within which a foot stays while the line is moved
STOP_M = 0.05  # m of move at which it rests
SCALE_WINDOW_M = 150.0  # half window of its scale, m
CARRIER_M = 20.0  # m to either side over which the line has one direction
SPAN_SHARE = 0.25  # share of the way between logged points over which moves are smoothed, to either side
LEAST_SMOOTHED = 1  # stations to either side over which they are in any case
TIP_COS = -0.3  # cosine of a turn within two stations either way, from which on it is a tip


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


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Traces:
    """The traces of a route, the lengths that `centreline` is given, and who has a say."""

    bundle: Bundle
    step_m: float
    reach_m: float
    gap_m: float
    ride: Ints | None = None
    left_out: Bools | None = None


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
    station_m = match(bundle, line, reach_m)
    longer = extended(bundle, line, station_m, step_m)
    if longer is not line:
        line, station_m = longer, match(bundle, longer, reach_m)
    if bundle.is_sparse:
        line, _ = through_points(bundle, line, station_m, step_m, reach_m)
    else:
        better = patched(bundle, line, station_m, gap_m, step_m)
        if better is not line:
            line, station_m = better, match(bundle, better, reach_m)
        traces = _Traces(bundle=bundle, step_m=step_m, reach_m=reach_m, gap_m=gap_m, ride=ride)
        line, _ = _moved_to_rest(traces, line, station_m, FIRST_STEPS)
    station_m = match(bundle, line, reach_m)
    return consensus(bundle, line, station_m, step_m=step_m, reach_m=reach_m, gap_m=gap_m, ride=ride)


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
) -> tuple[Line, Floats]:
    """Move a line onto the robust middle of the traces.

    Each step takes the offsets of all traces at the stations, their bisquare location with a scale pooled
    over 300 m, moves the stations along their normals, smooths lightly but for where the line turns back
    on itself (the tip of a spur would wear off), and resamples the line evenly. It stops after a step whose
    root mean square move is below `STOP_M`, and at the latest after `STEPS`.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    step_m, reach_m, gap_m : float
        Lengths as of `centreline`, metres.
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
    if bundle.is_sparse:
        return through_points(bundle, line, station_m, step_m, reach_m, left_out)
    traces = _Traces(bundle=bundle, step_m=step_m, reach_m=reach_m, gap_m=gap_m, ride=ride, left_out=left_out)
    line, near_m = _moved_to_rest(traces, line, station_m, STEPS)
    return line, refine(bundle, near_m, line, reach_m)


def _moved_to_rest(traces: _Traces, line: Line, station_m: Floats, steps: int) -> tuple[Line, Floats]:
    """Return the line moved until it rests, or ``steps`` times, and roughly the station of each point."""
    for step in range(steps):
        if step > 0:
            station_m = refine(traces.bundle, station_m, line, traces.reach_m, FOOT_MOVES_M)
        line, station_m, rests = _step(traces, line, station_m)
        if rests:
            break
    return line, station_m


def _step(traces: _Traces, line: Line, station_m: Floats) -> tuple[Line, Floats, bool]:
    """Move the line once: return it, roughly the station of each point, and whether it rests."""
    bundle, step_m = traces.bundle, traces.step_m
    offset_m, span_m, heard_m = _offsets(traces, line, station_m)
    location_m = _location(heard_m, traces.ride, step_m)
    tip = _tips(line)
    move_m = np.where(tip, location_m, _smoothed(location_m, span_m, step_m))
    moved, station_m = _moved(line, move_m, tip, station_m, step_m)
    enough = np.isfinite(offset_m).sum(axis=0) >= half_of(bundle)
    line, station_m = ended(bundle, moved, enough, station_m, step_m)
    rests = line is moved and math.sqrt(float(np.mean(move_m**2))) < STOP_M
    straight = uncurled(bundle, line, station_m, step_m)
    if straight is line:
        return line, station_m, rests
    return straight, match(bundle, straight, traces.reach_m), False


def _offsets(traces: _Traces, line: Line, station_m: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the offset of each trace at each station, its span, and the offset if it has a say; (T, S)."""
    bundle, gap_m = traces.bundle, traces.gap_m
    across_m = point_offsets(bundle, station_m, line)
    offset_m, span_m = offsets_between(bundle, station_m, line, gap_m, across_m)
    if traces.left_out is None:
        return offset_m, span_m, offset_m
    own_m = np.where(traces.left_out, np.nan, station_m)
    heard_m, _ = offsets_between(bundle, own_m, line, gap_m, across_m)
    return offset_m, span_m, np.where(np.isfinite(heard_m), offset_m, np.nan)


def _location(offset_m: Floats, ride: Ints | None, step_m: float) -> Floats:
    """Return Tukey's bisquare location of the offsets at each station, shape (S,), interpolated over gaps.

    Where traces happen to agree more closely than on half of the route, its median scale counts: a smaller
    one would leave out good traces.
    """
    half = max(1, round(SCALE_WINDOW_M / step_m))
    weight = None if ride is None else ride_weights(np.isfinite(offset_m), ride)
    scale_m = pooled_scale(offset_m, half, weight)
    usual_m = nan_median(scale_m[:, None])
    location_m = bisquare_location(offset_m, np.fmax(scale_m, usual_m), weight)
    known = np.flatnonzero(np.isfinite(location_m))
    if len(known) == 0:
        return np.zeros(len(location_m))
    every = np.arange(len(location_m))
    return np.interp(every, known, location_m[known])


def _smoothed(move_m: Floats, span_m: Floats, step_m: float) -> Floats:
    """Return moves, shape (S,), smoothed over the ways between logged points, ``span_m``, shape (T, S).

    There the offset is interpolated, and does not see a bulge of the line: moves that differ over less
    would let one grow.
    """
    known = np.isfinite(span_m).sum(axis=0)
    mean_m = np.nansum(span_m, axis=0) / np.maximum(known, 1)
    half = np.round(SPAN_SHARE * mean_m / step_m).astype(np.int64)
    half = np.maximum(half, LEAST_SMOOTHED)
    at = np.arange(len(move_m))
    left = np.maximum(at - half, 0)
    right = np.minimum(at + half + 1, len(at))
    sum_m = np.concatenate([[0.0], np.cumsum(move_m)])
    return np.asarray((sum_m[right] - sum_m[left]) / (right - left))


def _moved(line: Line, move_m: Floats, tip: Bools, station_m: Floats, step_m: float) -> tuple[Line, Floats]:
    """Move the stations to the right by ``move_m``, smooth lightly, and carry the points' stations over."""
    tx, ty = carried_tangents(line, round(CARRIER_M / step_m))
    x = line.x + move_m * ty
    y = line.y - move_m * tx
    x = np.where(tip, x, smooth(x, 2))
    y = np.where(tip, y, smooth(y, 2))
    keep = without_folds(x, y, tx, ty)
    x, y, old_m = x[keep], y[keep], line.station_m[keep]
    new_m = cumulative_length(x, y)
    before_m = np.minimum(station_m, 0.0)
    beyond_m = np.maximum(station_m - old_m[-1], 0.0)
    carried_m = np.interp(station_m, old_m, new_m) + (before_m + beyond_m)
    moved = line_through(x, y, step_m)
    return moved, carried_m * (moved.length_m / new_m[-1])


def _tips(line: Line) -> Bools:
    """Return the stations where the line turns back within two stations either way, shape (S,)."""
    tx, ty = tangents(line.x, line.y)
    cosine = tx[4:] * tx[:-4] + ty[4:] * ty[:-4]
    turned = np.zeros(len(tx), dtype=bool)
    turned[2:-2] = cosine < TIP_COS
    return turned
