"""The map of a still: route, traces, stations and places, drawn in metres around the centre of a shot."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.film.canvas import (
    DOTS,
    FAINT,
    HEIGHT,
    MANY_TRACES,
    MAP,
    PX,
    RIBBON,
    RING,
    ROUTE,
    WIDTH,
    Ground,
    aim,
    bridged,
    dash,
    gap_line,
    is_close,
    metres_per_px,
    ribbon_lines,
    seen,
    trace_px,
)
from trackspread.film.storyboard import Path, Scene, Shot
from trackspread.report import style
from trackspread.report.drawing import Axes, Figure, LineCollection
from trackspread.results.rounding import kilometres

Box = tuple[float, float, float, float]
"""Left, bottom, right and top, metres in the frame."""
WORDS = 29 * PX  # points, size of the names of stations and places
BESIDE_LINE_PX, MARK_PX, MARK_WORDS_PX = 14, 22, 31
"""From the line to the tick of a station; its length; from its foot to the words."""
MARK_LETTER_PX, MARK_LETTERS_PX, MARK_LINE_PX = 18, 16, 36
"""Width of a letter, what all of them need beside that, and the height of a line; generous."""
MARK_STEPS_M = (500.0, 1000.0, 2000.0, 5000.0, 10_000.0, 50_000.0, 1e9)  # m, the first that is coarse enough
MOST_STATIONS_MARKED = 6  # steps of the marks along a route
LEAST_END = 0.6  # of a step, from the last mark to the end
COVERED = 1000
"""What other words in the way count, beside the points of the line in the way."""
NEAR_MARK_M, NEAR_MARK_PX = 12.0, 30
"""Traces this near along the line push the name of a station aside: metres, but at least so many pixels."""
MOST_ASIDE = 0.45  # of the half height, how far they push it at most


def map_axes(figure: Figure) -> Axes:
    """Return axes over the map's part of the picture, without frame.

    Parameters
    ----------
    figure : Figure

    Returns
    -------
    Axes
        `MAP` of the picture.
    """
    left, top, width, height = MAP
    axes = figure.add_axes((left / WIDTH, 1 - (top + height) / HEIGHT, width / WIDTH, height / HEIGHT))
    axes.set_axis_off()
    return axes


def draw_ground(axes: Axes, scene: Scene, shot: Shot, ground: Ground) -> None:
    """Draw the route and, close by, its traces, and mark the stations of the shot.

    Parameters
    ----------
    axes : Axes
        Those of `map_axes`; they are aimed at the shot.
    scene : Scene
    shot : Shot
    ground : Ground
    """
    aim(axes, shot.half_width_m)
    x, y = seen(shot, scene.x_m, scene.y_m)
    axes.plot(x, y, color=ground.colour("rule"), linewidth=ROUTE, zorder=1)
    if is_close(shot):
        for row, path in enumerate(scene.paths):
            _trace(axes, path, shot, ground, len(scene.paths), full=shot.row in (-1, row))
        if shot.row >= 0:
            _missing(axes, scene, shot, ground)
    else:
        inside = (scene.station_m >= shot.from_m) & (scene.station_m <= shot.to_m)
        _ribbon(axes, x[inside], y[inside], scene.spread_class[inside], ground)
    _stations(axes, scene, shot, ground)
    _places(axes, scene, shot, ground)


def _ribbon(axes: Axes, x: m.Floats, y: m.Floats, classes: m.Ints, ground: Ground) -> None:
    """Draw the centreline in the colours of its spread."""
    axes.plot(x, y, color=ground.colour("paper"), linewidth=24 * PX, zorder=2)
    colours = [ground.spread(int(number)) for number in classes[:-1]]
    lines = LineCollection(ribbon_lines(x, y), colors=colours, linewidths=RIBBON, capstyle="round", zorder=3)
    axes.add_collection(lines, autolim=False)


def _missing(axes: Axes, scene: Scene, shot: Shot, ground: Ground) -> None:
    """Draw what is missing as dots, and a ring where the trace begins."""
    x, y = seen(shot, *gap_line(scene, shot))
    colour = ground.colour("warn")
    axes.plot(x, y, color=colour, zorder=6, **DOTS)
    axes.plot(x[-1:], y[-1:], color=colour, zorder=6, **RING)


def _trace(axes: Axes, path: Path, shot: Shot, ground: Ground, count: int, full: bool = True) -> None:
    """Draw one trace: full within the place, faint outside; not ``full``: faint everywhere."""
    (colours, pattern) = style.receiver_look(path.look)
    colour, width = colours[ground.dark], trace_px(count)
    alpha = 0.9 if count <= MANY_TRACES else 0.5
    x, y = seen(shot, path.x_m, path.y_m)
    with np.errstate(invalid="ignore"):
        inside = (path.station_m >= shot.from_m) & (path.station_m <= shot.to_m)
    inside = bridged(inside, np.isfinite(path.station_m))
    within_x, within_y = (np.where(inside, values, np.nan) for values in (x, y))
    faint: Any = {"color": colour, "zorder": 3}
    strong: Any = {"color": colour, "zorder": 4, "linestyle": dash(pattern, width)}
    for number in np.unique(path.piece):
        here = path.piece == number
        if not full:
            axes.plot(x[here], y[here], linewidth=FAINT, alpha=0.3, **faint)
            continue
        axes.plot(x[here], y[here], linewidth=width * PX, alpha=0.2, **faint)
        axes.plot(within_x[here], within_y[here], linewidth=width * PX, alpha=alpha, **strong)


# --- stations ----------------------------------------------------------------------------------------


def _stations(axes: Axes, scene: Scene, shot: Shot, ground: Ground) -> None:
    """Mark the ends of the shot and, on the whole route, round stations, beside all that is drawn there."""
    x, y = seen(shot, scene.x_m, scene.y_m)
    px, close = metres_per_px(shot), is_close(shot)
    taken: list[Box] = []
    for number, at in enumerate(_marks(shot)):
        foot, across = _foot(scene, x, y, at)
        words = kilometres(round(at)) if round(at) else "0"
        aside = _reach_m(scene, shot, at, foot, across) if close else 0.0
        reach = BESIDE_LINE_PX * px + aside
        sides = [across] if close else [across, -across]
        boxes = [_box(foot + side * (reach + MARK_WORDS_PX * px), side, words, px) for side in sides]
        covered = [_covered(box, taken, x, y) for box in boxes]
        best = int(np.argmin(covered))
        is_end = number < 2
        if not is_end and covered[best] >= COVERED:
            continue
        taken.append(boxes[best])
        _mark(axes, foot, sides[best], reach, px, words, ground)


def _places(axes: Axes, scene: Scene, shot: Shot, ground: Ground) -> None:
    """Write the user's named places beside the line, on the side away from the stations."""
    x, y = seen(shot, scene.x_m, scene.y_m)
    px = metres_per_px(shot)
    for station, name in scene.places:
        if not shot.from_m <= station <= shot.to_m:
            continue
        foot, across = _foot(scene, x, y, station)
        axes.plot(*foot, "o", color=ground.colour("ink"), markersize=9 * PX, zorder=6)
        _words(axes, foot - across * 34 * px, -across, name, ground, zorder=7, style="italic")


