"""Sets of sparse lines without times whose truth is known, and the plain pointwise mean of such lines."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.consensus.centreline import centreline
from trackspread.geometry.points import join, prepare
from trackspread.geometry.polyline import cumulative_length, resample

Floats = np.ndarray
Polyline = tuple[Floats, Floats]


def way(rng: np.random.Generator, scale_m: float) -> tuple[Floats, Floats, Floats]:
    """Return a straight, bent, winding or cornered way, known 20 % beyond both ends."""
    at = np.linspace(-0.2 * scale_m, 1.2 * scale_m, 281)
    turn = {
        "straight": 0.0 * at,
        "arc": rng.uniform(0.5, 2.5) * at / scale_m,
        "winding": rng.uniform(0.4, 1.2) * np.sin(2 * np.pi * at / scale_m),
        "corner": rng.uniform(0.6, 1.6) * np.tanh((at - scale_m * rng.uniform(0.3, 0.7)) / (0.04 * scale_m)),
    }[rng.choice(["straight", "arc", "winding", "corner"])]
    heading = turn + rng.uniform(0, 2 * np.pi)
    step = (at[1] - at[0]) * np.stack([np.cos(heading), np.sin(heading)])
    return at, *np.concatenate([np.zeros((2, 1)), np.cumsum(step[:, 1:], axis=1)], axis=1)


def drawn(rng: np.random.Generator, scale_m: float, count: int) -> tuple[list[Polyline], Polyline]:
    """Return lines of 3 to 12 points of either direction, and the truth.

    Points err by 1.5 to 5 % of the scale; both ends of a line lie up to 10 % before or behind those of the truth.
    """
    at, x, y = way(rng, scale_m)
    noise_m = scale_m * rng.uniform(0.015, 0.05)
    lines = []
    for _ in range(count):
        first, last = rng.uniform(-0.1, 0.1) * scale_m, rng.uniform(0.9, 1.1) * scale_m
        points = int(rng.integers(3, 13))
        where = np.sort(np.concatenate([[first, last], rng.uniform(first, last, points - 2)]))
        line = np.stack([np.interp(where, at, c) for c in (x, y)]) + rng.normal(0.0, noise_m, (2, points))
        lines.append(tuple(line[:, :: rng.choice([-1, 1])]))
    inside = (at >= 0.0) & (at <= scale_m)
    return lines, (x[inside], y[inside])


def aligned(lines: list[Polyline]) -> list[Polyline]:
    """Return the lines in the direction of the first, by their ends."""
    ends = [np.array([[x[0], y[0]], [x[-1], y[-1]]]) for x, y in lines]
    turn = [np.abs(e - ends[0]).sum() > np.abs(e[::-1] - ends[0]).sum() for e in ends]
    return [(x[::-1], y[::-1]) if back else (x, y) for (x, y), back in zip(lines, turn, strict=True)]


def mean_line(lines: list[Polyline], points: int = 101) -> Polyline:
    """Return the plain pointwise mean: points at even shares of each line's length, averaged."""
    even = [resample(x, y, cumulative_length(x, y)[-1] / (points - 1)) for x, y in lines]
    return tuple(np.mean(even, axis=0))


def line_of_points(lines: list[Polyline], scale_m: float) -> Polyline:
    """Return the consensus; a trace counts within 30 % of the scale, and whatever way it makes in one step."""
    far, reach = 3.0 * scale_m, max(60.0, 0.3 * scale_m)
    parts = [
        prepare(x, y, np.full(len(x), np.nan), np.zeros(len(x), bool), far)
        for x, y in (np.array(line) for line in lines)
    ]
    line, _ = centreline(join(parts), step_m=min(5.0, scale_m / 50), reach_m=reach, gap_m=far)
    return line.x, line.y


def distance_m(one: Polyline, other: Polyline) -> float:
    """Return the mean distance of two lines, both ways."""
    a, b = (np.column_stack(resample(*c, cumulative_length(*c)[-1] / 400)) for c in (one, other))
    return float(0.5 * (cKDTree(a).query(b)[0].mean() + cKDTree(b).query(a)[0].mean()))
