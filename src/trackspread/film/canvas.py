"""What stills and video share of a picture: its measures, its ground, and lines as seen in a frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.film.framing import turned
from trackspread.film.storyboard import Scene, Shot
from trackspread.report import style
from trackspread.report.drawing import AbstractPathEffect, Axes, withStroke

WIDTH, HEIGHT = 1920, 1080  # px, high definition (ITU-R BT.709)
LEFT, TOP = 96, 54  # px left free
MAP = (0, 292, WIDTH, 584)
"""Left, top, width and height of the map, in pixels of the small size."""
SAFE_WIDTH = WIDTH - 2 * LEFT  # px, within which all words stay (graphics safe area, EBU R 95)
ASPECT = SAFE_WIDTH / MAP[3]  # width over height of what a shot is framed for
CLOSE_M_PER_PX = 0.8
"""Closer than this the single traces are drawn, and the ribbon of the spread farther away."""
MANY_TRACES = 12  # traces, more are drawn thinner
FONT, TITLE_FONT = "DejaVu Sans", "DejaVu Serif"
PX = 72 / 100
"""Points in a pixel of the small size."""
ROUTE, RIBBON, FAINT = 7 * PX, 15 * PX, 2.5 * PX  # points, of the route, its spread, and a faint trace
DOTS: Mapping[str, Any] = MappingProxyType(
    {"linewidth": 9 * PX, "linestyle": (0, (0.1, 2.0)), "dash_capstyle": "round"}
)
"""Over what a trace did not log."""
RING: Mapping[str, Any] = MappingProxyType(
    {"marker": "o", "markersize": 34 * PX, "markerfacecolor": "none", "markeredgewidth": 6 * PX}
)
"""Where a trace begins late."""
Dash = tuple[float, tuple[float, ...]] | str


@dataclass(frozen=True, kw_only=True, slots=True)
class Ground:
    """What stands behind the picture: ``dark`` or light, painted or ``transparent``."""

    dark: bool = False
    transparent: bool = False

    def colour(self, name: str) -> str:
        """Return a colour of the design sheet.

        Parameters
        ----------
        name : str
            One of `report.style.COLOURS`.

        Returns
        -------
        str
            ``#`` and six hexadecimal digits.
        """
        return style.COLOURS[name][self.dark]

    def halo(self, width: float = 6.0) -> list[AbstractPathEffect]:
        """Return the edge in the colour of the ground that keeps lines and words apart.

        Parameters
        ----------
        width : float
            Pixels of the small size.

        Returns
        -------
        list of AbstractPathEffect
        """
        return [withStroke(linewidth=width * PX, foreground=self.colour("paper"))]

    def spread(self, number: int) -> str:
        """Return the colour of a class of the spread scale; grey where the spread is not known.

        Parameters
        ----------
        number : int
            As `report.style.spread_class` gives it; -1 where the spread is not known.

        Returns
        -------
        str
            ``#`` and six hexadecimal digits.
        """
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
    begin_m, end_m = shot.gap_m
    here = (scene.station_m >= begin_m) & (scene.station_m <= end_m)
    here &= shot.row >= 0
    return scene.x_m[here], scene.y_m[here]


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
    inside_before = inside[at[np.maximum(before, 0)]] & (before >= 0)
    return np.asarray(inside_before & inside[at[after]])


def trace_px(count: int) -> float:
    """Return how wide the lines of traces are: thinner where there are more than `MANY_TRACES`.

    Parameters
    ----------
    count : int
        Traces of the scene.

    Returns
    -------
    float
        Pixels of the small size.
    """
    return 5.0 if count <= MANY_TRACES else 2.5


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
