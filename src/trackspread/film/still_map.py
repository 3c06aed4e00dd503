"""The map of a still: route, traces, stations and places, drawn in metres around the centre of a shot."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.film.canvas import (
    DOTS,
    FAINT,
    FONT,
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
from trackspread.report.drawing import Axes, Figure, LineCollection, fonts_for
from trackspread.results.rounding import kilometres

Box = tuple[float, float, float, float]
"""Left, bottom, right and top, metres in the frame."""
WORDS = 29 * PX  # points, size of the names of stations and places
BESIDE_LINE_PX, MARK_PX, MARK_WORDS_PX, PLACE_WORDS_PX = 14, 22, 31, 34
"""From the line to the tick of a station; its length; from its foot, and from a named place, to the words."""
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
    drawn = _Map(axes, scene, shot, ground)
    drawn.route()
    drawn.stations()
    drawn.places()


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Label:
    """Words beside the line: from a foot on it to one side, a unit vector, beyond a reach.

    ``px`` is the scale, metres a pixel.
    """

    text: str
    foot: m.Floats
    side: m.Floats
    reach_m: float
    px: float

    def beyond(self, pixels: float) -> m.Floats:
        """Return the place so many pixels beyond the reach."""
        return self.foot + self.side * (self.reach_m + pixels * self.px)

    def box(self) -> Box:
        """Return what the words cover."""
        wide = (MARK_LETTER_PX * len(self.text) + MARK_LETTERS_PX) * self.px
        high = MARK_LINE_PX * self.px
        across, upwards = self.side.tolist()
        left, bottom = self.beyond(MARK_WORDS_PX).tolist()
        left += {"left": 0.0, "center": -wide / 2, "right": -wide}[_beside(across)]
        bottom += {"bottom": 0.0, "center": -high / 2, "top": -high}[_above(upwards)]
        return left, bottom, left + wide, bottom + high


class _Map:
    """One map under way, in metres around the centre of the shot."""

    def __init__(self, axes: Axes, scene: Scene, shot: Shot, ground: Ground) -> None:
        self.axes, self.scene, self.shot, self.ground = axes, scene, shot, ground
        self.px, self.close = metres_per_px(shot), is_close(shot)
        self.x, self.y = seen(shot, scene.x_m, scene.y_m)

    def route(self) -> None:
        """Draw the route with its traces where they can be told apart, else with its spread."""
        colour = self.ground.colour("rule")
        self.axes.plot(self.x, self.y, color=colour, linewidth=ROUTE, zorder=1)
        if not self.close:
            self._ribbon()
            return
        for row, path in enumerate(self.scene.paths):
            self._trace(path, full=self.shot.row in (-1, row))
        if self.shot.row >= 0:
            self._missing()

    def _ribbon(self) -> None:
        """Draw the centreline in the colours of its spread."""
        inside = self.shot.holds(self.scene.station_m)
        x, y = self.x[inside], self.y[inside]
        self.axes.plot(x, y, color=self.ground.colour("paper"), linewidth=24 * PX, zorder=2)
        classes = self.scene.spread_class[inside][:-1].tolist()
        look: Any = {"linewidths": RIBBON, "capstyle": "round", "zorder": 3}
        lines = LineCollection(ribbon_lines(x, y), colors=list(map(self.ground.spread, classes)), **look)
        self.axes.add_collection(lines, autolim=False)

    def _missing(self) -> None:
        """Draw what is missing as dots, and a ring where the trace begins."""
        x, y = seen(self.shot, *gap_line(self.scene, self.shot))
        colour = self.ground.colour("warn")
        self.axes.plot(x, y, color=colour, zorder=6, **DOTS)
        self.axes.plot(x[-1:], y[-1:], color=colour, zorder=6, **RING)

    def _trace(self, path: Path, full: bool) -> None:
        """Draw one trace: full within the place, faint outside; not ``full``: faint everywhere."""
        colours, pattern = style.receiver_look(path.look)
        count = len(self.scene.paths)
        width = trace_px(count)
        x, y = seen(self.shot, path.x_m, path.y_m)
        inside = bridged(self.shot.holds(path.station_m), np.isfinite(path.station_m))
        inside_x, inside_y = (np.where(inside, values, np.nan) for values in (x, y))
        faint: Any = {"color": colours[self.ground.dark], "zorder": 3}
        strong: Any = faint | {"zorder": 4, "linestyle": dash(pattern, width)}
        strong["alpha"] = 0.9 if count <= MANY_TRACES else 0.5
        for number in np.unique(path.piece):
            here = path.piece == number
            if not full:
                self.axes.plot(x[here], y[here], linewidth=FAINT, alpha=0.3, **faint)
                continue
            self.axes.plot(x[here], y[here], linewidth=width * PX, alpha=0.2, **faint)
            self.axes.plot(inside_x[here], inside_y[here], linewidth=width * PX, **strong)

    # --- stations and places ---

    def stations(self) -> None:
        """Mark the ends of the shot and, on the whole route, round stations, beside all that is drawn."""
        taken: list[Box] = []
        for number, at_m in enumerate(_marks(self.shot)):
            labels = self._labels(at_m)
            covered = [self._covered(label.box(), taken) for label in labels]
            best = int(np.argmin(covered))
            is_end = number < 2
            if is_end or covered[best] < COVERED:
                taken.append(labels[best].box())
                self._mark(labels[best])

    def places(self) -> None:
        """Write the user's named places beside the line, on the side away from the stations."""
        colour = self.ground.colour("ink")
        for at_m, name in self.scene.places:
            if self.shot.from_m <= at_m <= self.shot.to_m:
                foot, across = self._foot(at_m)
                label = _Label(text=name, foot=foot, side=-across, reach_m=0.0, px=self.px)
                self.axes.plot(*foot, "o", color=colour, markersize=9 * PX, zorder=6)
                self._write(label, PLACE_WORDS_PX, zorder=7, style="italic")

    def _labels(self, at_m: float) -> list[_Label]:
        """Return where the name of a station can stand; close by only on the side that points up."""
        foot, across = self._foot(at_m)
        text = kilometres(round(at_m)) if round(at_m) else "0"
        aside_m = self._aside_m(at_m, foot, across) if self.close else 0.0
        reach_m = BESIDE_LINE_PX * self.px + aside_m
        sides = [across] if self.close else [across, -across]
        return [_Label(text=text, foot=foot, side=side, reach_m=reach_m, px=self.px) for side in sides]

    def _foot(self, at_m: float) -> tuple[m.Floats, m.Floats]:
        """Return the point of the line at a station, and the unit vector across that points up."""
        i = min(int(np.searchsorted(self.scene.station_m, at_m)), len(self.x) - 1)
        a, b = max(0, i - 3), min(len(self.x) - 1, i + 3)
        across = np.array([self.y[a] - self.y[b], self.x[b] - self.x[a]])
        across /= max(math.hypot(*across), 1e-9)
        return np.array([self.x[i], self.y[i]]), across if across[1] >= 0 else -across

    def _aside_m(self, at_m: float, foot: m.Floats, across: m.Floats) -> float:
        """Return how far the traces reach to this side near a station."""
        aside_m, near_m = 0.0, max(NEAR_MARK_M, NEAR_MARK_PX * self.px)
        for path in self.scene.paths:
            with np.errstate(invalid="ignore"):
                near = np.abs(path.station_m - at_m) <= near_m
            if near.any():
                x, y = seen(self.shot, path.x_m[near], path.y_m[near])
                away = (x - foot[0]) * across[0] + (y - foot[1]) * across[1]
                aside_m = max(aside_m, float(away.max()))
        return min(aside_m, MOST_ASIDE * self.shot.half_height_m)

    def _covered(self, box: Box, taken: list[Box]) -> int:
        """Return how much is in the way of words: other words, and points of the line."""
        left, bottom, right, top = box
        across = (self.x > left) & (self.x < right)
        upwards = (self.y > bottom) & (self.y < top)
        words = sum(_overlap(box, other) for other in taken)
        return COVERED * words + int((across & upwards).sum())

    def _mark(self, label: _Label) -> None:
        """Draw a tick across the line, and the words beyond it."""
        x, y = zip(label.beyond(0), label.beyond(MARK_PX), strict=True)
        self.axes.plot(x, y, color=self.ground.colour("ink"), linewidth=3 * PX, zorder=5, clip_on=False)
        self._write(label, MARK_WORDS_PX, zorder=6)

    def _write(self, label: _Label, pixels: float, **more: Any) -> None:
        """Write a label so that its words begin some pixels away and run on from the line."""
        x, y = label.beyond(pixels).tolist()
        across, upwards = label.side.tolist()
        self.axes.text(
            x, y, label.text, fontsize=WORDS, family=fonts_for(label.text, FONT),
            color=self.ground.colour("ink"), ha=_beside(across), va=_above(upwards),
            path_effects=self.ground.halo(), clip_on=False, **more,
        )  # fmt: skip


def _marks(shot: Shot) -> list[float]:
    """Return the stations to mark, metres, the ends first."""
    ends = [shot.from_m, shot.to_m]
    if shot.kind != "whole":
        return ends
    step = next(step for step in MARK_STEPS_M if shot.to_m / step <= MOST_STATIONS_MARKED)
    between = np.arange(step, shot.to_m, step)
    return [*ends, *between[shot.to_m - between > LEAST_END * step].tolist()]


def _overlap(a: Box, b: Box) -> bool:
    across = a[0] < b[2] and b[0] < a[2]
    upwards = a[1] < b[3] and b[1] < a[3]
    return across and upwards


def _beside(across: float) -> str:
    """Return on which side of their place words begin, by where they run."""
    return "center" if abs(across) < 0.45 else "left" if across > 0 else "right"


def _above(upwards: float) -> str:
    return "bottom" if upwards > 0.4 else "top" if upwards < -0.4 else "center"
