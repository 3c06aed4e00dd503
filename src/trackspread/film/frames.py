"""The map of a video: one scene's artists, kept between frames."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trackspread.film.camera import View
from trackspread.film.canvas import (
    DOTS,
    HEIGHT,
    MAP,
    PX,
    RIBBON,
    RING,
    ROUTE,
    SAFE_WIDTH,
    Ground,
    aim,
    bridged,
    dash,
    gap_line,
    is_close,
    ribbon_lines,
    trace_px,
)
from trackspread.film.stills import draw_locator, draw_scale, new_figure, overlay
from trackspread.film.storyboard import Scene, Shot
from trackspread.report import style
from trackspread.report.drawing import Affine2D, Axes, Figure, FigureCanvasAgg, Line2D, LineCollection

Picture = NDArray[np.uint8]


@dataclass(kw_only=True, slots=True, eq=False)
class Stage:
    """The artists of one scene, kept between frames; only views, data and strengths change."""

    scene: Scene
    ground: Ground
    height: int
    canvas: Any
    axes: Axes
    turn: Affine2D
    ribbon: LineCollection
    faint: list[Line2D]
    full: list[Line2D]
    heads: list[Line2D]
    missing: Line2D
    ring: Line2D
    shot: Shot | None = None
    inside: list[Any] | None = None
    bands: dict[tuple[bool, bool], Picture] | None = None
    locator: tuple[float, ...] = ()

    @classmethod
    def of(cls, scene: Scene, ground: Ground, height: int) -> Stage:
        """Set up all artists of a scene.

        Parameters
        ----------
        scene : Scene
        ground : Ground
        height : int
            Of the video, pixels.

        Returns
        -------
        Stage
        """
        figure = Figure(figsize=(MAP[2] / 100, MAP[3] / 100), dpi=100 * height / HEIGHT)
        figure.set_facecolor(ground.colour("paper"))
        canvas: Any = FigureCanvasAgg(figure)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        turn = Affine2D()
        look: dict[str, Any] = {"transform": turn + axes.transData}
        axes.plot(scene.x_m, scene.y_m, color=ground.colour("rule"), linewidth=ROUTE, **look)
        ribbon = LineCollection(
            ribbon_lines(scene.x_m, scene.y_m),
            colors=[ground.spread(int(kind)) for kind in scene.spread_class[:-1]],
            linewidths=RIBBON,
            capstyle="round",
            **look,
        )
        axes.add_collection(ribbon, autolim=False)
        width = trace_px(len(scene.paths)) * PX
        faint, full, heads = [], [], []
        for path in scene.paths:
            (colours, pattern) = style.receiver_look(path.look)
            colour = colours[ground.dark]
            faint += axes.plot([], [], color=colour, linewidth=width, **look)
            full += axes.plot(
                [], [], color=colour, linewidth=width, linestyle=dash(pattern, width / PX), **look
            )
            heads += axes.plot(
                [], [], "o", color=colour, markersize=18 * PX, markeredgecolor=ground.colour("paper"),
                markeredgewidth=3 * PX, **look,
            )  # fmt: skip
        (missing,) = axes.plot([], [], color=ground.colour("warn"), **DOTS, **look)
        (ring,) = axes.plot([], [], color=ground.colour("warn"), **RING, **look)
        return cls(
            scene=scene, ground=ground, height=height, canvas=canvas, axes=axes, turn=turn, ribbon=ribbon,
            faint=faint, full=full, heads=heads, missing=missing, ring=ring,
        )  # fmt: skip

    def enter(self, shot: Shot) -> None:
        """Make ready for a shot: which points are within it, and the words around the map.

        Parameters
        ----------
        shot : Shot
            One of the scene.
        """
        self.shot = shot
        x, y = gap_line(self.scene, shot)
        self.missing.set_data(x, y)
        self.ring.set_data(x[-1:], y[-1:])
        self.inside = []
        for path in self.scene.paths:
            with np.errstate(invalid="ignore"):
                inside = (path.station_m >= shot.from_m) & (path.station_m <= shot.to_m)
            self.inside.append(bridged(inside, np.isfinite(path.station_m)))
        self.bands = {}

    def picture(self, view: View, ride_s: float, reveal: float, *, arrived: bool) -> Picture:
        """Draw one frame.

        Parameters
        ----------
        view : View
            Where the camera looks.
        ride_s : float
            Seconds since the traces entered the shot.
        reveal : float
            0 to 1, how far all of the traces, and on the whole route the spread, have faded in.
        arrived : bool
            The view stands: scale, north and locator are shown.

        Returns
        -------
        ndarray of uint8, shape (height, width, 3)
        """
        assert self.shot is not None
        whole = self.shot.kind == "whole"
        metres = 2 * view.half_width_m / SAFE_WIDTH
        near = 0.0 if whole else min(max((1.5 - metres) / 0.7, 0.0), 1.0)
        aim(self.axes, view.half_width_m)
        self.turn.clear().translate(-view.x_m, -view.y_m).rotate(-view.turn_rad)
        self.ribbon.set_alpha(reveal if whole else 1.0 - near)
        strength = 1.0 - reveal if whole else max(near, 0.15)
        for row in range(len(self.scene.paths)):
            self._trace(row, ride_s, reveal, strength)
        self.canvas.draw()
        middle = np.asarray(self.canvas.buffer_rgba())[..., :3]
        receivers = near > 0.5 or (whole and reveal == 0.0) or is_close(self.shot)
        band = self._band(receivers, arrived)
        picture = band.copy()
        top = round(MAP[1] * self.height / HEIGHT)
        picture[top : top + len(middle)] = middle
        if arrived and not whole:
            left, top, wide, high = (round(side * self.height / HEIGHT) for side in self.locator)
            box = np.s_[top : top + high, left : left + wide]
            picture[box] = band[box]
        return picture

    def _trace(self, row: int, ride_s: float, reveal: float, strength: float) -> None:
        path = self.scene.paths[row]
        assert self.shot is not None
        assert self.inside is not None
        now = self.shot.enter_s[row] + ride_s
        gone = path.time_s <= (now if reveal == 0.0 else math.inf)
        x, y = (np.where(gone, values, np.nan) for values in (path.x_m, path.y_m))
        tip = self._tip(row, gone, now)
        if tip is not None:
            x[tip[0]], y[tip[0]] = tip[1:]
        heads = [] if tip is None else [tip[1:]]
        self.heads[row].set_data([x for x, _ in heads], [y for _, y in heads])
        inside = self.inside[row]
        for line, part, alpha in (
            (self.faint[row], ~inside, 0.22 * strength),
            (self.full[row], inside, 0.92 * strength),
        ):
            shown_x, shown_y = (np.where(part, values, np.nan) for values in (x, y))
            line.set_data(*_broken(shown_x, shown_y, path.piece))
            line.set_alpha(alpha)

    def _tip(self, row: int, gone: Any, now: float) -> tuple[int, float, float] | None:
        """Return the number of the next point and where between it and the last one the trace is."""
        path, last = self.scene.paths[row], np.flatnonzero(gone)
        if not 0 < len(last) < len(gone) or last[-1] + 1 == len(gone):
            return None
        a, b = int(last[-1]), int(last[-1]) + 1
        if path.piece[a] != path.piece[b] or not path.time_s[b] > path.time_s[a]:
            return a, float(path.x_m[a]), float(path.y_m[a])
        share = (now - path.time_s[a]) / (path.time_s[b] - path.time_s[a])
        x = path.x_m[a] + share * (path.x_m[b] - path.x_m[a])
        y = path.y_m[a] + share * (path.y_m[b] - path.y_m[a])
        return b, float(x), float(y)

    def _band(self, receivers: bool, arrived: bool) -> Picture:
        """Return the picture around the map; scale, north and locator only where the view stands."""
        assert self.shot is not None
        assert self.bands is not None
        if (receivers, arrived) not in self.bands:
            figure = new_figure(self.ground)
            figure.set_dpi(100 * self.height / HEIGHT)
            overlay(figure, self.scene, self.shot, self.ground, receivers=receivers)
            if arrived:
                draw_scale(figure, self.shot, self.ground)
                if self.shot.kind != "whole":
                    self.locator = draw_locator(figure, self.scene, self.shot, self.ground)
            canvas: Any = FigureCanvasAgg(figure)
            canvas.draw()
            self.bands[receivers, arrived] = np.asarray(canvas.buffer_rgba())[..., :3].copy()
        return self.bands[receivers, arrived]


def _broken(x: Any, y: Any, piece: Any) -> tuple[Any, Any]:
    """Return a line with a break wherever a new piece begins."""
    at = np.flatnonzero(np.diff(piece)) + 1
    return np.insert(x, at, np.nan), np.insert(y, at, np.nan)
