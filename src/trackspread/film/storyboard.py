"""What a film shows: shots of the whole route and of each place on the film list, on flat ground.

Stills, the full-screen sequence and the video are drawn from the same shots.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from trackspread import model as m
from trackspread.errors import printable
from trackspread.film.framing import extent, flat, framed
from trackspread.options import Settings
from trackspread.report.backdrop import NO_BACKDROP, Backdrop, places_on
from trackspread.report.style import spread_class, spread_edges_m
from trackspread.report.watches import watches_of
from trackspread.results.rounding import counted, kilometres, rounded_interval, with_interval
from trackspread.results.words.names import shown_name
from trackspread.results.words.reasons import said
from trackspread.results.words.verdicts import verdict_rule_short

CAUTION = "Agreement is not accuracy."
PRIVATE = "Private: shows where rides start and end."
PACE_M_S = 5.0
"""Traces without times are drawn at this pace."""
LATE_M = 40.0
"""A first fix that costs less of the route is no picture of its own."""
MATES = 4  # companions that are named
LABELS = 1.15
"""Room above and below for the names of stations."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Path:
    """One trace on flat ground.

    ``x_m``, ``y_m``, ``time_s``, ``station_m``, ``piece``, shape (P,): east, north, seconds, metres along
    the route (NaN away from it), and the number of the unbroken piece.
    """

    label: str
    look: int
    x_m: m.Floats
    y_m: m.Floats
    time_s: m.Floats
    station_m: m.Floats
    piece: m.Ints


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Shot:
    """One view: frame, words, and when each trace enters.

    The frame is ``half_width_m`` by ``half_height_m`` around ``centre_m``, the ground turned clockwise by
    ``turn_rad``; ``half_m`` is how much of it must be seen, across and up. ``lines`` say what was found,
    who leaves the others, and the rule of the verdict. ``enter_s``, shape (T,), is the
    time of each trace that counts as the shot's zero; ``seconds`` is how long the rides take through it.
    A shot of a first fix tells of trace ``row``, which logged nothing over ``gap_m``.
    """

    kind: str
    title: str
    verdict: m.Verdict | None
    lines: tuple[str, str, str]
    from_m: float
    to_m: float
    centre_m: tuple[float, float]
    half_width_m: float
    half_height_m: float
    half_m: tuple[float, float]
    turn_rad: float
    enter_s: m.Floats
    seconds: float
    gap_m: tuple[float, float] = (0.0, 0.0)
    row: int = -1

    def holds(self, station_m: m.Floats) -> m.Bools:
        """Return which stations lie in the place of the shot; NaN does not.

        Parameters
        ----------
        station_m : ndarray
            Metres.

        Returns
        -------
        ndarray of bool
        """
        with np.errstate(invalid="ignore"):
            return np.asarray((station_m >= self.from_m) & (station_m <= self.to_m))


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Scene:
    """One route on flat ground with its shots; ``spread_class`` is -1 where nothing is known."""

    name: str
    length_m: float
    station_m: m.Floats
    x_m: m.Floats
    y_m: m.Floats
    spread_class: m.Ints
    edges_m: tuple[float, ...]
    receivers: tuple[str, ...]
    looks: tuple[int, ...]
    paths: tuple[Path, ...]
    shots: tuple[Shot, ...]
    timed: bool
    published: bool
    places: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Ground:
    """The centreline, shape (S, 2), and the traces of a route."""

    line_m: m.Floats
    paths: tuple[Path, ...]

    def between(self, here: m.Bools, span: tuple[float, float], traced: bool) -> m.Floats:
        """Return what a frame must hold, in order of travel first the line, shape (P, 2)."""
        found = [self.line_m[here]]
        for path in self.paths if traced else ():
            with np.errstate(invalid="ignore"):
                inside = (path.station_m >= span[0]) & (path.station_m <= span[1])
            found.append(np.column_stack([path.x_m[inside], path.y_m[inside]]))
        return np.concatenate(found)


def scenes(analysis: m.Analysis, aspect: float, backdrop: Backdrop = NO_BACKDROP) -> tuple[Scene, ...]:
    """Return one scene a route; ``aspect`` is width over height of the picture's ground.

    Parameters
    ----------
    analysis : Analysis
    aspect : float
        Width over height of the part of a picture that shows the map.
    backdrop : Backdrop
        The user's named places.

    Returns
    -------
    tuple of Scene
        One a route, in their order.
    """
    slots = watches_of(analysis)
    made = (_scene(route, analysis.settings, analysis.published, aspect, slots) for route in analysis.routes)
    return tuple(
        replace(scene, places=tuple(places_on(backdrop, number, route)))
        for number, (scene, route) in enumerate(zip(made, analysis.routes, strict=True))
    )


