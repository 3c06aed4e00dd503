"""Stills: one picture in 16:9 for the whole route and for each place on the film list, ready to cut in.

Drawn with the object interface of matplotlib and the fonts it carries, so that every machine draws the same.
Texts stay within the inner 90 % of width and height (graphics safe area of EBU R 95).
"""

from __future__ import annotations

import io
import math
import textwrap
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from trackspread.errors import and_more
from trackspread.film.canvas import (
    FONT,
    HEIGHT,
    LEFT,
    MAP,
    PX,
    TITLE_FONT,
    TOP,
    WIDTH,
    Dash,
    Ground,
    dash,
    is_close,
    metres_per_px,
    seen,
)
from trackspread.film.still_map import draw_ground, map_axes
from trackspread.film.storyboard import CAUTION, PRIVATE, Scene, Shot
from trackspread.report import style
from trackspread.report.drawing import Figure, Line2D, Rectangle, drawable, drawing, fonts_for
from trackspread.results.rounding import kilometres, plain, unbroken
from trackspread.results.words.names import cut_in_middle
from trackspread.results.words.verdicts import VERDICT_GLYPHS

SIZES = (1080, 2160)  # px of height
RIGHT, BOTTOM = WIDTH - LEFT, HEIGHT - TOP
RULER_PX = 560  # px, the longest ruler
FEW_NAMES, MOST_NAMES = 6, 8  # names in two rows of three, and in two rows of four
KEYS_PX, SAMPLE_PX, KEY_LETTER_PX = 1450, 106, 18
"""Room of all names, of the line before one, of a letter."""
LOCATOR_PX, LOCATOR_POINTS = (300.0, 130.0), 300  # px, and points of its line
BESIDE_LOCATOR_PX = 20  # px, kept free around it
LOOK: Mapping[str, Any] = MappingProxyType(
    {
        "font.family": "sans-serif",
        "font.sans-serif": [FONT],
        "font.serif": [TITLE_FONT],
        "text.parse_math": False,
        "lines.solid_capstyle": "round",
        "lines.solid_joinstyle": "round",
    }
)
"""Settings of the drawing library that hold while pictures are drawn."""
_NO_METADATA = MappingProxyType(dict.fromkeys(("Software", "Creation Time")))


def still(scene: Scene, shot: Shot, height: int = HEIGHT, ground: Ground | None = None) -> bytes:
    """Return one still as PNG; nothing in it says when or where it was made.

    Parameters
    ----------
    scene : Scene
    shot : Shot
        One of the scene.
    height : int
        Pixels; the width is 16/9 of it.
    ground : Ground, optional
        Light and painted without it.

    Returns
    -------
    bytes
    """
    ground = ground or Ground()
    with drawing(LOOK):
        figure = new_figure(ground)
        draw_ground(map_axes(figure), scene, shot, ground)
        overlay(figure, scene, shot, ground, receivers=is_close(shot))
        if shot.kind != "whole":
            draw_locator(figure, scene, shot, ground)
        draw_scale(figure, shot, ground)
        buffer = io.BytesIO()
        figure.savefig(
            buffer, format="png", dpi=100 * height / HEIGHT, transparent=ground.transparent,
            metadata=dict(_NO_METADATA),
        )  # fmt: skip
    return buffer.getvalue()


def new_figure(ground: Ground) -> Figure:
    """Return an empty picture.

    Parameters
    ----------
    ground : Ground

    Returns
    -------
    Figure
        `WIDTH` by `HEIGHT` pixels at 100 dots an inch.
    """
    return Figure(figsize=(WIDTH / 100, HEIGHT / 100), dpi=100, facecolor=ground.colour("paper"))


# --- words -------------------------------------------------------------------------------------------


def overlay(figure: Figure, scene: Scene, shot: Shot, ground: Ground, *, receivers: bool) -> None:
    """Write title, verdict, lines, legend and caution; all that does not move with the ground.

    Parameters
    ----------
    figure : Figure
    scene : Scene
    shot : Shot
    ground : Ground
    receivers : bool
        A legend of the receivers; else that of the spread.
    """
    ink, muted = ground.colour("ink"), ground.colour("muted")
    _write(figure, LEFT, TOP + 60, shot.title, 62, ink, ground, font=TITLE_FONT, weight="bold")
    if shot.verdict:
        words = f"{VERDICT_GLYPHS[shot.verdict]} {shot.verdict}"
        colour = ground.colour(shot.verdict)
        _write(figure, RIGHT, TOP + 54, words, 54, colour, ground, ha="right", weight="bold")
        _ruler(figure, scene, shot, ground)
        _write(figure, RIGHT, TOP + 132, shot.lines[2], 29, muted, ground, ha="right")
    y = float(TOP + 82)
    for text, size, colour, letters, most in (
        (shot.lines[0], 36, ink, 54, 1),
        (shot.lines[1], 30, muted, 104, 2),
    ):
        for part in _wrapped(text, letters, most):
            y += size * 1.4
            _write(figure, LEFT, y, part, size, colour, ground)
    place = "" if shot.kind == "whole" else f"{scene.name} · "
    _write(figure, LEFT, BOTTOM, place + CAUTION, 29, muted, ground)
    if not scene.published:
        _write(figure, RIGHT, BOTTOM, PRIVATE, 29, ground.colour("warn"), ground, ha="right")
    if receivers:
        _receivers(figure, scene, ground)
    else:
        _spread_legend(figure, scene, ground)