def _foot(scene: Scene, x: m.Floats, y: m.Floats, at_m: float) -> tuple[m.Floats, m.Floats]:
    """Return the point of the line at a station, and the unit vector across the line there."""
    i = min(int(np.searchsorted(scene.station_m, at_m)), len(x) - 1)
    return np.array([x[i], y[i]]), _across(x, y, i)


def _marks(shot: Shot) -> list[float]:
    """Return the stations to mark, metres, the ends first."""
    ends = [shot.from_m, shot.to_m]
    if shot.kind != "whole":
        return ends
    step = next(step for step in MARK_STEPS_M if shot.to_m / step <= MOST_STATIONS_MARKED)
    between = np.arange(step, shot.to_m, step)
    return [*ends, *between[shot.to_m - between > LEAST_END * step].tolist()]


def _mark(
    axes: Axes, foot: m.Floats, across: m.Floats, reach: float, px: float, words: str, ground: Ground
) -> None:
    """Draw a tick across the line from ``reach`` on, and the words beyond it."""
    ends = np.stack([foot + across * reach, foot + across * (reach + MARK_PX * px)], axis=1)
    axes.plot(*ends, color=ground.colour("ink"), linewidth=3 * PX, zorder=5, clip_on=False)
    _words(axes, foot + across * (reach + MARK_WORDS_PX * px), across, words, ground, zorder=6)


