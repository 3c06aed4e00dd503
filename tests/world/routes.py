"""Route shapes as lines in the plane, metres, rounded as a rider rounds corners."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Rng = np.random.Generator


@dataclass(frozen=True, kw_only=True, eq=False)
class Route:
    """A line: ``station_m`` (S,) runs evenly (about 1 m) along ``east_m``, ``north_m`` (S,)."""

    station_m: Floats
    east_m: Floats
    north_m: Floats

    @property
    def length_m(self) -> float:
        return float(self.station_m[-1])

    def reversed(self) -> Route:
        """Return the same line travelled the other way."""
        return route_along(np.stack([self.east_m, self.north_m], axis=1)[::-1])

    def at(self, station_m: Floats) -> Floats:
        """Return points (…, 2) at stations."""
        return np.stack(
            [
                np.interp(station_m, self.station_m, self.east_m),
                np.interp(station_m, self.station_m, self.north_m),
            ],
            axis=-1,
        )

    def direction(self, station_m: Floats) -> Floats:
        """Return unit vectors (…, 2) of travel at stations, over two metres of line."""
        low = np.clip(np.asarray(station_m) - 1, 0, self.length_m - 2)
        step = self.at(low + 2) - self.at(low)
        return step / np.linalg.norm(step, axis=-1, keepdims=True)

    def right(self, station_m: Floats) -> Floats:
        """Return unit vectors (…, 2) to the right of travel."""
        forward = self.direction(station_m)
        return np.stack([forward[..., 1], -forward[..., 0]], axis=-1)

    def bend(self) -> Floats:
        """Return the curvature (S,), 1/m, absolute, over four metres of line."""
        forward = self.direction(self.station_m)
        turn = np.linalg.norm(np.roll(forward, -2, axis=0) - np.roll(forward, 2, axis=0), axis=1) / 4
        turn[:2] = turn[-2:] = 0
        return turn


def route_along(points: Floats, step_m: float = 1.0) -> Route:
    """Return the line through ``points`` (P, 2) with stations every ``step_m`` or a little less."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    station = np.linspace(0, along[-1], int(np.ceil(along[-1] / step_m)) + 1)
    east, north = (np.interp(station, along, points[:, axis]) for axis in (0, 1))
    return Route(station_m=station, east_m=east, north_m=north)


def rounded(corners: Floats, radius_m: Floats | float) -> Route:
    """Return the line through ``corners`` (C, 2), each replaced by an arc of ``radius_m`` (0 = sharp)."""
    corners = np.asarray(corners, float)
    radii = np.broadcast_to(np.asarray(radius_m, float), (len(corners),))
    pieces = [corners[:1]]
    for k in range(1, len(corners) - 1):
        pieces.append(_arc(corners[k - 1], corners[k], corners[k + 1], radii[k]))
    return route_along(np.concatenate([*pieces, corners[-1:]]))


def _arc(before: Floats, corner: Floats, after: Floats, radius_m: float) -> Floats:
    leg_in, leg_out = corner - before, after - corner
    len_in, len_out = np.linalg.norm(leg_in), np.linalg.norm(leg_out)
    u, v = leg_in / len_in, leg_out / len_out
    turn = np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v)
    if radius_m == 0 or abs(turn) < 1e-6 or abs(turn) > 3.1:
        return corner[None]
    tangent = min(radius_m * np.tan(abs(turn) / 2), 0.48 * len_in, 0.48 * len_out)
    radius = tangent / np.tan(abs(turn) / 2)
    centre = corner - tangent * u + np.sign(turn) * radius * np.array([-u[1], u[0]])
    spoke = corner - tangent * u - centre
    angle = np.linspace(0, turn, max(3, int(abs(turn) * radius / 0.25)))
    cos, sin = np.cos(angle), np.sin(angle)
    return centre + np.stack([cos * spoke[0] - sin * spoke[1], sin * spoke[0] + cos * spoke[1]], axis=1)


def _radii(rng: Rng, count: int, sharp: bool) -> Floats:
    return np.zeros(count) if sharp else rng.uniform(4.0, 8.0, count)


def straight(rng: Rng, length_m: float, sharp: bool) -> Route:
    """One straight line."""
    return route_along(np.array([[0.0, 0.0], [length_m, 0.0]]))