def _receiver_names(route: m.RouteResult) -> tuple[str, ...]:
    """Return the receivers of a route in the order in which they are listed."""
    names = [receiver.receiver for receiver in route.receivers]
    names += [trace.receiver for trace in route.traces]
    return tuple(dict.fromkeys(names))


def _scene(
    route: m.RouteResult, settings: Settings, published: bool, aspect: float, slots: Mapping[str, int]
) -> Scene:
    middle = len(route.lon_deg) // 2
    origin = float(route.lon_deg[middle]), float(route.lat_deg[middle])
    x, y = flat(route.lon_deg, route.lat_deg, origin)
    edges = spread_edges_m(settings)
    spread = route.station_spread_m
    classes = [spread_class(value, edges) if math.isfinite(value) else -1 for value in spread.tolist()]
    receivers = _receiver_names(route)
    paths = tuple(_path(trace, slots[trace.receiver], origin) for trace in route.traces)
    ground = _Ground(line_m=np.column_stack([x, y]), paths=paths)
    whole = _whole(route, ground, aspect)
    shots = [whole, *_latest_fix(route, ground, aspect, whole.turn_rad)]
    shots += [_place(route, ground, entry, settings, aspect, whole.turn_rad) for entry in route.film]
    return Scene(
        name=_name(route),
        length_m=route.length_m,
        station_m=route.station_m,
        x_m=x,
        y_m=y,
        spread_class=np.array(classes, dtype=np.int64),
        edges_m=edges,
        receivers=tuple(shown_name(name) for name in receivers),
        looks=tuple(slots[name] for name in receivers),
        paths=paths,
        shots=tuple(shots),
        timed=bool(np.isfinite(route.crossing_s).any()),
        published=published,
    )


def _path(trace: m.TraceResult, slot: int, origin: tuple[float, float]) -> Path:
    x, y = flat(trace.lon_deg, trace.lat_deg, origin)
    time = trace.time_s
    if not np.isfinite(time).any():
        time = trace.station_m / PACE_M_S
    known = np.flatnonzero(np.isfinite(time))
    if 0 < len(known) < len(time):
        time = np.interp(np.arange(len(time)), known, time[known])
    return Path(
        label=printable(" · ".join(part for part in (trace.receiver, trace.ride) if part), 60),
        look=slot,
        x_m=x,
        y_m=y,
        time_s=time,
        station_m=trace.station_m,
        piece=np.cumsum(trace.break_before).astype(np.int64),
    )


# --- shots -------------------------------------------------------------------------------------------


def _whole(route: m.RouteResult, ground: _Ground, aspect: float) -> Shot:
    rides = len({trace.ride for trace in route.traces})
    receivers = len(_receiver_names(route))
    told = route.told_spread
    value, low, high = rounded_interval(told.value, told.low, told.high)
    spread = f"spread {with_interval(value, low, high, 'm')}" if value is not None else "spread not known"
    traces = counted(len(route.traces), "trace")
    who = f"{traces} from {counted(rides, 'ride')}, {counted(receivers, 'watch', 'watches')}"
    return _shot(
        route, ground, aspect, kind="whole", title=_name(route), verdict=None,
        lines=(f"{kilometres(route.length_m)} · {spread}", who, ""), span=(0.0, float(route.station_m[-1])),
    )  # fmt: skip


def _name(route: m.RouteResult) -> str:
    return printable(route.title or route.name, 60)


