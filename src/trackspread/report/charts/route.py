"""Charts of one route as SVG: spread, offsets and fixes; the same bytes for the same analysis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from trackspread import model as m
from trackspread.errors import printable
from trackspread.numeric.robust import nan_median
from trackspread.options import Settings
from trackspread.report import style
from trackspread.report.charts.axes import Axes
from trackspread.report.charts.chart import NARROW, WIDE, Chart, drawn
from trackspread.report.charts.offsets import draw_traces
from trackspread.results.rounding import kilometres, plain, rounded
from trackspread.results.words.names import shown_name

MOST_FIX_ROWS = 40  # rows of a chart


def route_charts(
    route: m.RouteResult,
    settings: Settings,
    watches: Mapping[str, int],
    places: Sequence[tuple[float, str]] = (),
) -> tuple[Chart, ...]:
    """Return the charts of one route; the page itself draws those of pairs (`report.charts.pair`).

    Parameters
    ----------
    route : RouteResult
    settings : mapping
        Those of the analysis, whose thresholds are drawn.
    watches : mapping
        The slot of every watch (`rides.colours.watch_slots`), in the order in which they are shown.
    places : sequence of (float, str)
        Station in metres, and name, of what lies beside the route.

    Returns
    -------
    tuple of Chart
        Spread, offsets, fixes; and claims where a watch claims any.
    """
    made = [
        _spread_chart(route, settings, watches, places),
        _offset_chart(route, watches),
        _fix_chart(route, watches),
    ]
    if np.isfinite(route.claim_m).any():
        made.append(_claim_chart(route, watches))
    return tuple(made)


def _spread_chart(
    route: m.RouteResult,
    settings: Settings,
    watches: Mapping[str, int],
    places: Sequence[tuple[float, str]] = (),
) -> Chart:
    """Return the spread at every station with its band, and the thresholds of the verdicts."""
    steady, torn = float(settings["steady_m"]), float(settings["torn_m"])
    spread, low, high = route.station_spread_m, route.station_low_m, route.station_high_m
    own = _own_spreads(route, watches)
    largest = max([_largest(spread), *(_largest(values) for _, values in own.values())])
    top = max(1.2 * torn, 1.15 * largest, min(1.05 * _largest(high), 3.0 * largest))

    def draw(axes: Axes, narrow: bool) -> None:
        x = route.station_m / _unit(route)[0]
        axes.y = (0.0, top)
        _along(axes, route, "spread (m)")
        axes.band(x, low, high, "accent", 0.18)
        axes.line(x, spread, "accent", 1.8)
        for name, (edges, values) in own.items():
            (colour, _), dash = style.receiver_look(watches[name])
            axes.steps(edges / _unit(route)[0], values, colour, 1.2, dash)
        for level, name, words in (
            (steady, "steady", f"steady up to {steady:g} m"),
            (torn, "torn", f"torn above {torn:g} m"),
        ):
            axes.level(level, name, 1.0, "5 3")
            axes.words(words, None, level, name, (-4, -3), "end")
        for station, name in places:
            axes.notch(station / _unit(route)[0], "edge", 1.2)
            axes.words(name, station / _unit(route)[0], None, "muted", (3, 9), size=9)

    return drawn("spread", "Spread along the route", _spread_alt(route), draw, along=True)


def _offset_chart(route: m.RouteResult, watches: Mapping[str, int]) -> Chart:
    """Return the offsets of every trace; stretches stand out by a thicker line."""
    reach = 1.1 * max(1.0, _largest(np.abs(route.offset_m)))

    def draw(axes: Axes, narrow: bool) -> None:
        columns = (NARROW if narrow else WIDE)[0]
        axes.y = (-reach, reach)
        _along(axes, route, "← left · offset (m) · right →")
        axes.level(0.0, "edge", 0.8)
        draw_traces(axes, route, watches, route.station_m / _unit(route)[0], columns)

    widest = rounded(_largest(np.abs(route.offset_m)), 0)
    alt = (
        f"Offsets of {len(route.traces)} traces from the centreline along {kilometres(route.length_m)}; "
        f"the farthest is {plain(widest)} m away. The figures are in the tables of traces and stretches."
    )
    made = drawn("offsets", "Offset of every trace from the centreline", alt, draw, along=True)
    return replace(made, reach_m=reach)


def _claim_chart(route: m.RouteResult, watches: Mapping[str, int]) -> Chart:
    """Return what each watch claims of its own accuracy (dashed) beside its spread (full), by segment."""
    edges, spreads = _edges(route), _spreads(route, watches)
    claims = {
        name: _by_segment(route.claim_m[[t.number for t in route.traces if t.receiver == name]], edges, route)
        for name in watches
    }
    claims = {name: claimed for name, claimed in claims.items() if np.isfinite(claimed).any()}
    drawn_m = [*claims.values(), *spreads.values()]
    top = 1.15 * max([1.0, *map(_largest, drawn_m)])

    def draw(axes: Axes, narrow: bool) -> None:
        axes.y = (0.0, top)
        _along(axes, route, "claimed, seen (m)")
        for found, width, dash in ((spreads, 1.6, ""), (claims, 2.0, "2 3")):
            for name, values in found.items():
                if name in claims:
                    (colour, _), _ = style.receiver_look(watches[name])
                    axes.steps(edges / _unit(route)[0], values, colour, width, dash)

    alt = (
        f"What {len(claims)} watches claim of their accuracy along {kilometres(route.length_m)}, and the "
        "spread of their traces. The figures are in the table of watches."
    )
    return drawn("claims", "What each watch claims beside what was seen", alt, draw, along=True)


def _fix_chart(route: m.RouteResult, watches: Mapping[str, int]) -> Chart:
    """Return first fix (ring) and settled fix (disc) of every trace, or of every receiver if many."""
    here = {trace.receiver for trace in route.traces}
    receivers = [name for name in watches if name in here]
    by_trace = len(route.traces) <= MOST_FIX_ROWS
    order = sorted(route.traces, key=lambda t: (receivers.index(t.receiver), t.number))
    labels = [f"{printable(t.receiver, 14)} · {printable(t.ride, 8)}" for t in order]
    rows = list(range(len(order))) if by_trace else [receivers.index(t.receiver) for t in order]
    names = labels if by_trace else [shown_name(name) for name in receivers]
    every = [fix.value_s for trace in order for fix in (trace.first_fix, trace.settled_fix)]
    reach = 1.12 * max([10.0, *filter(np.isfinite, every)])

    def draw(axes: Axes, narrow: bool) -> None:
        axes.rows, axes.x_label = names, "seconds after start"
        axes.x, axes.y = (0.0, reach), (len(names) - 0.4, -0.6)
        for row, trace in zip(rows, order, strict=True):
            _fix_row(axes, row, trace, style.receiver_look(watches[trace.receiver])[0][0], reach)

    firsts = sum(np.isfinite(t.first_fix.value_s) for t in order)
    settled = sum(np.isfinite(t.settled_fix.value_s) for t in order)
    alt = (
        f"First and settled fix of {len(order)} traces: {firsts} first fixes and {settled} settled fixes "
        "could be measured. The figures are in the table of fixes."
    )
    height = 64 + 22 * len(names)
    return drawn("fixes", "First fix and settled fix", alt, draw, along=False, height=height, left_px=170)


# --- drawing -----------------------------------------------------------------------------------------


def _fix_row(axes: Axes, row: int, trace: m.TraceResult, colour: str, reach: float) -> None:
    """Draw the fixes of a trace in its row; ``reach`` is the end of the scale, seconds."""
    first, settled = trace.first_fix.value_s, trace.settled_fix.value_s
    level = np.array([row, row], dtype=float)
    if np.isfinite(first) and np.isfinite(settled):
        axes.line(np.array([first, settled]), level, colour, 2.0, 0.5)
    if np.isfinite(first):
        axes.disc(first, row, "panel", 5.5, colour, 1.8)
    if np.isfinite(settled):
        axes.disc(settled, row, colour, 3.3)
    if trace.settled_fix.censored and np.isfinite(first):
        axes.line(np.array([first + 0.02 * reach, 0.985 * reach]), level, colour, 2.0, dash="1 2")
        axes.arrow(0.985 * reach, row, colour)
    if not np.isfinite(first):
        words = "first fix unknown" if np.isfinite(settled) else "unknown"
        axes.words(words, settled if np.isfinite(settled) else 0.0, row, "muted", (9, 4))


def _along(axes: Axes, route: m.RouteResult, label: str) -> None:
    divisor, unit = _unit(route)
    axes.x = (float(route.station_m[0]) / divisor, float(route.station_m[-1]) / divisor)
    axes.x_label, axes.y_label = f"station ({unit})", label


def _own_spreads(route: m.RouteResult, watches: Mapping[str, int]) -> dict[str, tuple[m.Floats, m.Floats]]:
    """Return edges (K + 1) and spreads (K) of the segments for every watch, where there are several."""
    if len(watches) < 2:
        return {}
    return {name: (_edges(route), own) for name, own in _spreads(route, watches).items()}


def _edges(route: m.RouteResult) -> m.Floats:
    starts = [segment.from_m for segment in route.segments]
    ends = [segment.to_m for segment in route.segments[-1:]]
    return np.array(starts + ends)


def _spreads(route: m.RouteResult, watches: Mapping[str, int]) -> dict[str, m.Floats]:
    """Return the spreads of the segments (K) for every watch that has figures of its own."""
    found = {}
    for name in watches:
        own = np.array([_spread_of(segment, name) for segment in route.segments])
        if np.isfinite(own).any():
            found[name] = own
    return found


def _spread_of(segment: m.Segment, name: str) -> float:
    """Return the spread of one watch on a segment, metres, NaN without any."""
    return next((own.spread.value for own in segment.receivers if own.receiver == name), np.nan)


def _by_segment(values: m.Floats, edges: m.Floats, route: m.RouteResult) -> m.Floats:
    """Return the median of some traces' values over each segment, NaN where there are none."""
    count = len(edges) - 1
    segment = np.searchsorted(edges, route.station_m, side="right") - 1
    segment = np.clip(segment, 0, count - 1)
    medians = np.full(count, np.nan)
    for number in np.unique(segment):
        medians[number] = nan_median(values[:, segment == number].reshape(-1, 1))[0]
    return medians


def _unit(route: m.RouteResult) -> tuple[float, str]:
    return (1000.0, "km") if route.length_m >= 2000 else (1.0, "m")


def _largest(values: m.Floats) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.max()) if finite.size else 0.0


def _spread_alt(route: m.RouteResult) -> str:
    spread = route.station_spread_m
    if not np.isfinite(spread).any():
        return "Spread along the route: nowhere do enough traces run together."
    low, high = int(np.nanargmin(spread)), int(np.nanargmax(spread))
    return (
        f"Spread along {kilometres(route.length_m)}: smallest {plain(rounded(spread[low]))} m at "
        f"{kilometres(route.station_m[low])}, largest {plain(rounded(spread[high]))} m at "
        f"{kilometres(route.station_m[high])}. The figures are in the table of segments."
    )
