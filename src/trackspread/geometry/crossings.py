"""Where and when each trace crosses the normal of each station."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import cumulative_length, project_onto_segments, tangents
from trackspread.model import Bools, Floats, Ints

CUT_SHORT = 0.5
"""A step with so small a part of the way along the line cuts it short; a longer one merely logs nothing."""
MOST_ON_WAY = 200_000  # bounds the work, places every 2 m or farther apart
ACROSS_TIMES = 2.0  # times the nearest distance, within which the way lies across
SAME_STATION_M = 1e-6  # m along the line within which two points are at one station


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
    known = np.flatnonzero(np.isfinite(station_m))
    segment = np.searchsorted(line.station_m, station_m[known], side="right") - 1
    segment = np.clip(segment, 0, len(line.x) - 2)
    x, y = bundle.x[known], bundle.y[known]
    out[known] = project_onto_segments(x, y, line.x, line.y, line.station_m, segment)[1]
    return out


def crossings(
    bundle: Bundle,
    station_m: Floats,
    line: Line,
    gap_m: float,
    reach_m: float = 0.0,
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

    Returns
    -------
    Crossings
    """
    shape = bundle.traces, len(line.station_m)
    offset, time, span, away_m = (np.full(shape, np.nan) for _ in range(4))
    away = np.zeros(shape, dtype=bool)
    across_m = point_offsets(bundle, station_m, line)
    for way in _passes(bundle, station_m, line, gap_m, across_m):
        trace = way.trace
        offset[trace], span[trace] = way.offset_m, way.gap_m
        off = _elsewhere(bundle, way)
        seen = way.near | off
        moment = np.interp(line.station_m, way.at_m, bundle.time_s[way.index])
        time[trace, seen] = moment[seen]
        if off.any():
            away_m[trace, off] = distance_to_way(bundle, way.first[off], way.last[off], line, off)
            within = way.logged & (np.abs(away_m[trace]) < reach_m)
            offset[trace, within] = away_m[trace, within]
            span[trace, within] = _mean_step_m(bundle, way)[within]
            away[trace] = off & ~within
            away_m[trace, within] = np.nan
    return Crossings(offset_m=offset, time_s=time, span_m=span, away=away, away_m=away_m)


def _elsewhere(bundle: Bundle, way: _Pass) -> Bools:
    """Return the stations passed out of reach, as points there tell or a step that cuts short, shape (S,)."""
    step_x = bundle.x[way.last] - bundle.x[way.first]
    step_y = bundle.y[way.last] - bundle.y[way.first]
    short = np.hypot(step_x, step_y) <= CUT_SHORT * way.span_m
    return np.asarray(way.logged | way.joined & ~way.near & short)


def _mean_step_m(bundle: Bundle, way: _Pass) -> Floats:
    """Return the mean distance of the points logged between the two about each station, shape (S,)."""
    travel = bundle.travel_m
    return np.asarray((travel[way.last] - travel[way.first]) / (way.last - way.first))


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
        offset[way.trace], span[way.trace] = way.offset_m, way.gap_m
    return offset, span


