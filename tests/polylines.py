"""Simple polylines, bundles of points and their noise, for the tests of core and statistics."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle, join, prepare
from trackspread.noise.correlation import Correlation
from world import Recording, World

Floats = NDArray[np.float64]

SHAPES: dict[str, list[tuple[float, float]]] = {
    "straight": [(0, 0), (400, 0)],
    "corner": [(0, 0), (200, 0), (200, 200)],
    "hairpin": [(0, 0), (300, 0), (300, 18), (0, 18), (0, 36), (300, 36)],
    "crossing": [(0, 0), (300, 0), (300, 150), (150, 150), (150, -200)],
    "spur": [(0, 0), (200, 0), (200, 120), (203, 120), (203, 0), (400, 0)],
}


def along(corners: Sequence[tuple[float, float]], step_m: float = 5.0, right_m: float = 0.0) -> Floats:
    """Return points (P, 2) at even steps along a polyline, each moved to the right of its own leg."""
    points = np.asarray(corners, float)
    pieces = []
    for a, b in itertools.pairwise(points):
        length = float(np.hypot(*(b - a)))
        share = np.arange(0.0, length - 1e-9, step_m) / length
        aside = right_m * np.array([b[1] - a[1], a[0] - b[0]]) / length
        pieces.append(a + share[:, None] * (b - a) + aside)
    return np.concatenate([*pieces, points[-1:] + aside])


def line_of(points: Floats) -> Line:
    """Return a line with a vertex at every point."""
    x, y = np.asarray(points, float).T
    steps = np.hypot(np.diff(x), np.diff(y))
    return Line(x=x, y=y, station_m=np.concatenate([[0.0], np.cumsum(steps)]))


def bundle_of(traces: Sequence[Floats], gap_m: float = 80.0, every_s: float = 1.0) -> Bundle:
    """Return a bundle of traces (P, 2), a point every ``every_s`` seconds, gaps where steps are long."""
    parts = []
    for points in traces:
        x, y = np.asarray(points, float).T
        step = np.hypot(np.diff(x, prepend=x[:1]), np.diff(y, prepend=y[:1]))
        parts.append((x.copy(), y.copy(), every_s * np.arange(len(x), dtype=float), step > gap_m))
    return join(parts)


def true_line(world: World, step_m: float = 5.0) -> Line:
    """Return the true line of a simulated world."""
    count = round(world.route.length_m / step_m)
    return line_of(world.route.at(np.linspace(0.0, world.route.length_m, count + 1)))


def plane(world: World, recording: Recording) -> Floats:
    """Return the points of a recording in the world's plane, shape (P, 2)."""
    return np.stack(world.globe.to_plane(recording.lon_deg, recording.lat_deg), axis=1)


def world_bundle(world: World, gap_m: float = 80.0) -> Bundle:
    """Return the recordings of a world in its plane, made ready as the pipeline does."""
    parts = []
    for recording in world.recordings:
        x, y = plane(world, recording).T
        none = np.zeros(len(x), dtype=bool)
        parts.append(prepare(x, y, recording.time_s, none, gap_m))
    return join(parts)


def true_stations(world: World, bundle: Bundle) -> list[Floats]:
    """Return the true station of every point of each trace of `world_bundle`."""
    pairs = enumerate(world.recordings)
    return [np.interp(bundle.time_s[bundle.of(k)], r.time_s, r.true_station_m) for k, r in pairs]


def turned(points: Floats, angle_rad: float, shift: tuple[float, float] = (0.0, 0.0)) -> Floats:
    """Return points turned about the origin, then shifted."""
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    return np.asarray(points @ np.array([[cos, sin], [-sin, cos]]) + np.asarray(shift))


def exponential(size: int, step_m: float, length_m: float, heading_rad: Floats | None = None) -> Correlation:
    """Return the correlation exp(-distance / length) of errors fixed to the earth."""
    heading = np.zeros(size) if heading_rad is None else heading_rad
    by_lag = np.exp(-step_m * np.arange(size) / length_m)
    return Correlation(by_lag=by_lag, heading_rad=heading, turning=True, step_m=step_m)


def gauss_markov(rng: np.random.Generator, rows: int, size: int, step_m: float, length_m: float) -> Floats:
    """Return rows of a stationary first-order Gauss-Markov process of unit variance, shape (rows, size)."""
    keep = np.exp(-step_m / length_m)
    out = rng.standard_normal((rows, size))
    for k in range(1, size):
        out[:, k] = keep * out[:, k - 1] + np.sqrt(1.0 - keep**2) * out[:, k]
    return out


def with_knot(points: np.ndarray, at: int, radius_m: float) -> np.ndarray:
    turn = np.linspace(-np.pi / 2, 1.5 * np.pi, 30)
    knot = points[at] + radius_m * np.stack([np.cos(turn), 1.0 + np.sin(turn)], axis=1)
    return np.concatenate([points[:at], knot, points[at:]])


def sharpest_turn(line: Line) -> float:
    """Return by how much a line turns within 50 m, at most, radians."""
    heading = np.unwrap(np.arctan2(np.diff(line.y), np.diff(line.x)))
    return float(np.abs(heading[10:] - heading[:-10]).max())


def away_by_shapely(way: shapely.LineString, x: float) -> float:
    """Distance of (x, 0) on a line along y = 0 to a way: across it, or to its nearest place where that is less
    than half as far or the way passes x nowhere."""
    here = shapely.Point(x, 0.0)
    near = way.distance(here)
    passed = way.intersection(shapely.LineString([(x, -500.0), (x, 500.0)]))
    across = near if passed.is_empty else passed.hausdorff_distance(here)
    return across if across <= 2.0 * near else near