def _latest_fix(route: m.RouteResult, ground: _Ground, aspect: float, turn: float) -> list[Shot]:
    """Return the shot of the first fix that cost most of the route; none where none cost much."""
    late = [t for t in route.traces if t.first_fix.value_s > 0 and t.first_fix.missing_m >= LATE_M]
    if not late:
        return []
    trace = max(late, key=lambda t: (t.first_fix.missing_m, t.first_fix.value_s))
    fix, start = trace.first_fix, float(route.station_m[0])
    end = start + fix.missing_m
    mates = [t for t in route.traces if t.ride == trace.ride and t is not trace]
    known = [
        f"{shown_name(t.receiver)} after {t.first_fix.value_s:.0f} s"
        for t in mates
        if math.isfinite(t.first_fix.value_s)
    ]
    beside = f"on the same ride: {', '.join(known[:MATES])}" if known else ""
    beyond = end + max(LATE_M, 0.4 * fix.missing_m)
    shot = _shot(
        route, ground, aspect, kind="fix", verdict=None,
        title=f"{shown_name(trace.receiver)}, ride {printable(trace.ride, 12)}: first fix",
        lines=(f"{fix.value_s:.0f} s, {fix.missing_m:.0f} m missing", beside, ""),
        span=(start, min(float(route.station_m[-1]), beyond)), turn=turn,
    )  # fmt: skip
    return [replace(shot, gap_m=(start, end), row=trace.number)]


def _place(
    route: m.RouteResult,
    ground: _Ground,
    entry: m.FilmEntry,
    settings: Settings,
    aspect: float,
    turn: float,
) -> Shot:
    rule = f"{entry.verdict}: {verdict_rule_short(entry.verdict, settings)}"
    parts = [printable(said(one), 600) for one in entry.why]
    ends = [kilometres(round(at_m)) for at_m in (entry.from_m, entry.to_m)]
    return _shot(
        route, ground, aspect, kind="place", title=" to ".join(ends), verdict=entry.verdict,
        lines=("; ".join(parts[:2]), "; ".join(parts[2:]), rule), span=(entry.from_m, entry.to_m),
        turn=turn,
    )  # fmt: skip


def _shot(
    route: m.RouteResult, ground: _Ground, aspect: float, *, kind: str, title: str,
    verdict: m.Verdict | None, lines: tuple[str, str, str], span: tuple[float, float],
    turn: float | None = None,
) -> Shot:  # fmt: skip
    """Return a shot; with a ``turn`` the ground is turned so, as in all shots of its route."""
    here = (route.station_m >= span[0]) & (route.station_m <= span[1])
    if here.sum() < 2:
        here = np.zeros(len(route.station_m), dtype=bool)
        first = min(int(np.searchsorted(route.station_m, span[0])), len(here) - 2)
        here[first : first + 2] = True
    points = ground.between(here, span, kind != "whole")
    if turn is None:
        turn, centre, half = framed(points, aspect, int(here.sum()) - 1)
    else:
        centre, half = extent(points, turn)
    width = max(half[0], LABELS * half[1] * aspect)
    enter, seconds = _times(route, here)
    return Shot(
        kind=kind, title=title, verdict=verdict, lines=lines, from_m=span[0], to_m=span[1],
        centre_m=centre, half_width_m=width, half_height_m=width / aspect, half_m=half, turn_rad=turn,
        enter_s=enter, seconds=seconds,
    )  # fmt: skip


def _times(route: m.RouteResult, here: m.Bools) -> tuple[m.Floats, float]:
    """Return when each trace enters the stations ``here``, shape (T,), and how long rides take through.

    A trace that logged nothing there enters with its companions of the same ride, and else when the
    others' median says that it did.
    """
    crossing = route.crossing_s[:, here]
    if not np.isfinite(crossing).any():
        pace = np.broadcast_to(route.station_m[here] / PACE_M_S, crossing.shape)
        return pace[:, 0].copy(), float(pace[0, -1] - pace[0, 0])
    enter = crossing[:, 0].copy()
    rides = np.array([trace.ride for trace in route.traces])
    took = _median_columns(crossing - enter[:, None])
    for row in np.flatnonzero(~np.isfinite(enter)):
        mates = enter[(rides == rides[row]) & np.isfinite(enter)]
        known = np.flatnonzero(np.isfinite(crossing[row]) & np.isfinite(took))
        if len(mates):
            enter[row] = mates[0]
        elif len(known):
            enter[row] = crossing[row, known[0]] - took[known[0]]
    length = crossing[:, -1] - enter
    length = length[np.isfinite(length) & (length > 0)]
    fallback = float(np.ptp(route.station_m[here])) / PACE_M_S
    return enter, float(np.median(length)) * 1.25 if len(length) else fallback


def _median_columns(values: m.Floats) -> m.Floats:
    """Return the median of every column, NaN where it has no figure, shape (S,)."""
    out = np.full(values.shape[1], np.nan)
    some = np.isfinite(values).any(axis=0)
    out[some] = np.nanmedian(values[:, some], axis=0)
    return out