def traces_aside(bundle: Bundle, station_m: Floats, line: Line, gap_m: float, aside_m: float) -> Ints:
    """Return how many traces pass each station out of reach or farther from it than ``aside_m``.

    Parameters
    ----------
    bundle : Bundle
        Points of all traces on the grid.
    station_m : ndarray, shape (P,)
        Station of every point, metres, NaN away.
    line : Line
        The centreline on its grid.
    gap_m : float
        Longest distance along the line over which is interpolated.
    aside_m : float
        Metres.

    Returns
    -------
    ndarray of int, shape (S,)
    """
    aside = np.zeros(len(line.station_m), dtype=np.int64)
    across_m = point_offsets(bundle, station_m, line)
    for way in _passes(bundle, station_m, line, gap_m, across_m):
        aside += _elsewhere(bundle, way) | (np.abs(way.offset_m) > aside_m)
    return aside


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Pass:
    """One trace along the ``S`` stations of the line.

    Its points ``index``, at the stations ``at_m``, go on along the line. For each station of the line: the
    points ``first`` and ``last`` about it, how far apart they are along the line, whether nothing parts them,
    whether points out of reach were ``logged`` between them, and whether they are ``near`` enough to
    interpolate between: there are ``offset_m`` and ``gap_m``, the span of the two; NaN elsewhere.
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
    gap_m: Floats


def _passes(bundle: Bundle, station_m: Floats, line: Line, gap_m: float, across_m: Floats) -> Iterator[_Pass]:
    """Give every trace that has two points on the line, as it passes the stations."""
    interruptions = np.cumsum(bundle.gap_before)
    out_of_reach = np.cumsum(np.isnan(station_m))
    for trace in range(bundle.traces):
        part = bundle.of(trace)
        index = part.start + _advancing(station_m[part], across_m[part])
        if len(index) < 2:
            continue
        at = station_m[index]
        left = np.searchsorted(at, line.station_m, side="right") - 1
        left = np.clip(left, 0, len(at) - 2)
        first, last = index[left], index[left + 1]
        span = at[left + 1] - at[left]
        inside = (line.station_m >= at[0]) & (line.station_m <= at[-1])
        joined = inside & (interruptions[first] == interruptions[last])
        logged = joined & (out_of_reach[first] != out_of_reach[last])
        near = joined & ~logged & (span <= gap_m)
        offset = np.interp(line.station_m, at, across_m[index])
        yield _Pass(
            trace=trace, index=index, at_m=at, first=first, last=last, span_m=span, joined=joined,
            logged=logged, near=near, offset_m=np.where(near, offset, np.nan),
            gap_m=np.where(near, span, np.nan),
        )  # fmt: skip


def _advancing(station_m: Floats, offset_m: Floats) -> Ints:
    """Return the indices of the points that lie beyond all earlier ones.

    Of points that follow each other at one station (around the tip of a spur) the outermost counts.
    """
    known = np.flatnonzero(np.isfinite(station_m))
    at = station_m[known]
    farthest = np.maximum.accumulate(at)
    ahead = np.ones(len(at), dtype=bool)
    ahead[1:] = at[1:] > farthest[:-1] + SAME_STATION_M
    level = at >= farthest - SAME_STATION_M
    if np.array_equal(level, ahead):
        return np.asarray(known[level])
    known, station = known[level], np.cumsum(ahead)[level]
    outermost_first = np.lexsort((-np.abs(offset_m[known]), station))
    _, outermost = np.unique(station, return_index=True)
    return np.asarray(known[outermost_first[outermost]])


def distance_to_way(bundle: Bundle, first: Ints, last: Ints, line: Line, where: Bools) -> Floats:
    """Return the signed distance of the stations ``where`` to the way ridden between two points each.

    It is measured across the line: each place of the way is set on the station nearest to it, and those that
    fall back do not count. Where that is more than `ACROSS_TIMES` as far as the nearest place of the way, or
    less, that place counts instead; alone, the nearest place of a jagged way would be too near. All stations
    of one way bear the sign of the side on which it lies on the whole.

    Parameters
    ----------
    bundle : Bundle
        Points of all traces on the grid.
    first, last : ndarray of int, shape (N,)
        The two points of each station.
    line : Line
        The centreline on its grid.
    where : ndarray of bool, shape (S,)
        N stations of the line.

    Returns
    -------
    ndarray, shape (N,)
        Metres, positive where the way lies to the right of the line.
    """
    tx, ty = tangents(line.x, line.y)
    every = np.column_stack([line.station_m, line.x, line.y, tx, ty])[where]
    out = np.full(len(every), np.nan)
    for start in np.unique(first):
        mine = np.flatnonzero(first == start)
        way = _way_between(bundle, start, last[mine[0]])
        out[mine] = _across_to_way(way, every[mine])
    return out


def _way_between(bundle: Bundle, start: int, end: int) -> Floats:
    """Return places every 2 m on the way from one point to another, shape (W, 2)."""
    x, y = bundle.x[start : end + 1], bundle.y[start : end + 1]
    length = cumulative_length(x, y)
    places = int(np.clip(length[-1] / 2.0, 2, MOST_ON_WAY))
    at = np.linspace(0.0, length[-1], places)
    return np.column_stack([np.interp(at, length, x), np.interp(at, length, y)])


def _across_to_way(way: Floats, stations: Floats) -> Floats:
    """Return the distance to a way, shape (W, 2), of stations: metres along, x, y, tangent (N, 5)."""
    at, x, y, tx, ty = stations.T
    nearest_m, _ = cKDTree(way).query(stations[:, 1:3])
    _, foot = cKDTree(stations[:, 1:3]).query(way)
    east, north = way[:, 0] - x[foot], way[:, 1] - y[foot]
    across = east * ty[foot] - north * tx[foot]
    passed = at[foot] + east * tx[foot] + north * ty[foot]
    ahead = _advancing(passed, across)
    across_m = np.abs(np.interp(at, passed[ahead], across[ahead]))
    beside = (across_m >= nearest_m) & (across_m <= ACROSS_TIMES * nearest_m)
    middle_x, middle_y = way.mean(axis=0)
    side = np.sum((middle_x - x) * ty - (middle_y - y) * tx)
    return np.asarray(np.copysign(np.where(beside, across_m, nearest_m), side))
