"""Pieces of a line on which it is not where the traces are, and what stands there instead."""

from __future__ import annotations

import numpy as np

from trackspread.geometry.consensus.lines import even_stations, half_of, line_through
from trackspread.geometry.crossings import traces_aside
from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import cumulative_length, headings, smooth
from trackspread.model import Bools, Floats
from trackspread.numeric.robust import running_mean
from trackspread.numeric.runs import joined, runs

ELSEWHERE_M = 12.0  # m aside at which a trace contests the first line
PATCH_MARGIN_M = 25.0  # m beside a contested piece that are laid anew with it
SMOOTH_M = 15.0  # half window of the first line's smoothing, m
CURL_M, CURL_RAD, CURL_SHARE, CURL_SLACK_M = 40.0, 2.4, 1.08, 12.0
"""Metres to either side in which a curl turns by so many radians, and times the median way, with some
metres more, that it is longer than."""


def patched(bundle: Bundle, line: Line, station_m: Floats, gap_m: float, step_m: float) -> Line:
    """Replace the pieces of a line on which half of the traces or more do not run.

    The medoid may itself have made a detour. Where half of the traces pass out of reach or more than
    `ELSEWHERE_M` away, the piece is replaced by the way of the trace whose way between both ends has
    the median length. The same line comes back where there is nothing to replace.

    Parameters
    ----------
    bundle : Bundle
        Points of all traces on the grid.
    line : Line
        The centreline on its grid.
    station_m : ndarray, shape (P,)
        Station of each point, metres, NaN away.
    gap_m : float
        Way without a logged point beyond which nothing is known, metres.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    Line
    """
    contested = traces_aside(bundle, station_m, line, gap_m, ELSEWHERE_M) >= half_of(bundle)
    return _replaced(bundle, line, station_m, contested, step_m)


def uncurled(bundle: Bundle, line: Line, station_m: Floats, step_m: float) -> Line:
    """Replace the pieces on which a line curls: it is longer there than the ways that were ridden.

    Where points lie far apart and traces far from each other, a bulge may grow into a loop while the line
    is moved. Pieces that turn by `CURL_RAD` within `CURL_M` to either side, if longer than the median way.

    Parameters
    ----------
    bundle : Bundle
        Points of all traces on the grid.
    line : Line
        The centreline on its grid.
    station_m : ndarray, shape (P,)
        Station of each point, metres, NaN away.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    Line
    """
    size = max(1, round(CURL_M / step_m))
    heading = headings(line.x, line.y)
    turn = np.abs(np.angle(np.exp(1j * np.diff(heading, prepend=heading[0]))))
    curls = (2 * size + 1) * running_mean(turn, size) > CURL_RAD
    return _replaced(bundle, line, station_m, curls, step_m, CURL_SHARE)


def _replaced(
    bundle: Bundle, line: Line, station_m: Floats, where: Bools, step_m: float, longer: float = 0.0
) -> Line:
    """Replace pieces by the way of median length between their ends, if they are so much longer than that."""
    x, y = [], []
    done, margin, last = 0, round(PATCH_MARGIN_M / step_m), len(line.x) - 1
    for a, b in joined(runs(where), 2 * margin):
        first, end = max(int(a) - margin, 0), min(int(b) + margin, last)
        ways = _ways_between(bundle, station_m, line.station_m[first], line.station_m[end])
        if len(ways) < half_of(bundle) or first < done:
            continue
        length, way_x, way_y = ways[len(ways) // 2]
        if line.station_m[end] - line.station_m[first] < longer * (length + CURL_SLACK_M):
            continue
        x += [line.x[done:first], way_x]
        y += [line.y[done:first], way_y]
        done = end + 1
    if not x:
        return line
    whole = even_stations(np.concatenate([*x, line.x[done:]]), np.concatenate([*y, line.y[done:]]), step_m)
    half = max(2, round(SMOOTH_M / step_m))
    return line_through(smooth(whole[0], half), smooth(whole[1], half), step_m)


def _ways_between(
    bundle: Bundle, station_m: Floats, from_m: float, to_m: float
) -> list[tuple[float, Floats, Floats]]:
    """Return length and points of every trace's way between two stations, the shortest first."""
    ways = []
    for trace in range(bundle.traces):
        part = bundle.of(trace)
        at = np.nan_to_num(station_m[part], nan=-np.inf)
        after = np.flatnonzero(at >= to_m)
        before = np.flatnonzero((at <= from_m) & np.isfinite(at))
        if len(after) and len(before := before[before < after[0]]):
            inside = slice(int(before[-1]), int(after[0]) + 1)
            if not bundle.gap_before[part][inside][1:].any():
                x, y = (_cut(c[part][inside], at[inside], from_m, to_m) for c in (bundle.x, bundle.y))
                ways.append((float(cumulative_length(x, y)[-1]), x, y))
    return sorted(ways, key=lambda way: way[0])


def _cut(values: Floats, at_m: Floats, from_m: float, to_m: float) -> Floats:
    """Return values with the first and the last moved to where the way passes two stations."""
    out = values.copy()
    for end, inner, place in ((0, 1, from_m), (-1, -2, to_m)):
        step = at_m[inner] - at_m[end]
        share = (place - at_m[end]) / step if np.isfinite(step) and step != 0.0 else 0.0
        out[end] += float(np.clip(share, 0.0, 1.0)) * (values[inner] - values[end])
    return out
