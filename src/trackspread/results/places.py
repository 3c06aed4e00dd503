"""Where things lie: pieces of centreline and trace, and the points of a fix, in continuous longitudes."""

from __future__ import annotations

import numpy as np

from trackspread import model as m

Line = tuple[m.Floats, m.Floats]
"""Longitudes (running on past 180 where the line crosses the antimeridian) and latitudes, degrees."""


def line_between(route: m.RouteResult, from_m: float, to_m: float) -> Line:
    """Return the centreline between two stations, ends interpolated.

    Parameters
    ----------
    route : RouteResult
    from_m, to_m : float
        Stations, metres; ``from_m`` is the smaller one.

    Returns
    -------
    tuple of ndarray
        Longitude and latitude, degrees.
    """
    inside = (route.station_m > from_m) & (route.station_m < to_m)
    at = np.concatenate([[from_m], route.station_m[inside], [to_m]])
    return np.interp(at, route.station_m, route.lon_deg), np.interp(at, route.station_m, route.lat_deg)


def pieces(trace: m.TraceResult, keep: m.Bools | None = None) -> list[Line]:
    """Return the unbroken pieces of a trace, of the points to ``keep`` only (all by default).

    Parameters
    ----------
    trace : TraceResult
        P points.
    keep : ndarray of bool, shape (P,), optional
        A point that is left out breaks the piece.

    Returns
    -------
    list of tuple of ndarray
        Longitude and latitude of each piece, degrees; a piece may be one point.
    """
    if len(trace.lon_deg) == 0:
        return []
    lon = np.unwrap(trace.lon_deg, period=360.0)
    part = np.cumsum(trace.break_before)
    chosen = np.ones(len(lon), dtype=bool) if keep is None else keep
    part = part + np.cumsum(~chosen)
    found = []
    for number in np.unique(part[chosen]):
        here = chosen & (part == number)
        found.append((lon[here], trace.lat_deg[here]))
    return found


def trace_between(route: m.RouteResult, stretch: m.Stretch) -> list[Line]:
    """Return where a trace runs in its stretch; the centreline there if fewer than two points are left.

    What it logged out of reach before it first came near the line belongs to its settling.

    Parameters
    ----------
    route : RouteResult
    stretch : Stretch
        One of the route.

    Returns
    -------
    list of tuple of ndarray
        Longitude and latitude of each unbroken piece, degrees.
    """
    trace = next(t for t in route.traces if t.number == stretch.number)
    with np.errstate(invalid="ignore"):
        inside = (trace.station_m >= stretch.from_m) & (trace.station_m <= stretch.to_m)
    if stretch.cause == "settling":
        before = np.cumsum(np.isfinite(trace.station_m)) == 0
        inside |= before & inside.any()
    found = [line for line in pieces(trace, inside) if len(line[0]) > 1]
    return found or [line_between(route, stretch.from_m, stretch.to_m)]


def lines_of(route: m.RouteResult, kind: str) -> list[list[Line]]:
    """Return the lines of every record of a kind.

    Parameters
    ----------
    route : RouteResult
    kind : str
        ``centreline``, ``traces``, ``stretches``, or pieces of the centreline: ``segments``, ``events``,
        ``variants``.

    Returns
    -------
    list of list of tuple of ndarray
        For each record longitude and latitude of each of its lines, degrees.
    """
    if kind == "centreline":
        return [[(route.lon_deg, route.lat_deg)]]
    if kind == "traces":
        return [pieces(trace) for trace in route.traces]
    if kind == "stretches":
        return [trace_between(route, stretch) for stretch in route.stretches]
    return [[line_between(route, piece.from_m, piece.to_m)] for piece in getattr(route, kind)]


def variant_line(route: m.RouteResult, variant: m.Variant) -> Line | None:
    """Return where a variant runs: the first of its traces that logged it.

    Parameters
    ----------
    route : RouteResult
    variant : Variant
        One of the route.

    Returns
    -------
    tuple of ndarray, or None
        Longitude and latitude, degrees; ``None`` where no trace logged more than its ends.
    """
    for trace in (t for t in route.traces if t.file in variant.files):
        with np.errstate(invalid="ignore"):
            before = np.flatnonzero(trace.station_m <= variant.from_m)
            after = np.flatnonzero(trace.station_m >= variant.to_m)
        if not len(before) or not (later := after[after > before[-1]]).size:
            continue
        part = slice(int(before[-1]), int(later[0]) + 1)
        if part.stop - part.start > 2:
            return trace.lon_deg[part], trace.lat_deg[part]
    return None


def fix_positions(trace: m.TraceResult) -> dict[str, tuple[float, float]]:
    """Return longitude and latitude of the first and of the settled fix, those that lie on the route.

    Parameters
    ----------
    trace : TraceResult

    Returns
    -------
    dict
        Longitude and latitude, degrees, by ``first`` and ``settled``; without what is unknown or never was.
    """
    stations = {"first": trace.first_fix.at_station_m, "settled": trace.settled_fix.at_station_m}
    known = np.isfinite(trace.station_m)
    found = {}
    for kind, station in stations.items():
        if np.isfinite(station) and known.any():
            i = 0 if kind == "first" else int(np.nanargmin(np.abs(trace.station_m - station)))
            found[kind] = (float(trace.lon_deg[i]), float(trace.lat_deg[i]))
    return found
