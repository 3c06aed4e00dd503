"""Polylines on a metric grid: length, even resampling, tangents, smoothing, projection of points."""

from __future__ import annotations

import numpy as np

from trackspread.model import Bools, Floats, Ints

NEARNESS = 0.3
AGAINST_M = 12.0
AT_ONCE = 8192


def cumulative_length(x: Floats, y: Floats) -> Floats:
    """Return the length travelled up to each vertex, shape (V,), metres."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])


def resample(x: Floats, y: Floats, step_m: float) -> tuple[Floats, Floats]:
    """Return the polyline resampled at even distances as near to ``step_m`` as its length allows."""
    length = cumulative_length(x, y)
    count = max(1, round(float(length[-1]) / step_m))
    at = np.linspace(0.0, length[-1], count + 1)
    return np.interp(at, length, x), np.interp(at, length, y)


def tangents(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return unit tangents at the vertices, by central differences, shape (V,) each."""
    dx, dy = np.gradient(x), np.gradient(y)
    norm = np.hypot(dx, dy)
    norm[norm == 0.0] = 1.0
    return dx / norm, dy / norm


def headings(x: Floats, y: Floats) -> Floats:
    """Return the direction of travel at the vertices, radians counter-clockwise from east, shape (V,)."""
    tx, ty = tangents(x, y)
    return np.asarray(np.arctan2(ty, tx))


def smooth(x: Floats, half_width: int) -> Floats:
    """Return a local quadratic fit of ``x`` over ``2 half_width + 1`` neighbours; ends are kept.

    Savitzky & Golay (1964), Analytical Chemistry 36:1627, for the centre of the window; towards the
    ends the window shrinks. A quadratic keeps corners that a running mean would cut.
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
    """Return which vertices go on along the given tangents; those that turn back (folds) are False."""
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
    ax, ay = x[segment], y[segment]
    ux, uy = x[segment + 1] - ax, y[segment + 1] - ay
    length = np.hypot(ux, uy)
    safe = np.where(length > 0.0, length, 1.0)
    ux, uy = ux / safe, uy / safe
    dx, dy = px - ax, py - ay
    along = dx * ux + dy * uy
    inside = np.clip(along, 0.0, length)
    across = dx * uy - dy * ux
    distance = np.hypot(dx - inside * ux, dy - inside * uy)
    first, last = segment == 0, segment == len(x) - 2
    free = np.where(first & (along < 0.0) | last & (along > length), along, inside)
    offset = np.where(
        free == along, across, np.copysign(distance, _side_at_vertex(dx, dy, x, y, segment, along > 0))
    )
    return station_m[segment] + free, offset, distance


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
    """
    along = None if heading is None else tangents(x, y)
    out = np.empty((3, len(px)))
    for first in range(0, len(px), AT_ONCE):
        part = slice(first, first + AT_ONCE)
        centre = np.searchsorted(station_m, near_m[part], side="right") - 1
        window = np.clip(centre[:, None] + np.arange(-half_width, half_width + 2), 0, len(x) - 1)
        squared = (x[window] - px[part, None]) ** 2 + (y[window] - py[part, None]) ** 2
        squared += (NEARNESS * (station_m[window] - near_m[part, None])) ** 2
        if heading is not None and along is not None:
            forward = heading[0][part, None] * along[0][window] + heading[1][part, None] * along[1][window]
            squared += (AGAINST_M * np.minimum(forward, 0.0)) ** 2
        nearest = window[np.arange(len(window)), np.argmin(squared, axis=1)]
        out[:, part] = project_at_vertex(px[part], py[part], nearest, x, y, station_m)
    return out[0], out[1], out[2]


def project_at_vertex(
    px: Floats, py: Floats, vertex: Ints, x: Floats, y: Floats, station_m: Floats
) -> tuple[Floats, Floats, Floats]:
    """Project points onto the nearer of the two segments that meet at a vertex each, shape (P,)."""
    last = len(x) - 2
    segment = np.stack([np.clip(vertex - 1, 0, last), np.clip(vertex, 0, last)])
    station, offset, distance = project_onto_segments(px, py, x, y, station_m, segment)
    best, point = np.argmin(distance, axis=0), np.arange(len(px))
    return station[best, point], offset[best, point], distance[best, point]
