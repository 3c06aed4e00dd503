"""A chart of a page: its SVG for wide and for narrow windows, and what the page says of it."""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from trackspread.report.charts.axes import Axes

WIDE, NARROW = (960, 280), (360, 250)
"""Width and height of a chart in both kinds of windows, pixels."""
SIDES_PX = MappingProxyType({WIDE[0]: (56, 14), NARROW[0]: (48, 8)})
"""Room left and right of the plotted area, by the width of the chart."""
MOST_ROOM_PX = 132  # px, for names on the left of a narrow chart
TICKS_WIDE, TICKS_NARROW = 9, 4  # along the horizontal scale, at most
ABOUT = MappingProxyType(
    {
        "spread": "Line: spread of all traces in a window of one segment. Band: its interval.",
        "offsets": "Thick where a trace strays or has not settled. Of many traces: the band that holds 90 %.",
        "fixes": "Ring: first fix. Disc: settled fix. Arrow: never settled.",
        "claims": "Dotted: what the watch claims (median). Full: its spread.",
    }
)
"""What the marks of a chart mean, by its name."""
Draw = Callable[[Axes, bool], None]
"""Draws into axes; the second argument says whether the window is narrow."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Chart:
    """One chart: what it shows, the words for who cannot see it, and the SVG in two sizes.

    ``sides`` are the shares of the width left and right of the plotted area, wide then narrow;
    ``along`` says whether the area spans the route from its first to its last station; with ``reach_m`` its
    height spans so much to either side of 0, and a trace that is pointed at says its name.
    """

    name: str
    title: str
    alt: str
    wide: bytes
    narrow: bytes
    along: bool
    wide_size: tuple[int, int]
    narrow_size: tuple[int, int]
    sides: tuple[tuple[float, float], tuple[float, float]]
    reach_m: float = 0.0


def drawn(
    name: str, title: str, alt: str, draw: Draw, *, along: bool, height: int = 0, left_px: int = 0
) -> Chart:
    """Return a chart drawn in both sizes.

    Parameters
    ----------
    name, title, alt : str
        As in `Chart`.
    draw : callable
        Is called for each size.
    along : bool
        Whether the plotted area spans the route from its first to its last station.
    height : int
        Pixels, of both sizes; those of `WIDE` and `NARROW` by default.
    left_px : int
        Room left of the plotted area, pixels, in place of `SIDES_PX`; less where the window is narrow.

    Returns
    -------
    Chart
    """
    sizes = [(width, height or usual) for width, usual in (WIDE, NARROW)]
    sides = [(left_px or SIDES_PX[width][0], SIDES_PX[width][1]) for width, _ in sizes]
    if left_px:
        sides[1] = (min(left_px, MOST_ROOM_PX), sides[1][1])
    shares = [(left / width, right / width) for (left, right), (width, _) in zip(sides, sizes, strict=True)]
    wide, narrow = (_svg(draw, size, side) for size, side in zip(sizes, shares, strict=True))
    return Chart(
        name=name, title=title, alt=alt, wide=wide, narrow=narrow, along=along,
        wide_size=sizes[0], narrow_size=sizes[1], sides=(shares[0], shares[1]),
    )  # fmt: skip


def _svg(draw: Draw, size: tuple[int, int], sides: tuple[float, float]) -> bytes:
    narrow = size[0] == NARROW[0]
    left, right = (side * size[0] for side in sides)
    axes = Axes(size=size, sides=(left, right), most_ticks=TICKS_NARROW if narrow else TICKS_WIDE)
    draw(axes, narrow)
    return axes.svg().encode("utf-8", "replace")


def figure_of(chart: Chart) -> dict[str, Any]:
    """Return what the template of a page needs of a chart.

    Parameters
    ----------
    chart : Chart

    Returns
    -------
    dict
        ``wide`` and ``narrow`` are addresses with the picture in them (RFC 2397), so that it opens offline.
    """
    return {
        "name": chart.name,
        "title": chart.title,
        "alt": chart.alt,
        "about": ABOUT[chart.name],
        "wide": _address(chart.wide),
        "narrow": _address(chart.narrow),
        "along": chart.along,
        "walk": chart.name == "spread",
        "pair": None,
        "reach": f"{chart.reach_m:g}" if chart.reach_m else "",
        "wide_sides": " ".join(f"{side:.4f}" for side in chart.sides[0]),
        "narrow_sides": " ".join(f"{side:.4f}" for side in chart.sides[1]),
    }


def _address(svg: bytes) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")


def plot_sides() -> str:
    """Return as CSS where the plotted area of a chart lies: what stands under a chart keeps to it.

    Returns
    -------
    str
        ``--plot-left`` and ``--plot-width``, shares of the width, for wide and for narrow windows.
    """
    rules = []
    for (width, _), query in ((WIDE, ""), (NARROW, "@media (max-width:40rem)")):
        left, right = SIDES_PX[width]
        area = f":root{{--plot-left:{left / width:.4%};--plot-width:{1 - (left + right) / width:.4%}}}"
        rules.append(f"{query}{{{area}}}" if query else area)
    return "\n".join(rules)
