"""Polylines on a metric grid: length, even resampling, tangents, smoothing, projection of points."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from trackspread.model import Bools, Floats, Ints

NEARNESS = 0.3  # m nearer that a foot must be for each metre farther along the line
AGAINST_M = 12.0  # m by which a line that runs against the way of a point counts as farther off
AT_ONCE, ROWS_AT_ONCE = 65_536, 4096  # points, and rows of them, in one table: bounds memory


def cumulative_length(x: Floats, y: Floats) -> Floats:
    """Return the length travelled up to each vertex, shape (V,), metres.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.

    Returns
    -------
    ndarray, shape (P,)
        Metres.
    """
    return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])


def resample(x: Floats, y: Floats, step_m: float) -> tuple[Floats, Floats]:
    """Return the polyline resampled at even distances as near to ``step_m`` as its length allows.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    x, y : ndarray
    """
    length = cumulative_length(x, y)
    count = max(1, round(float(length[-1]) / step_m))
    at = np.linspace(0.0, length[-1], count + 1)
    return np.interp(at, length, x), np.interp(at, length, y)


def tangents(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return unit tangents at the vertices, by central differences, shape (V,) each.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.

    Returns
    -------
    tx, ty : ndarray, shape (P,)
    """
    dx, dy = np.gradient(x), np.gradient(y)
    norm = np.hypot(dx, dy)
    norm[norm == 0.0] = 1.0
    return dx / norm, dy / norm


def headings(x: Floats, y: Floats) -> Floats:
    """Return the direction of travel at the vertices, radians counter-clockwise from east, shape (V,).

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.

    Returns
    -------
    ndarray, shape (P,)
        Radians.
    """
    tx, ty = tangents(x, y)
    return np.asarray(np.arctan2(ty, tx))


def smooth(x: Floats, half_width: int) -> Floats:
    """Return a local quadratic fit of ``x`` over ``2 half_width + 1`` neighbours; ends are kept.

    Savitzky & Golay (1964), Analytical Chemistry 36:1627, for the centre of the window; towards the
    ends the window shrinks. A quadratic keeps corners that a running mean would cut.

    Parameters
    ----------
    x : ndarray, shape (P,)
    half_width : int
        Neighbours on each side.

    Returns
    -------
    ndarray, shape (P,)
    """
    out = x.copy()
    for half in range(2, half_width + 1):
        inner = slice(half, len(x) - half)
        if len(x) > 2 * half:
            out[inner] = np.convolve(x, _quadratic_weights(half), mode="valid")
    return out


def _quadratic_weights(half: int) -> Floats:
    k = np.arange(-half, half + 1, dtype=float)
    n = float(len(k))
    s2, s4 = float(np.sum(k**2)), float(np.sum(k**4))
    return np.asarray((s4 - s2 * k**2) / (n * s4 - s2**2))


def without_folds(x: Floats, y: Floats, tangent_x: Floats, tangent_y: Floats) -> Bools:
    """Return which vertices go on along the given tangents; those that turn back (folds) are False.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.
    tangent_x : ndarray, shape (P,)
        East part of the tangents.
    tangent_y : ndarray, shape (P,)
        North part.

    Returns
    -------
    ndarray of bool, shape (P,)
    """
    dx, dy = np.diff(x), np.diff(y)
    forward = dx * (tangent_x[1:] + tangent_x[:-1]) + dy * (tangent_y[1:] + tangent_y[:-1]) > 0.0
    keep = np.concatenate([[True], forward])
    keep[-1] = True
    return keep


def project_onto_segments(
    px: Floats, py: Floats, x: Floats, y: Floats, station_m: Floats, segment: Ints
) -> tuple[Floats, Floats, Floats]:
    """Project points onto given segments of a polyline.

    Parameters
    ----------
    px, py : ndarray, any shape
        Points, metres.
    x, y, station_m : ndarray, shape (V,)
        Vertices and their stations.
    segment : ndarray of int, shape of ``px``
        Segment ``j`` joins vertices ``j`` and ``j + 1``.

    Returns
    -------
    station, offset, distance : ndarray, shape of ``px``
        Station of the foot (beyond the line's ends the first and the last segment run on straight),
        offset positive to the right of travel, and distance to the segment.
    """
    return _at_feet(_feet(px, py, x, y, segment, _directions(x, y)), x, y, station_m, segment)