def _words(axes: Axes, place: m.Floats, across: m.Floats, text: str, ground: Ground, **more: Any) -> None:
    """Write beside the line, so that the words begin at a place and run away from the line."""
    beside, above = _beside(float(across[0])), _above(float(across[1]))
    axes.text(
        float(place[0]), float(place[1]), text, fontsize=WORDS, color=ground.colour("ink"),
        ha=beside, va=above, path_effects=ground.halo(), clip_on=False, **more,
    )  # fmt: skip


def _box(place: m.Floats, across: m.Floats, words: str, px: float) -> Box:
    """Return the box of words that are written at a place."""
    wide, high = (MARK_LETTER_PX * len(words) + MARK_LETTERS_PX) * px, MARK_LINE_PX * px
    aside = {"left": 0.0, "center": -wide / 2, "right": -wide}[_beside(float(across[0]))]
    below = {"bottom": 0.0, "center": -high / 2, "top": -high}[_above(float(across[1]))]
    left, bottom = aside + float(place[0]), below + float(place[1])
    return left, bottom, left + wide, bottom + high


def _covered(box: Box, taken: list[Box], x: m.Floats, y: m.Floats) -> int:
    """Return how much is in the way of words: other words, and points of the line."""
    return COVERED * sum(_overlap(box, other) for other in taken) + _inside(box, x, y)


def _overlap(a: Box, b: Box) -> bool:
    across = a[0] < b[2] and b[0] < a[2]
    upwards = a[1] < b[3] and b[1] < a[3]
    return across and upwards


def _inside(box: Box, x: m.Floats, y: m.Floats) -> int:
    """Return how many points lie in a box."""
    left, bottom, right, top = box
    across = (x > left) & (x < right)
    upwards = (y > bottom) & (y < top)
    return int((across & upwards).sum())


def _across(x: m.Floats, y: m.Floats, i: int) -> m.Floats:
    """Return the unit vector across the line at a station, the one that points up."""
    a, b = max(0, i - 3), min(len(x) - 1, i + 3)
    across = np.array([-(y[b] - y[a]), x[b] - x[a]])
    across /= max(math.hypot(*across), 1e-9)
    return across if across[1] >= 0 else -across


def _reach_m(scene: Scene, shot: Shot, at_m: float, foot_m: m.Floats, across: m.Floats) -> float:
    """Return how far the traces reach to this side near a station."""
    reach, near_m = 0.0, max(NEAR_MARK_M, NEAR_MARK_PX * metres_per_px(shot))
    for path in scene.paths:
        with np.errstate(invalid="ignore"):
            near = np.abs(path.station_m - at_m) <= near_m
        x, y = seen(shot, path.x_m[near], path.y_m[near])
        if len(x):
            aside = (x - foot_m[0]) * across[0] + (y - foot_m[1]) * across[1]
            reach = max(reach, float(aside.max()))
    return min(reach, MOST_ASIDE * shot.half_height_m)


def _beside(across_x: float) -> str:
    return "center" if abs(across_x) < 0.45 else "left" if across_x > 0 else "right"


def _above(across_y: float) -> str:
    return "bottom" if across_y > 0.4 else "top" if across_y < -0.4 else "center"