def _write(
    figure: Figure, x: float, y: float, text: str, size: float, colour: str, ground: Ground,
    font: str = FONT, **more: Any,
) -> None:  # fmt: skip
    """Write text with its baseline at ``y`` pixels from the top."""
    shown = drawable(text, font)
    figure.text(
        x / WIDTH, 1 - y / HEIGHT, shown, fontsize=size * PX, color=colour, va="baseline",
        family=fonts_for(shown, font), path_effects=ground.halo() if ground.transparent else None, **more,
    )  # fmt: skip


def _wrapped(text: str, letters: int, most: int) -> list[str]:
    parts = textwrap.wrap(unbroken(text), letters)
    if len(parts) > most:
        parts[most - 1] = parts[most - 1][: letters - 2].rstrip(" ,;") + " …"
    return parts[:most]


def _ruler(figure: Figure, scene: Scene, shot: Shot, ground: Ground) -> None:
    """Draw the route as a straight bar, and on it the place."""
    y, left = TOP + 78, RIGHT - RULER_PX
    px = RULER_PX / max(scene.length_m, 1e-9)
    _box(figure, left, y + 5, RULER_PX, 6, ground.colour("rule"))
    width = max(8.0, (shot.to_m - shot.from_m) * px)
    start = min(left + shot.from_m * px, RIGHT - width)
    _box(figure, start, y, width, 16, ground.colour(shot.verdict or "ink"))