def _at_feet(
    foot: _Feet, x: Floats, y: Floats, station_m: Floats, segment: Ints
) -> tuple[Floats, Floats, Floats]:
    """Return station, offset and distance of points, as `project_onto_segments` tells them."""
    beyond = (segment == 0) & (foot.along < 0.0) | (segment == len(x) - 2) & (foot.along > foot.length)
    free = np.where(beyond, foot.along, foot.inside)
    offset = foot.dx * foot.uy - foot.dy * foot.ux
    corner = np.nonzero(free != foot.along)
    side = _side_at_vertex(foot.dx[corner], foot.dy[corner], x, y, segment[corner], foot.along[corner] > 0)
    offset[corner] = np.copysign(foot.distance[corner], side)
    return station_m[segment] + free, offset, foot.distance


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Feet:
    """Points seen from the beginning of a segment each: ``(ux, uy)`` is its direction."""

    dx: Floats
    dy: Floats
    ux: Floats
    uy: Floats
    length: Floats
    along: Floats
    inside: Floats
    distance: Floats


def _directions(x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
    """Return direction and length of every segment, shape (V - 1,) each."""
    ux, uy = np.diff(x), np.diff(y)
    length = np.hypot(ux, uy)
    safe = np.where(length > 0.0, length, 1.0)
    return ux / safe, uy / safe, length


def _feet(
    px: Floats, py: Floats, x: Floats, y: Floats, segment: Ints, directions: tuple[Floats, Floats, Floats]
) -> _Feet:
    ux, uy, length = (column[segment] for column in directions)
    dx, dy = px - x[segment], py - y[segment]
    along = dx * ux + dy * uy
    inside = np.minimum(np.maximum(along, 0.0), length)
    distance = np.hypot(dx - inside * ux, dy - inside * uy)
    return _Feet(dx=dx, dy=dy, ux=ux, uy=uy, length=length, along=along, inside=inside, distance=distance)


def _side_at_vertex(dx: Floats, dy: Floats, x: Floats, y: Floats, segment: Ints, second: Bools) -> Floats:
    """Return a number whose sign says on which side of a corner points lie: right is positive.

    At a corner neither of the two segments knows; the bisector, through the neighbouring vertices, does.
    """
    vertex = segment + second
    before, after = np.maximum(vertex - 1, 0), np.minimum(vertex + 1, len(x) - 1)
    px, py = dx + x[segment] - x[vertex], dy + y[segment] - y[vertex]
    return np.asarray(px * (y[after] - y[before]) - py * (x[after] - x[before]))


def project_near(
    px: Floats,
    py: Floats,
    near_m: Floats,
    x: Floats,
    y: Floats,
    station_m: Floats,
    half_width: int,
    heading: tuple[Floats, Floats] | None = None,
) -> tuple[Floats, Floats, Floats]:
    """Project points onto the line near a known station.

    ``near_m``, shape (P,), is where each point lies roughly; only the vertices up to ``half_width``
    away from it are looked at, and a foot farther along the line must be nearer by `NEARNESS` of that way,
    so a point never changes to another leg. Around the tip of a spur both legs are near: where ``heading`` is
    given, that of the points (vectors of length 1 or, in doubt, less, shape (P,) each), a line that runs
    against it counts as up to `AGAINST_M` farther off, one at right angles as no farther. Returns station,
    offset and distance, shape (P,). Few points are done at a time: tables of all of them would fill the
    memory, and the cache of the processor.

    Parameters
    ----------
    px : ndarray, shape (P,)
        Points, east, metres.
    py : ndarray, shape (P,)
        Points, north, metres.
    near_m : ndarray, shape (P,)
        Where each lies roughly, metres along the line.
    x : ndarray, shape (S,)
        Line, east, metres.
    y : ndarray, shape (S,)
        Line, north, metres.
    station_m : ndarray, shape (S,)
        Stations, metres.
    half_width : int
        Neighbours on each side.
    heading : tuple of ndarray, optional
        Direction of travel at each point.

    Returns
    -------
    station_m, offset_m, distance_m : ndarray, shape (P,)
    """
    columns = (x, y, station_m, *(() if heading is None else tangents(x, y)))
    rows = [_neighbours(column, half_width) for column in columns]
    out = np.empty((3, len(px)))
    for first in range(0, len(px), AT_ONCE):
        part = slice(first, first + AT_ONCE)
        nearest = np.empty(len(px[part]), dtype=np.int64)
        for begin in range(first, min(first + AT_ONCE, len(px)), ROWS_AT_ONCE):
            few = slice(begin, min(begin + ROWS_AT_ONCE, first + AT_ONCE))
            after = np.searchsorted(station_m, near_m[few], side="right")
            squared = _squared(rows[0][after], px[few]) + _squared(rows[1][after], py[few])
            squared += _squared(rows[2][after], near_m[few], NEARNESS)
            column = squared.argmin(axis=1)
            if heading is not None:  # it counts where the line runs against it, so only there can it matter
                hx, hy = heading[0][few], heading[1][few]
                against = rows[3][after, column] * hx + rows[4][after, column] * hy < 0.0
                forward = rows[3][after[against]] * hx[against, None]
                forward += rows[4][after[against]] * hy[against, None]
                turned = squared[against] + _squared(np.minimum(forward, 0.0), factor=AGAINST_M)
                column[against] = turned.argmin(axis=1)
            nearest[begin - first : few.stop - first] = after - 1 - half_width + column
        nearest = np.clip(nearest, 0, len(x) - 1)
        out[:, part] = project_at_vertex(px[part], py[part], nearest, x, y, station_m)
    return out[0], out[1], out[2]


def _neighbours(values: Floats, half_width: int) -> Floats:
    """Return for each vertex those around it: row ``j`` begins ``half_width`` before vertex ``j - 1``.

    Beyond the ends the last one stands for the others; nothing is copied.
    """
    around = np.pad(values, half_width + 1, mode="edge")
    return np.lib.stride_tricks.sliding_window_view(around, 2 * half_width + 2)


def _squared(table: Floats, column: Floats | None = None, factor: float = 1.0) -> Floats:
    """Return ``(factor (table - column))²``, written over the table."""
    if column is not None:
        table -= column[:, None]
    if factor != 1.0:
        table *= factor
    return np.square(table, out=table)


def project_at_vertex(
    px: Floats, py: Floats, vertex: Ints, x: Floats, y: Floats, station_m: Floats
) -> tuple[Floats, Floats, Floats]:
    """Project points onto the nearer of the two segments that meet at a vertex each, shape (P,).

    Parameters
    ----------
    px : ndarray, shape (P,)
        Points, east, metres.
    py : ndarray, shape (P,)
        Points, north, metres.
    vertex : ndarray of int, shape (P,)
        Vertex of the line for each point.
    x : ndarray, shape (S,)
        Line, east, metres.
    y : ndarray, shape (S,)
        Line, north, metres.
    station_m : ndarray, shape (S,)
        Stations, metres.

    Returns
    -------
    station_m, offset_m, distance_m : ndarray, shape (P,)
    """
    last, directions = len(x) - 2, _directions(x, y)
    before, after = np.clip(vertex - 1, 0, last), np.clip(vertex, 0, last)
    first, second = (_feet(px, py, x, y, segment, directions) for segment in (before, after))
    nearer = second.distance < first.distance
    names = [field.name for field in fields(_Feet)]
    foot = _Feet(**{name: np.where(nearer, getattr(second, name), getattr(first, name)) for name in names})
    return _at_feet(foot, x, y, station_m, np.where(nearer, after, before))