def city(rng: Rng, length_m: float, sharp: bool) -> Route:
    """Right angles between small blocks of 60 to 140 m, eastward on the whole."""
    corners, left = [np.zeros(2)], length_m
    eastward = True
    while left > 0:
        block = rng.uniform(60, 140)
        heading = np.array([1.0, 0.0]) if eastward else np.array([0.0, rng.choice([-1.0, 1.0])])
        corners.append(corners[-1] + heading * block)
        left -= block
        eastward = not eastward
    return rounded(np.array(corners), _radii(rng, len(corners), sharp))


def winding(rng: Rng, length_m: float, sharp: bool) -> Route:
    """A country road: its heading sways by up to 75 degrees, bends of 25 m radius and more."""
    station = np.arange(0, length_m + 1)
    sway = sum(
        weight * np.sin(2 * np.pi * station / wave + rng.uniform(0, 2 * np.pi))
        for weight, wave in (
            (0.55, rng.uniform(700, 1100)),
            (0.45, rng.uniform(260, 420)),
            (0.3, rng.uniform(120, 170)),
        )
    )
    return route_along(np.cumsum(np.stack([np.cos(sway), np.sin(sway)], axis=1), axis=0))


def loop(rng: Rng, length_m: float, sharp: bool) -> Route:
    """Closed: ends where it started, on the middle of a side of an irregular hexagon."""
    angle = np.radians(np.arange(0, 360, 60) + rng.uniform(-12, 12, 6))
    hexagon = rng.uniform(0.85, 1.15, (6, 1)) * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    start = (hexagon[0] + hexagon[-1]) / 2
    corners = np.concatenate([[start], hexagon, [start]])
    around = np.linalg.norm(np.diff(corners, axis=0), axis=1).sum()
    return rounded(corners * length_m / around, _radii(rng, 8, sharp) * 3)


def figure_of_eight(rng: Rng, length_m: float, sharp: bool) -> Route:
    """A lemniscate (Gerono) that crosses itself at its middle; it starts at the end of a lobe."""
    phase = np.linspace(0, 2 * np.pi, 4001) + np.pi / 2 + 0.2
    curve = np.stack([np.sin(phase), np.sin(phase) * np.cos(phase)], axis=1)
    return route_along(curve * length_m / np.linalg.norm(np.diff(curve, axis=0), axis=1).sum())


def spur(rng: Rng, length_m: float, sharp: bool) -> Route:
    """A road with a side road ridden out and back on its other side, legs 3 m apart."""
    side = rng.choice([-1.0, 1.0])
    a, d = length_m * 0.35, length_m * 0.15
    corners = np.array([[0, 0], [a, 0], [a, side * d], [a + 3, side * d], [a + 3, 0], [2 * a + 3, 0]])
    radii = _radii(rng, 6, sharp)
    radii[2:4] = 0 if sharp else 1.5
    return rounded(corners, radii)


def hairpins(rng: Rng, length_m: float, sharp: bool, apart_m: float = 18.0) -> Route:
    """A climb by legs ``apart_m`` apart, each turn a half circle (or a square one)."""
    legs = max(3, round(length_m / 260))
    across = length_m / legs
    corners = []
    for leg in range(legs):
        ends = [[0.0, leg * apart_m], [across, leg * apart_m]]
        corners += ends if leg % 2 == 0 else ends[::-1]
    return rounded(np.array(corners), 0.0 if sharp else apart_m * 0.48)


def crossing(rng: Rng, length_m: float, sharp: bool) -> Route:
    """A road that loops and crosses itself at a right angle, once."""
    a, b = length_m * 0.3, length_m * 0.125
    corners = np.array([[0, 0], [a + b, 0], [a + b, b], [a, b], [a, -(length_m - a - 4 * b)]])
    return rounded(corners, _radii(rng, 5, sharp) * 2)


SHAPES: dict[str, Callable[[Rng, float, bool], Route]] = {
    "straight": straight,
    "city": city,
    "winding": winding,
    "loop": loop,
    "figure of eight": figure_of_eight,
    "spur": spur,
    "hairpins": hairpins,
    "crossing": crossing,
}