def draw_locator(figure: Figure, scene: Scene, shot: Shot, ground: Ground) -> tuple[float, ...]:
    """Draw the whole route small, turned alike, and on it the place, in the corner that holds least.

    Parameters
    ----------
    figure : Figure
    scene : Scene
    shot : Shot
    ground : Ground

    Returns
    -------
    tuple of float
        Left, top, width and height of its box, pixels.
    """
    every = max(1, len(scene.x_m) // LOCATOR_POINTS)
    x, y = (values[::every] for values in seen(shot, scene.x_m, scene.y_m))
    at = scene.station_m[::every]
    wide, high = (max(float(np.ptp(values)), 1e-6) for values in (x, y))
    px = min(LOCATOR_PX[0] / wide, LOCATOR_PX[1] / high)
    corner = _free_corner(scene, shot)
    left = corner[0] + (LOCATOR_PX[0] - wide * px) / 2
    top = corner[1] + (LOCATOR_PX[1] - high * px) / 2
    right_px, down_px = left + (x - x.min()) * px, top + (y.max() - y) * px
    points = list(zip(right_px, down_px, strict=True))
    box = (corner[0] - 14, corner[1] - 14, LOCATOR_PX[0] + 28, LOCATOR_PX[1] + 28)
    _box(figure, *box, ground.colour("paper"))
    _stroke(figure, points, ground.colour("edge"), 4)
    inside = np.flatnonzero(shot.holds(at))
    before = min(int(np.searchsorted(at, shot.from_m)), len(at) - 2)
    first = int(inside[0]) if len(inside) else before
    last = max([first + 1, *inside[-1:]])
    _stroke(figure, points[first : last + 1], ground.colour(shot.verdict or "warn"), 11)
    return box


def _free_corner(scene: Scene, shot: Shot) -> tuple[float, float]:
    """Return left and top of the corner of the map in which fewest points are drawn."""
    px = metres_per_px(shot)
    east = np.concatenate([scene.x_m, *(path.x_m for path in scene.paths)])
    north = np.concatenate([scene.y_m, *(path.y_m for path in scene.paths)])
    x, y = seen(shot, east, north)
    right, down = x / px + WIDTH / 2, MAP[1] + MAP[3] / 2 - y / px
    wide, high = LOCATOR_PX
    corners = [
        (float(across), float(along))
        for along in (MAP[1] + BESIDE_LOCATOR_PX, MAP[1] + MAP[3] - high - BESIDE_LOCATOR_PX)
        for across in (RIGHT - wide, LEFT)
    ]

    def drawn(corner: tuple[float, float]) -> int:
        across = (right > corner[0] - BESIDE_LOCATOR_PX) & (right < corner[0] + wide + BESIDE_LOCATOR_PX)
        along = (down > corner[1] - BESIDE_LOCATOR_PX) & (down < corner[1] + high + BESIDE_LOCATOR_PX)
        return int((across & along).sum())

    return min(corners, key=drawn)


# --- legends -----------------------------------------------------------------------------------------


def _spread_legend(figure: Figure, scene: Scene, ground: Ground) -> None:
    """Draw the classes of the spread as one bar, in metres, with the verdict that each class gives."""
    top, step, ink = 904, 124, ground.colour("ink")
    for number, edge in enumerate(scene.edges_m):
        x = LEFT + number * step
        _box(figure, x, top, step - 3, 26, ground.spread(number))
        _write(figure, x, top + 60, plain(round(edge, 2)), 29, ink, ground)
    _write(figure, LEFT + len(scene.edges_m) * step + 8, top + 60, "m of spread", 29, ink, ground)
    for word, number in (("steady", 0), ("wavering", 2), ("torn", 4)):
        _write(figure, LEFT + number * step, top - 12, word, 29, ink, ground, weight="bold")


def _receivers(figure: Figure, scene: Scene, ground: Ground) -> None:
    """Draw one line sample for each watch, in two rows."""
    names, ink = scene.receivers, ground.colour("ink")
    columns = 3 if len(names) <= FEW_NAMES else 4
    step = KEYS_PX // columns
    places = [(LEFT + step * (i % columns), 914 + 48 * (i // columns)) for i in range(2 * columns)]
    shown = len(names) if len(names) <= MOST_NAMES else MOST_NAMES - 1
    for (x, y), name, slot in zip(places, names[:shown], scene.looks, strict=False):
        colours, pattern = style.receiver_look(slot)
        sample = [(x, y - 10), (x + 88, y - 10)]
        _stroke(figure, sample, colours[ground.dark], 6, dash(pattern, 6.0))
        fitting = cut_in_middle(drawable(name, FONT), (step - SAMPLE_PX) // KEY_LETTER_PX)
        _write(figure, x + SAMPLE_PX, y, fitting, 30, ink, ground)
    _write(figure, *places[-1], and_more(len(names), shown), 29, ground.colour("muted"), ground)


def _box(figure: Figure, x: float, y: float, width: float, height: float, colour: str) -> None:
    figure.add_artist(
        Rectangle(
            (x / WIDTH, 1 - (y + height) / HEIGHT), width / WIDTH, height / HEIGHT, facecolor=colour,
            edgecolor="none", transform=figure.transFigure,
        )
    )  # fmt: skip


def _stroke(
    figure: Figure, points: Sequence[tuple[float, float]], colour: str, width: float, pattern: Dash = "solid"
) -> None:
    x, y = np.transpose(points)
    look: Any = {"linewidth": width * PX, "linestyle": pattern, "solid_capstyle": "butt"}
    figure.add_artist(Line2D(x / WIDTH, 1 - y / HEIGHT, color=colour, transform=figure.transFigure, **look))


def _round_length(most_m: float) -> float:
    """Return the largest of 1, 2, 5, 10, 20, … that is at most ``most_m``."""
    power = 10.0 ** math.floor(math.log10(most_m))
    return next(step * power for step in (5.0, 2.0, 1.0) if step * power <= most_m)


def draw_scale(figure: Figure, shot: Shot, ground: Ground) -> None:
    """Draw the scale bar and, where it is not up, the north.

    Parameters
    ----------
    figure : Figure
    shot : Shot
    ground : Ground
    """
    px, y = metres_per_px(shot), 924
    length = _round_length(320 * px)
    left = RIGHT - length / px
    bar = [(left, y - 16), (left, y), (RIGHT, y), (RIGHT, y - 16)]
    _stroke(figure, bar, ground.colour("ink"), 4)
    _write(figure, RIGHT, y + 38, kilometres(length), 30, ground.colour("ink"), ground, ha="right")
    if shot.turn_rad:
        _north(figure, left - 190, y, shot.turn_rad, ground)


def _north(figure: Figure, x: float, y: float, turn_rad: float, ground: Ground) -> None:
    along = np.array([math.sin(turn_rad), -math.cos(turn_rad)])
    side = np.array([-along[1], along[0]])
    middle = np.array([x, y])
    tip = middle + along * 34
    barbs = [tuple(tip - along * 20 + side * s) for s in (13.0, -13.0)]
    _stroke(figure, [tuple(middle - along * 34), tuple(tip)], ground.colour("ink"), 4)
    _stroke(figure, [barbs[0], tuple(tip), barbs[1]], ground.colour("ink"), 4)
    _write(figure, x + 46, y + 10, "north", 30, ground.colour("ink"), ground)
