"""One route as a picture for notebooks: spread or offsets along its stations, on axes of matplotlib."""

from __future__ import annotations

import numpy as np

from trackspread import model as m
from trackspread.errors import printable
from trackspread.report.drawing import Axes, new_axes


def plot_route(route: m.RouteResult, kind: str = "spread", axes: Axes | None = None) -> Axes:
    """Draw the spread with its interval, or the offset of every trace, along the stations of a route.

    `RouteResult.plot` gives it to notebooks.

    Parameters
    ----------
    route : RouteResult
    kind : str
        ``spread`` or ``offsets``.
    axes : matplotlib.axes.Axes, optional
        Drawn into; new ones without it.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    ValueError
        There is no such picture.
    BadOption
        Matplotlib is not installed.
    """
    draw = {"spread": _spread, "offsets": _offsets}
    if kind not in draw:
        raise ValueError(f"{kind!r}: the pictures are {', '.join(draw)}")
    axes = new_axes() if axes is None else axes
    draw[kind](route, axes)
    axes.set_xlabel("station (m)")
    axes.set_title(printable(route.title or route.name).replace("$", r"\$"))
    axes.margins(x=0)
    return axes


def _spread(route: m.RouteResult, axes: Axes) -> None:
    axes.fill_between(route.station_m, route.station_low_m, route.station_high_m, alpha=0.25, linewidth=0)
    axes.plot(route.station_m, route.station_spread_m)
    axes.set_ylabel("spread (m, 1 SD)")
    axes.set_ylim(bottom=0)


def _offsets(route: m.RouteResult, axes: Axes) -> None:
    watches = sorted({trace.receiver for trace in route.traces})
    for trace in route.traces:
        colour = f"C{watches.index(trace.receiver) % 10}"
        first = next(t for t in route.traces if t.receiver == trace.receiver) is trace
        label = printable(trace.receiver).replace("$", r"\$") if first else "_"
        offset_m = route.offset_m[trace.number]
        axes.plot(route.station_m, offset_m, color=colour, label=label, alpha=0.8)
        astray_m = np.where(route.in_stretch[trace.number], offset_m, np.nan)
        axes.plot(route.station_m, astray_m, color=colour, linewidth=3)
    axes.axhline(0, color="0.6", linewidth=0.8)
    axes.set_ylabel("← left · offset (m) · right →")
    axes.legend()
