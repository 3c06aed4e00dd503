"""Where and when each trace crosses the normal of each station."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import project_near, tangents
from trackspread.model import Bools, Floats, Ints

ALONG_COS = 0.25  # cosine of the angle to the line up to which a start out of reach runs beside it
CUT_SHORT = 0.5
"""A step with so small a part of the way along the line cuts it short; a longer one merely logs nothing."""
MOST_ON_WAY = 200_000  # bounds the work, places every 2 m or farther apart
ACROSS_TIMES = 2.0  # times the nearest distance, within which the way lies across


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Crossings:
    """Offsets and times of ``T`` traces at ``S`` stations.

    ``offset_m``, ``time_s``, ``span_m``, shape (T, S): offset positive to the right of travel, moment of
    crossing, and distance between the two logged points it was interpolated from; NaN = no data.
    ``away`` marks stations that a trace passed out of reach; their ``offset_m`` is NaN and
    ``away_m`` holds the distance to its way, signed like an offset.
    """

    offset_m: Floats
    time_s: Floats
    span_m: Floats
    away: Bools
    away_m: Floats


def point_offsets(bundle: Bundle, station_m: Floats, line: Line) -> Floats:
    """Return the offset of every point whose station is known, shape (P,).

    Parameters
    ----------
    bundle : Bundle
        Points of all traces on the grid.
    station_m : ndarray, shape (P,)
        Station of each point, metres, NaN away.
    line : Line
        The centreline on its grid.

    Returns
    -------
    ndarray, shape (P,)
    """
    out = np.full(len(station_m), np.nan)
    known = np.isfinite(station_m)
    out[known] = project_near(
        bundle.x[known], bundle.y[known], station_m[known], line.x, line.y, line.station_m, 2
    )[1]
    return out


def crossings(
    bundle: Bundle,
    station_m: Floats,
    line: Line,
    gap_m: float,
    reach_m: float = 0.0,
    across_m: Floats | None = None,
) -> Crossings:
    """Interpolate offsets and times at the stations of the line.

    Interpolation runs along the line, in station and offset, so a sparse trace is not cut across the
    bends. Points that fall back behind an earlier one do not count. Over gaps there is nothing, nor between
    points farther apart along the line than ``gap_m``, unless the step between them cuts the line short.

    Parameters
    ----------
    station_m : ndarray, shape (P,)
        Station of every point of the bundle (see `matching.match`), NaN away.
    gap_m : float
        Longest distance along the line over which is interpolated.
    reach_m : float
        A way that was logged beside the line, but matched to nothing, is away from it beyond this distance.
    bundle : Bundle
        Points of all traces on the grid.
    line : Line
        The centreline on its grid.
    across_m : ndarray, shape (P,), optional
        Offset of every point, where it is known already (`point_offsets`).

    Returns
    -------
    Crossings
    """
    shape = (bundle.traces, len(line.station_m))
    offset, time, span, away_m = (np.full(shape, np.nan) for _ in range(4))
    away = np.zeros(shape, dtype=bool)
    across = point_offsets(bundle, station_m, line) if across_m is None else across_m
    travel = bundle.travel_m()
    for way in _passes(bundle, station_m, line, gap_m, across):
        trace, near, first, last = way.trace, way.near, way.first, way.last
        offset[trace, near], span[trace, near] = way.offset_m, way.span_m[near]
        moment = np.interp(line.station_m, way.at_m, bundle.time_s[way.index])
        time[trace, near] = moment[near]
        step = np.hypot(bundle.x[last] - bundle.x[first], bundle.y[last] - bundle.y[first])
        off = way.logged | way.joined & ~near & (step <= CUT_SHORT * way.span_m)
        away[trace] = off
        if off.any():
            time[trace, off] = moment[off]
            beside = _distance_to_way(bundle, first[off], last[off], line, off)
            away_m[trace, off] = beside
            back = np.flatnonzero(off)[(np.abs(beside) < reach_m) & way.logged[off]]
            offset[trace, back], away_m[trace, back], away[trace, back] = away_m[trace, back], np.nan, False
            span[trace, back] = ((travel[last] - travel[first]) / (last - first))[back]
    return Crossings(offset_m=offset, time_s=time, span_m=span, away=away, away_m=away_m)


def offsets_between(
    bundle: Bundle, station_m: Floats, line: Line, gap_m: float, across_m: Floats
) -> tuple[Floats, Floats]:
    """Return ``offset_m`` and ``span_m`` of `crossings`, with nothing of ways out of reach.

    Parameters
    ----------
    bundle : Bundle
        Points of all traces on the grid.
    station_m, across_m : ndarray, shape (P,)
        Station of every point, metres, NaN away, and its offset (`point_offsets`).
    line : Line
        The centreline on its grid.
    gap_m : float
        Longest distance along the line over which is interpolated.

    Returns
    -------
    offset_m, span_m : ndarray, shape (T, S)
    """
    offset, span = (np.full((bundle.traces, len(line.station_m)), np.nan) for _ in range(2))
    for way in _passes(bundle, station_m, line, gap_m, across_m):
        offset[way.trace, way.near], span[way.trace, way.near] = way.offset_m, way.span_m[way.near]
    return offset, span


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Pass:
    """One trace along the stations.

    Its points ``index``, at the stations ``at_m``, go on along the line. For each station of the line: the
    points ``first`` and ``last`` about it, how far apart they are along the line, whether nothing parts them,
    whether points out of reach were ``logged`` between them, and whether they are ``near`` enough to
    interpolate between; there is ``offset_m``.
    """

    trace: int
    index: Ints
    at_m: Floats
    first: Ints
    last: Ints
    span_m: Floats
    joined: Bools
    logged: Bools
    near: Bools
    offset_m: Floats


def _passes(bundle: Bundle, station_m: Floats, line: Line, gap_m: float, across_m: Floats) -> Iterator[_Pass]:
    """Give every trace that has two points on the line, as it passes the stations."""
    gaps = np.cumsum(bundle.gap_before)
    for trace in range(bundle.traces):
        part = bundle.of(trace)
        index = _advancing(station_m[part], across_m[part]) + part.start
        if len(index) < 2:
            continue
        at = station_m[index]
        left = np.searchsorted(at, line.station_m, side="right") - 1
        inside = (line.station_m >= at[0]) & (line.station_m <= at[-1])
        left = np.clip(left, 0, len(at) - 2)
        first, last, span = index[left], index[left + 1], at[left + 1] - at[left]
        joined = inside & (gaps[first] == gaps[last])
        lost = np.cumsum(np.isnan(station_m[part]))
        logged = joined & (lost[first - part.start] != lost[last - part.start])
        near = joined & ~logged & (span <= gap_m)
        offset = np.interp(line.station_m, at, across_m[index])[near]
        yield _Pass(
            trace=trace, index=index, at_m=at, first=first, last=last, span_m=span, joined=joined,
            logged=logged, near=near, offset_m=offset,
        )  # fmt: skip


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
    travel = bundle.travel_m()
    for trace in range(bundle.traces):
        part = bundle.of(trace)
        edges = [*(part.start + np.flatnonzero(bundle.gap_before[part])).tolist(), part.stop]
        pieces = [(a, b, a + np.flatnonzero(np.isfinite(station_m[a:b]))) for a, b in pairwise(edges)]
        pieces = [piece for piece in pieces if len(piece[2])]
        entered = np.array([station_m[known[0]] for _, _, known in pieces])
        later = np.append(np.minimum.accumulate(entered[::-1])[::-1], np.inf)[1:]
        reached = -np.inf
        for (begin, end, known), entered_m, later_m in zip(pieces, entered, later, strict=True):
            lead, trail = slice(begin, int(known[0]) + 1), slice(int(known[-1]), end)
            if lead.stop - begin > 1:
                at = entered_m - travel[known[0]] + travel[lead]
                _pass_beside(out, trace, bundle, line, lead, at, (reached, entered_m))
            reached = max(reached, float(station_m[known].max()))
            if end - trail.start > 1:
                at = station_m[known[-1]] - travel[known[-1]] + travel[trail]
                _pass_beside(out, trace, bundle, line, trail, at, (reached, later_m))
    return out


def _pass_beside(
    out: Crossings, trace: int, bundle: Bundle, line: Line, points: slice, at_m: Floats,
    between_m: tuple[float, float],
) -> None:  # fmt: skip
    """Mark the stations between two others that some points of a trace pass out of reach.

    ``at_m`` is where on the line each of the points would be.
    """
    where = (line.station_m >= at_m[0]) & (line.station_m <= at_m[-1]) & np.isnan(out.offset_m[trace])
    where &= (line.station_m > between_m[0]) & (line.station_m < between_m[1]) & ~out.away[trace]
    start, end = points.start, points.stop - 1
    if where.sum() < 2 or not _alongside(bundle, start, end, line, np.flatnonzero(where)):
        return
    out.away[trace] |= where
    out.time_s[trace, where] = np.interp(line.station_m[where], at_m, bundle.time_s[points])
    first, last = (np.full(int(where.sum()), point, dtype=np.int64) for point in (start, end))
    out.away_m[trace, where] = _distance_to_way(bundle, first, last, line, where)


def _alongside(bundle: Bundle, start: int, joins: int, line: Line, where: Ints) -> bool:
    """Return whether the way between two points runs in the direction of the line beside it."""
    way = np.array([bundle.x[joins] - bundle.x[start], bundle.y[joins] - bundle.y[start]])
    along = np.array([line.x[where[-1]] - line.x[where[0]], line.y[where[-1]] - line.y[where[0]]])
    return bool(way @ along >= ALONG_COS * np.linalg.norm(way) * np.linalg.norm(along))


def _advancing(station_m: Floats, offset_m: Floats) -> Ints:
    """Return the indices of the points that lie beyond all earlier ones.

    Of points that follow each other at one station (around the tip of a spur) the outermost counts.
    """
    known = np.flatnonzero(np.isfinite(station_m))
    at = station_m[known]
    if len(at) == 0:
        return known
    best = np.maximum.accumulate(at)
    ahead = np.concatenate([[True], at[1:] > best[:-1] + 1e-6])
    level = np.flatnonzero(at >= best - 1e-6)
    if len(level) == np.count_nonzero(ahead):
        return np.asarray(known[level])
    group = np.cumsum(ahead)[level]
    order = np.lexsort((-np.abs(offset_m[known[level]]), group))
    return np.asarray(known[level[order[np.unique(group, return_index=True)[1]]]])


def _distance_to_way(bundle: Bundle, first: Ints, last: Ints, line: Line, where: Bools) -> Floats:
    """Return the signed distance of the stations ``where`` to the way ridden between two points each.

    It is measured across the line: each place of the way is set on the station nearest to it, and those that
    fall back do not count. Where that is more than `ACROSS_TIMES` as far as the nearest place of the way, or
    less, that place counts instead; alone, the nearest place of a jagged way would be too near. All stations
    of one way bear the sign of the side on which it lies on the whole.
    """
    out = np.full(int(where.sum()), np.nan)
    at, sx, sy = line.station_m[where], line.x[where], line.y[where]
    tx, ty = (t[where] for t in tangents(line.x, line.y))
    for start in np.unique(first):
        mine = np.flatnonzero(first == start)
        x, y = (c[start : last[mine[0]] + 1] for c in (bundle.x, bundle.y))
        length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
        fine = np.linspace(0.0, length[-1], int(np.clip(length[-1] / 2.0, 2, MOST_ON_WAY)))
        way = np.column_stack([np.interp(fine, length, x), np.interp(fine, length, y)])
        stations = np.column_stack([sx[mine], sy[mine]])
        nearest_m, _ = cKDTree(way).query(stations)
        _, foot = cKDTree(stations).query(way)
        east, north = (way - stations[foot]).T
        across = east * ty[mine[foot]] - north * tx[mine[foot]]
        passed = at[mine[foot]] + east * tx[mine[foot]] + north * ty[mine[foot]]
        ahead = _advancing(passed, across)
        across_m = np.abs(np.interp(at[mine], passed[ahead], across[ahead]))
        beside = (across_m >= nearest_m) & (across_m <= ACROSS_TIMES * nearest_m)
        side = np.sum((way[:, 0].mean() - sx[mine]) * ty[mine] - (way[:, 1].mean() - sy[mine]) * tx[mine])
        out[mine] = np.copysign(np.where(beside, across_m, nearest_m), side)
    return out
