"""The ground of a chart as SVG: scales with ticks, lines, bands, marks and words.

A chart is a few hundred lines of text; to write them takes a fiftieth of what a plotting library needs to
load and to draw it. Colours are those of the design sheet as CSS variables, so that a chart follows the light
or dark ground of its reader. Texts are plain texts: no markup is read from names.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from html import escape
from math import ceil, floor, log10

import numpy as np

from trackspread.model import Floats
from trackspread.report import style
from trackspread.results.lines import without_needless

TOP_PX, BELOW_PX = 12.0, 42.0
"""Above the plotted area and under it."""
TICK_PX, SIZE_PX = 3.5, 11.5  # px, ticks and letters
FINEST_PX = 0.4
"""A point goes where the line without it lies no farther than this from it."""
STEPS_X, STEPS_Y = (1.0, 2.0, 2.5, 5.0, 10.0), (1.0, 2.0, 5.0, 10.0)
"""Steps of ticks between 1 and 10, across and upwards; those between other powers of ten are alike."""
MOST_Y = 7  # ticks upwards


def _ticks(low: float, high: float, most: int, steps: Sequence[float]) -> tuple[list[float], list[str]]:
    """Return round values between two others, not more than ``most`` steps apart, and their words.

    ``steps`` are the steps allowed between 1 and 10.

    >>> _ticks(-4.0, 11.0, 7, (1.0, 2.0, 5.0, 10.0))
    ([0.0, 5.0, 10.0], ['0', '5', '10'])
    """
    least = (high - low) / most
    power = 10.0 ** floor(log10(least))
    step = next(power * s for s in (*steps, 10.0 * steps[1]) if power * s >= least * (1 - 1e-9))
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    places = next(places for places in range(20) if abs(step - round(step, places)) < 1e-6 * step)
    values = [k * step + 0.0 for k in range(first, last + 1)]
    return values, [f"{value:.{places}f}".replace("-", "−") for value in values]


@dataclass(kw_only=True, slots=True)
class Axes:
    """One plotted area; what is drawn into it is kept until `svg`, in the end's scales.

    Parameters
    ----------
    size, sides : (float, float)
        Width and height of the chart; room left and right of the plotted area, pixels.
    most_ticks : int
        Steps along the horizontal scale, at most.
    x, y : (float, float)
        Both scales: left and right end, lower and upper end, in the units of what is drawn.
    x_label, y_label : str
        Written beside the scales.

    Notes
    -----
    Methods take places in the units of the scales, a ``colour`` by its name in the design sheet or by what it
    is on light ground, ``width`` in pixels and ``alpha`` from 0 to 1.
    """

    size: tuple[int, int]
    sides: tuple[float, float]
    most_ticks: int
    x: tuple[float, float] = (0.0, 1.0)
    y: tuple[float, float] = (0.0, 1.0)
    x_label: str = ""
    y_label: str = ""
    rows: Sequence[str] = ()
    """Names of the rows 0, 1, 2 …, in place of a vertical scale."""
    _below: list[Callable[[], str]] = field(default_factory=list)
    _above: list[Callable[[], str]] = field(default_factory=list)

    # --- what is drawn ---

    def line(
        self, x: Floats, y: Floats, colour: str, width: float, alpha: float = 1.0, dash: str = ""
    ) -> None:
        """Draw a line; it is broken where ``y`` is NaN.

        Parameters
        ----------
        x, y : ndarray, shape (P,)
        colour : str
        width, alpha : float
        dash : str
            Dash and gap by turns, in widths of the line.
        """
        looks = _stroke(colour, width, alpha, dash)
        self._below.append(lambda: f'<path d="{self._way(x, y)}" style="{looks}"/>')

    def steps(self, edges: Floats, values: Floats, colour: str, width: float, dash: str = "") -> None:
        """Draw a value for each piece between two edges; NaN leaves a gap.

        Parameters
        ----------
        edges : ndarray, shape (K + 1,)
        values : ndarray, shape (K,)
        colour : str
        width : float
        dash : str
            As in `line`.
        """
        x, y = np.repeat(edges, 2)[1:-1], np.repeat(values, 2)
        self.line(x, y, colour, width, dash=dash)

    def band(self, x: Floats, low: Floats, high: Floats, colour: str, alpha: float) -> None:
        """Fill the area between two lines; NaN leaves a gap."""
        looks = f"fill: var(--{_name(colour)}); fill-opacity: {alpha:g}"
        self._below.append(lambda: f'<path d="{self._area(x, low, high)}" style="{looks}"/>')

    def level(self, y: float, colour: str, width: float, dash: str = "") -> None:
        """Draw a level across."""
        self.line(np.array(self.x), np.full(2, y), colour, width, dash=dash)

    def span(self, low: float, high: float, colour: str, alpha: float) -> None:
        """Fill the area between two levels across."""
        lows, highs = np.full(2, low), np.full(2, high)
        self.band(np.array(self.x), lows, highs, colour, alpha)

    def notch(self, x: float, colour: str, width: float) -> None:
        """Draw a short line down from the upper edge."""
        looks = _stroke(colour, width)
        down = (self._bottom - TOP_PX) * 0.06
        self._above.append(lambda: f'<path d="M{self._px(x):.1f} {TOP_PX}v{down:.1f}" style="{looks}"/>')

    def disc(self, x: float, y: float, fill: str, radius: float, edge: str = "", width: float = 0.0) -> None:
        """Draw a disc, with an edge of another colour where one is named.

        Parameters
        ----------
        x, y : float
        fill, edge : str
            Colours.
        radius, width : float
            Pixels, of the disc and of its edge.
        """
        looks = f"fill: var(--{_name(fill)})"
        if edge:
            looks += f"; stroke: var(--{_name(edge)}); stroke-width: {width:g}"
        self._above.append(
            lambda: f'<circle cx="{self._px(x):.1f}" cy="{self._py(y):.1f}" r="{radius:g}" style="{looks}"/>'
        )

    def arrow(self, x: float, y: float, colour: str) -> None:
        """Draw a head that points to the right."""
        looks = f"fill: var(--{_name(colour)})"
        self._above.append(
            lambda: f'<path d="M{self._px(x) - 4:.1f} {self._py(y) - 4:.1f}l8 4l-8 4z" style="{looks}"/>'
        )

    def words(
        self, text: str, x: float | None, y: float | None, colour: str, shift: tuple[float, float],
        anchor: str = "start", size: float = 10.0,
    ) -> None:  # fmt: skip
        """Write beside a point.

        Parameters
        ----------
        text : str
            Plain; it is escaped here.
        x, y : float or None
            ``None`` is the right edge, or the upper one.
        colour : str
        shift : (float, float)
            Pixels right and down from the point.
        anchor : str
            Which part of the words stands there: ``start``, ``middle`` or ``end``.
        size : float
            Pixels.
        """
        looks = (
            f"font-size: {size:g}px; fill: var(--{_name(colour)}); stroke: var(--panel); stroke-width: 4px; "
            f"stroke-opacity: 0.8; paint-order: stroke"
        )

        def drawn() -> str:
            at_x = (self.size[0] - self.sides[1] if x is None else self._px(x)) + shift[0]
            at_y = (TOP_PX if y is None else self._py(y)) + shift[1]
            return _text(text, at_x, at_y, anchor, looks)

        self._above.append(drawn)

    # --- the finished picture ---

    def svg(self) -> str:
        """Return all that was drawn as SVG.

        Returns
        -------
        str
        """
        width, height = self.size
        area = f"{self.sides[0]:.1f} {TOP_PX} {width - self.sides[1]:.1f} {self._bottom:.1f}".split()
        west, north, east, south = map(float, area)
        clip = f'<clipPath id="area"><path d="M{west:g} {north:g}H{east:g}V{south:g}H{west:g}z"/></clipPath>'
        grid, scales = self._scales(east)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
            f'viewBox="0 0 {width} {height}"><style>{_sheet()}</style><defs>{clip}</defs>{grid}'
            f'<g clip-path="url(#area)">{"".join(part() for part in self._below)}</g>'
            f'<path d="M{west:g} {north:g}V{south:g}H{east:g}" style="{_stroke("edge", 0.8)}"/>'
            f"{scales}{''.join(dict.fromkeys(part() for part in self._above))}</svg>"
        )

    @property
    def _bottom(self) -> float:
        return self.size[1] - BELOW_PX

    def _px(self, x: Floats | float) -> Floats | float:
        low, high = self.x
        room = self.size[0] - sum(self.sides)
        return self.sides[0] + (x - low) / (high - low) * room

    def _py(self, y: Floats | float) -> Floats | float:
        low, high = self.y
        room = self._bottom - TOP_PX
        return TOP_PX + (high - y) / (high - low) * room

    def _scales(self, east: float) -> tuple[str, str]:
        """Return the lines of the grid, and ticks with their figures, rows with their names, and labels."""
        west, south = self.sides[0], self._bottom
        grid, marks, texts = [], [], []
        for value, told in zip(*_ticks(*self.x, self.most_ticks, STEPS_X), strict=True):
            at = self._px(value)
            marks.append(f"M{at:.1f} {south:.1f}v{TICK_PX}")
            texts.append(_text(told, at, south + 16, "middle"))
            if self.rows:
                grid.append(f"M{at:.1f} {TOP_PX}V{south:.1f}")
        if self.rows:
            named = [(float(row), name) for row, name in enumerate(self.rows)]
        else:
            named = list(zip(*_ticks(*self.y, MOST_Y, STEPS_Y), strict=True))
            marks += [f"M{west:.1f} {self._py(value):.1f}h{-TICK_PX}" for value, _ in named]
            grid += [f"M{west:.1f} {self._py(value):.1f}H{east:.1f}" for value, _ in named]
        texts += [_text(name, west - 7, self._py(value) + 4, "end") for value, name in named]
        muted, middle = "fill: var(--muted)", (TOP_PX + south) / 2
        texts.append(_text(self.x_label, (west + east) / 2, self.size[1] - 7, "middle", muted))
        turned = f' transform="translate(11 {middle:.1f}) rotate(-90)"'
        texts.append(_text(self.y_label, 0, 0, "middle", muted, turned))
        return (
            f'<path d="{"".join(grid)}" style="{_stroke("rule", 0.8)}"/>',
            f'<path d="{"".join(marks)}" style="{_stroke("muted", 0.8)}"/>{"".join(texts)}',
        )

    def _way(self, x: Floats, y: Floats) -> str:
        return "".join("M" + "L".join(points) for points in self._runs(x, y))

    def _area(self, x: Floats, low: Floats, high: Floats) -> str:
        known = np.isfinite(low) & np.isfinite(high)
        upper = self._runs(x, np.where(known, high, np.nan))
        lower = self._runs(x, np.where(known, low, np.nan))
        outlines = [[*there, *back[::-1]] for there, back in zip(upper, lower, strict=True)]
        return "".join(f"M{'L'.join(outline)}z" for outline in outlines)

    def _runs(self, x: Floats, y: Floats) -> list[list[str]]:
        """Return the points of each unbroken part of a line as text, in pixels."""
        known = np.concatenate([[False], np.isfinite(y), [False]])
        ends = np.flatnonzero(known[1:] != known[:-1])
        found = []
        for first, end in ends.reshape(-1, 2):
            px = np.asarray(self._px(x[first:end]))
            py = np.clip(self._py(y[first:end]), -1e4, 1e4)
            at = np.round(np.column_stack(without_needless(px, py, FINEST_PX)), 1).tolist()
            found.append([f"{a:g} {b:g}" for a, b in at])
        return found


def _text(
    text: str, x: Floats | float, y: Floats | float, anchor: str, looks: str = "", turned: str = ""
) -> str:
    if not text:
        return ""
    place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{turned}'
    given = f' style="{looks}"' if looks else ""
    return f"<text {place}{given}>{escape(text, quote=False)}</text>"


def _stroke(colour: str, width: float, alpha: float = 1.0, dash: str = "") -> str:
    parts = [f"fill: none; stroke: var(--{_name(colour)}); stroke-width: {width:g}"]
    if alpha < 1.0:
        parts.append(f"stroke-opacity: {alpha:g}")
    if dash:
        parts.append("stroke-dasharray: " + " ".join(f"{width * float(part):g}" for part in dash.split()))
    return "; ".join([*parts, "stroke-linejoin: round"])


def _colours() -> dict[str, tuple[str, str]]:
    """Return light and dark of every colour of a chart by its name."""
    return {**style.COLOURS} | {f"receiver-{i}": pair for i, pair in enumerate(style.RECEIVER_COLOURS)}


def _name(colour: str) -> str:
    """Return the name of a colour of the sheet, which may be given by what it is in the light."""
    if not colour.startswith("#"):
        return colour
    return next(name for name, (light, _) in _colours().items() if light == colour)


def _sheet() -> str:
    rules = [";".join(f"--{name}:{pair[side]}" for name, pair in _colours().items()) for side in (0, 1)]
    sans = style.SANS.replace('"', "'")
    return (
        f":root{{{rules[0]}}}@media screen and (prefers-color-scheme:dark){{:root{{{rules[1]}}}}}"
        f"text{{font:{SIZE_PX}px {sans};fill:var(--ink)}}"
    )
