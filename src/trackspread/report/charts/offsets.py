"""Offsets of all traces on one chart: a line each, or, of many, the band that holds most of a watch's."""

from __future__ import annotations

import warnings
from collections.abc import Mapping

import numpy as np

from trackspread import model as m
from trackspread.report import style
from trackspread.report.charts.axes import Axes

MOST_LINES = 40
"""Of more traces single lines can no longer be told apart; the band stands for them."""
BAND_PERCENT = (5.0, 95.0)  # percentiles of the band
BAND_COLUMNS = 240  # columns of the band, bounds its file
FEW_LINES, FAINT, CLEAR = 12, 0.4, 0.85  # lines, more are fainter; opacities


def draw_traces(
    axes: Axes, route: m.RouteResult, watches: Mapping[str, int], x: m.Floats, columns: int
) -> None:
    """Draw the offsets of every trace, thick where a trace strays.

    Of more than `MOST_LINES` traces the band from the 5th to the 95th percentile of each watch is drawn, and
    what strays as lines.

    Parameters
    ----------
    axes : Axes
        With its scales set.
    route : RouteResult
        S stations.
    watches : mapping
        The slot of every watch (`rides.colours.watch_slots`).
    x : ndarray, shape (S,)
        Where each station stands on the horizontal scale.
    columns : int
        Pixels across, which bound the points of a line.
    """
    many = len(route.traces) > MOST_LINES
    if many:
        for name, slot in watches.items():
            _band(axes, route, name, style.receiver_look(slot)[0][0], x)
    faint = CLEAR if len(route.traces) <= FEW_LINES else FAINT
    for trace in route.traces:
        (colour, _), dash = style.receiver_look(watches[trace.receiver])
        line = route.offset_m[trace.number]
        if not many:
            axes.line(*_seen(x, line, columns), colour, 1.1, faint, dash)
        away = np.where(route.in_stretch[trace.number], line, np.nan)
        shown = _only_known(*_seen(x, away, columns))
        if len(shown[0]):
            axes.line(*shown, colour, 1.6 if many else 3.0)


def _seen(x: m.Floats, y: m.Floats, columns: int) -> tuple[m.Floats, m.Floats]:
    """Return what can be seen of a line in so many columns of pixels: lowest and highest point of each."""
    block = -(-len(x) // columns)
    if block <= 2:
        return x, y
    whole = len(x) - len(x) % block
    parts = y[:whole].reshape(-1, block)
    known = np.isfinite(parts)
    lowest = np.where(known, parts, np.inf).argmin(axis=1)
    highest = np.where(known, parts, -np.inf).argmax(axis=1)
    within = np.sort(np.column_stack([lowest, highest]), axis=1)
    starts = block * np.arange(len(parts))
    at = np.concatenate([(starts[:, None] + within).ravel(), np.arange(whole, len(x))])
    return x[at], y[at]


def _band(axes: Axes, route: m.RouteResult, name: str, colour: str, x: m.Floats) -> None:
    rows = [trace.number for trace in route.traces if trace.receiver == name]
    if not rows:
        return
    step = max(1, len(x) // BAND_COLUMNS)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # stations that no trace reached
        shown_m = route.offset_m[rows][:, ::step]
        low, high, middle = np.nanpercentile(shown_m, (*BAND_PERCENT, 50.0), axis=0)
    axes.band(x[::step], low, high, colour, 0.25)
    axes.line(x[::step], middle, colour, 1.2)


def _only_known(x: m.Floats, y: m.Floats) -> tuple[m.Floats, m.Floats]:
    """Return a line without what is not drawn: of each gap one point is kept."""
    known = np.isfinite(y)
    keep = known | (np.concatenate([[False], known[:-1]]))
    return x[keep], y[keep]
