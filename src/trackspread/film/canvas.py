"""The ground of a picture: route, traces and stations, drawn in metres around the centre of a shot."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.film.framing import turned
from trackspread.film.storyboard import Path, Scene, Shot
from trackspread.report import style
from trackspread.report.drawing import AbstractPathEffect, Axes, Figure, LineCollection, withStroke
from trackspread.results.rounding import kilometres

WIDTH, HEIGHT = 1920, 1080  # px, high definition (ITU-R BT.709)
LEFT, TOP = 96, 54  # px left free
MAP = (0, 292, WIDTH, 584)
"""Left, top, width and height of the map, in pixels of the small size."""
SAFE_WIDTH = WIDTH - 2 * LEFT
ASPECT = SAFE_WIDTH / MAP[3]
CLOSE_M_PER_PX = 0.8
"""Closer than this the single traces are drawn, and the ribbon of the spread farther away."""
MANY_TRACES = 12  # traces, more are drawn thinner
PX = 72 / 100
"""Points in a pixel of the small size."""
Dash = tuple[float, tuple[float, ...]] | str
Box = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ground:
    """What stands behind the picture: ``dark`` or light, painted or ``transparent``."""

    dark: bool = False
    transparent: bool = False

    def colour(self, name: str) -> str:
        """Return a colour of the design sheet."""
        return style.COLOURS[name][self.dark]

    def halo(self, width: float = 6.0) -> list[AbstractPathEffect]:
        """Return the edge in the colour of the ground that keeps lines and words apart."""
        return [withStroke(linewidth=width * PX, foreground=self.colour("paper"))]

    def spread(self, number: int) -> str:
        """Return the colour of a class of the spread scale; grey where the spread is not known."""
        return self.colour("thin") if number < 0 else style.SPREAD_SCALE[number][self.dark]


def metres_per_px(shot: Shot) -> float:
    """Return the scale of a still of the small size (`WIDTH` by `HEIGHT`).

    Parameters
    ----------
    shot : Shot

    Returns
    -------
    float
        Metres a pixel.
    """
    return 2 * shot.half_width_m / SAFE_WIDTH


def is_close(shot: Shot) -> bool:
    """Return whether the single traces can be told apart in this frame.

    Parameters
    ----------
    shot : Shot

    Returns
    -------
    bool
    """
    return shot.kind == "fix" or (shot.kind != "whole" and metres_per_px(shot) <= CLOSE_M_PER_PX)


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


def aim(axes: Axes, half_width_m: float) -> None:
    """Let the safe width of the axes show as much to either side of the origin.

    Parameters
    ----------
    axes : Axes
    half_width_m : float
        Metres from the middle to the edge of the safe width.
    """
    across = half_width_m * MAP[2] / SAFE_WIDTH
    axes.set_xlim(-across, across)
    axes.set_ylim(-across * MAP[3] / MAP[2], across * MAP[3] / MAP[2])


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
    axes.plot(x, y, color=ground.colour("rule"), linewidth=7 * PX, zorder=1)
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


def seen(shot: Shot, x_m: m.Floats, y_m: m.Floats) -> tuple[m.Floats, m.Floats]:
    """Return ground coordinates as seen in the frame, metres from its centre.

    Parameters
    ----------
    shot : Shot
    x_m, y_m : ndarray, shape (P,)
        East and north on the scene's flat ground, metres.

    Returns
    -------
    tuple of ndarray, shape (P,)
        To the right and up in the frame, metres.
    """
    return turned(x_m - shot.centre_m[0], y_m - shot.centre_m[1], shot.turn_rad)


def ribbon_lines(x_m: m.Floats, y_m: m.Floats) -> list[m.Floats]:
    """Return the steps of a line, each from a station to the next.

    Parameters
    ----------
    x_m, y_m : ndarray, shape (S,)
        Metres.

    Returns
    -------
    list of ndarray, shape (2, 2)
        S - 1 steps, start and end.
    """
    ends = np.column_stack([x_m, y_m])
    return list(np.stack([ends[:-1], ends[1:]], axis=1))


def _ribbon(axes: Axes, x: m.Floats, y: m.Floats, classes: m.Ints, ground: Ground) -> None:
    """Draw the centreline in the colours of its spread."""
    axes.plot(x, y, color=ground.colour("paper"), linewidth=24 * PX, zorder=2)
    colours = [ground.spread(int(number)) for number in classes[:-1]]
    lines = LineCollection(ribbon_lines(x, y), colors=colours, linewidths=15 * PX, capstyle="round", zorder=3)
    axes.add_collection(lines, autolim=False)


def gap_line(scene: Scene, shot: Shot) -> tuple[m.Floats, m.Floats]:
    """Return the piece of the line over which the trace of a first fix logged nothing; of others none.

    Parameters
    ----------
    scene : Scene
    shot : Shot

    Returns
    -------
    tuple of ndarray
        East and north on the scene's flat ground, metres.
    """
    here = (shot.row >= 0) & (scene.station_m >= shot.gap_m[0]) & (scene.station_m <= shot.gap_m[1])
    return scene.x_m[here], scene.y_m[here]


def _missing(axes: Axes, scene: Scene, shot: Shot, ground: Ground) -> None:
    """Draw what is missing as dots, and a ring where the trace begins."""
    x, y = seen(shot, *gap_line(scene, shot))
    look: Any = {"color": ground.colour("warn"), "zorder": 6}
    axes.plot(x, y, linewidth=9 * PX, linestyle=(0, (0.1, 2.0)), dash_capstyle="round", **look)
    axes.plot(x[-1:], y[-1:], "o", markersize=34 * PX, markerfacecolor="none", markeredgewidth=6 * PX, **look)


def _trace(axes: Axes, path: Path, shot: Shot, ground: Ground, count: int, full: bool = True) -> None:
    """Draw one trace: full within the place, faint outside; not ``full``: faint everywhere."""
    (colours, pattern) = style.receiver_look(path.look)
    colour = colours[ground.dark]
    x, y = seen(shot, path.x_m, path.y_m)
    with np.errstate(invalid="ignore"):
        inside = (path.station_m >= shot.from_m) & (path.station_m <= shot.to_m)
    inside = bridged(inside, np.isfinite(path.station_m))
    width = 5.0 if count <= MANY_TRACES else 2.5
    for number in np.unique(path.piece):
        here = path.piece == number
        if not full:
            axes.plot(x[here], y[here], color=colour, linewidth=2.5 * PX, alpha=0.3, zorder=3)
            continue
        axes.plot(x[here], y[here], color=colour, linewidth=width * PX, alpha=0.2, zorder=3)
        within = [np.where(inside, values, np.nan)[here] for values in (x, y)]
        axes.plot(
            *within, color=colour, linewidth=width * PX, alpha=0.9 if count <= MANY_TRACES else 0.5,
            linestyle=dash(pattern, width), zorder=4,
        )  # fmt: skip


def bridged(inside: m.Bools, known: m.Bools) -> m.Bools:
    """Return ``inside`` with the points away from the line taken in where both neighbours on it are.

    Parameters
    ----------
    inside : ndarray of bool, shape (P,)
        Points of a trace within the place.
    known : ndarray of bool, shape (P,)
        Points on the line; only these have a station.

    Returns
    -------
    ndarray of bool, shape (P,)

    Examples
    --------
    >>> inside = np.array([False, True, False, True, False])
    >>> bridged(inside, np.array([True, True, False, True, True]))
    array([False,  True,  True,  True, False])
    """
    at = np.flatnonzero(known)
    if not len(at):
        return inside
    order = np.arange(len(inside))
    before = np.searchsorted(at, order, side="right") - 1
    after = np.minimum(np.searchsorted(at, order), len(at) - 1)
    return np.asarray((before >= 0) & inside[at[np.maximum(before, 0)]] & inside[at[after]])


def dash(pattern: str, width: float) -> Dash:
    """Return a dash of the design sheet for a line of some width; dashes keep their length in pixels.

    Parameters
    ----------
    pattern : str
        Dash and gap by turns, in the units of the sheet; ``""`` is a full line.
    width : float
        Of the line, pixels.

    Returns
    -------
    tuple or str
        A line style of the drawing library, in widths of the line.
    """
    parts = tuple(float(part) * 3.6 / width for part in pattern.split())
    return (0, parts) if parts else "solid"


# --- stations ----------------------------------------------------------------------------------------


def _stations(axes: Axes, scene: Scene, shot: Shot, ground: Ground) -> None:
    """Mark the ends of the shot and, on the whole route, round stations, beside all that is drawn there."""
    x, y = seen(shot, scene.x_m, scene.y_m)
    px = metres_per_px(shot)
    taken: list[Box] = []
    for number, at in enumerate(_marks(shot)):
        i = min(int(np.searchsorted(scene.station_m, at)), len(x) - 1)
        foot, across = np.array([x[i], y[i]]), _across(x, y, i)
        words = kilometres(round(at)) if round(at) else "0"
        reach = 14 * px + (_reach_m(scene, shot, at, foot, across) if is_close(shot) else 0.0)
        sides = [across] if is_close(shot) else [across, -across]
        boxes = [_box(foot + side * (reach + 31 * px), side, words, px) for side in sides]
        covered = [sum(_overlap(box, other) for other in taken) * 1000 + _inside(box, x, y) for box in boxes]
        best = int(np.argmin(covered))
        if number >= 2 and covered[best] >= 1000:
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
        i = min(int(np.searchsorted(scene.station_m, station)), len(x) - 1)
        foot, across = np.array([x[i], y[i]]), -_across(x, y, i)
        axes.plot(*foot, "o", color=ground.colour("ink"), markersize=9 * PX, zorder=6)
        place = foot + across * 34 * px
        axes.text(
            float(place[0]), float(place[1]), name, fontsize=29 * PX, color=ground.colour("ink"), zorder=7,
            ha=_beside(float(across[0])), va=_above(float(across[1])), path_effects=ground.halo(),
            clip_on=False, style="italic",
        )  # fmt: skip


def _marks(shot: Shot) -> list[float]:
    """Return the stations to mark, the ends first."""
    marks = [shot.from_m, shot.to_m]
    if shot.kind == "whole":
        step = next(s for s in (500.0, 1000.0, 2000.0, 5000.0, 10_000.0, 50_000.0, 1e9) if shot.to_m / s <= 6)
        marks += [float(at) for at in np.arange(step, shot.to_m, step) if shot.to_m - at > 0.6 * step]
    return marks


def _mark(
    axes: Axes, foot: m.Floats, across: m.Floats, reach: float, px: float, words: str, ground: Ground
) -> None:
    """Draw a tick across the line from ``reach`` on, and the words beyond it."""
    ends = np.stack([foot + across * reach, foot + across * (reach + 22 * px)], axis=1)
    axes.plot(*ends, color=ground.colour("ink"), linewidth=3 * PX, zorder=5, clip_on=False)
    place = foot + across * (reach + 31 * px)
    axes.text(
        float(place[0]), float(place[1]), words, fontsize=29 * PX, color=ground.colour("ink"),
        ha=_beside(float(across[0])), va=_above(float(across[1])), zorder=6, path_effects=ground.halo(),
        clip_on=False,
    )  # fmt: skip


def _box(place: m.Floats, across: m.Floats, words: str, px: float) -> Box:
    """Return left, bottom, right and top of words set at a place, metres."""
    wide, high = (18 * len(words) + 16) * px, 36 * px
    left = {"left": 0.0, "center": -wide / 2, "right": -wide}[_beside(float(across[0]))] + float(place[0])
    low = {"bottom": 0.0, "center": -high / 2, "top": -high}[_above(float(across[1]))] + float(place[1])
    return left, low, left + wide, low + high


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _inside(box: Box, x: m.Floats, y: m.Floats) -> int:
    """Return how many points lie in a box."""
    return int(((x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3])).sum())


def _across(x: m.Floats, y: m.Floats, i: int) -> m.Floats:
    """Return the unit vector across the line at a station, the one that points up."""
    a, b = max(0, i - 3), min(len(x) - 1, i + 3)
    across = np.array([-(y[b] - y[a]), x[b] - x[a]])
    across /= max(math.hypot(*across), 1e-9)
    return across if across[1] >= 0 else -across


def _reach_m(scene: Scene, shot: Shot, at_m: float, foot_m: m.Floats, across: m.Floats) -> float:
    """Return how far the traces reach to this side near a station."""
    reach = 0.0
    for path in scene.paths:
        with np.errstate(invalid="ignore"):
            near = np.abs(path.station_m - at_m) <= max(12.0, 30 * metres_per_px(shot))
        x, y = seen(shot, path.x_m[near], path.y_m[near])
        if len(x):
            reach = max(reach, float(np.max((x - foot_m[0]) * across[0] + (y - foot_m[1]) * across[1])))
    return min(reach, 0.45 * shot.half_height_m)


def _beside(across_x: float) -> str:
    return "center" if abs(across_x) < 0.45 else "left" if across_x > 0 else "right"


def _above(across_y: float) -> str:
    return "bottom" if across_y > 0.4 else "top" if across_y < -0.4 else "center"
