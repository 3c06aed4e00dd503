"""The maps: the ground is made by folium, what lies on it is data that templates/route_map.js draws.

folium compiles what it is given as templates, so no name, note or file enters it: it gets a place and ids of
our own. All looks come from class names (templates/route_map.css). Nothing is loaded: no tiles, fonts, icons
or scripts of others. A line is drawn no finer than can be seen; figures come from the full data.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from math import isfinite
from typing import Any

import folium
import numpy as np

from trackspread import model as m
from trackspread.options import Settings
from trackspread.report import style
from trackspread.report.charts.offsets import MOST_LINES
from trackspread.report.charts.pair import pair_data
from trackspread.report.watches import look
from trackspread.results.lines import thinned
from trackspread.results.places import Line, fix_positions, line_between, pieces, trace_between, variant_line
from trackspread.results.words.marks import MapWords

THINNINGS_M = (0.5, 1.0, 2.0, 4.0, 8.0)  # m, tried in turn
MOST_MAP_POINTS = 24_000
"""The finest thinning is taken with which the traces of a route have no more points than this."""
LINE_THINNING_M = 0.05  # m, thinning of the centreline
MOST_MARKS = 12  # marks of kilometres
MARK_STEPS_KM = (1, 2, 5, 10, 20, 50, 100, 10**9)  # km, the first that is coarse enough
BEFORE_END_M = 150.0  # m, between the last of them and the end
MOST_DRAWN_STATIONS, MOST_OFFSETS = 2000, 400  # stations of the map and of a trace's offsets, bound its file
FIRST_PX, RING_PX, RINGS_PX, SETTLED_PX = 6.0, 3.5, 17.5, 4.5
"""Radius of the ring of a first fix for the first watch; what each next one adds, and all at most;
radius of a settled fix."""
SCALE = 1e6
"""Coordinates are sent as whole numbers of 1e-6 degrees (0.1 m), each as the step from the one before."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Ground:
    """What folium makes: the element of a map, the script that fills it, and the name of the map there."""

    html: str
    script: str
    name: str


def leaflet_files() -> tuple[str, str]:
    """Return script and style sheet of Leaflet, without the pictures and maps that they would load.

    Returns
    -------
    tuple of str
        Script, style sheet.
    """
    folder = files("js_lib_leaflet") / "static" / "js_lib_leaflet"
    script = (folder / "leaflet.js").read_text("utf-8")
    sheet = (folder / "leaflet.css").read_text("utf-8")
    return re.sub(r"//# sourceMappingURL=.*", "", script), re.sub(r"url\([^)]*\)", "none", sheet)


def make_ground(route: m.RouteResult, prefix: str) -> Ground:
    """Return an empty map around a route.

    Parameters
    ----------
    route : RouteResult
    prefix : str
        Names the map; a plain word of ours, never of a file.

    Returns
    -------
    Ground
    """
    middle = [round(float(degrees.mean()), 6) for degrees in (route.lat_deg, route.lon_deg)]
    ground = folium.Map(
        location=middle, zoom_start=14, tiles=None, zoom_control=False, attribution_control=False,
        zoom_snap=0.25, font_size="1em",
    )  # fmt: skip
    ground.default_js, ground.default_css = [], []
    ground._id = prefix  # in place of a random one: the same analysis, the same bytes
    figure: Any = ground.get_root()
    figure.render()
    return Ground(html=figure.html.render(), script=figure.script.render(), name=ground.get_name())


def route_data(
    number: int,
    route: m.RouteResult,
    words: MapWords,
    settings: Settings,
    watches: Mapping[str, int],
) -> dict[str, Any]:
    """Return all that the maps and charts of a page need of one route, each mark with its words.

    Parameters
    ----------
    number : int
        Of the route, from 0.
    route : RouteResult
    words : MapWords
    settings : mapping
        Those of the analysis, whose thresholds are the classes of spread.
    watches : mapping
        Slots of all watches of the analysis (`rides.colours.watch_slots`), in their order.

    Returns
    -------
    dict
        For `report.policy.json_block`; lines as `encoded` gives them, ``None`` for what is not known.
    """
    draw = _Draw(route=route, settings=settings, words=words, watches=watches)
    draw.all_layers()
    step = max(1, -(-len(route.station_m) // MOST_DRAWN_STATIONS))
    pick = slice(None, None, step)
    return {
        "route": number,
        "lines": draw.lines,
        "dots": draw.dots,
        "step": round(route.station_step_m, 3),
        "segments": [[s.from_m, s.to_m, s.verdict] for s in route.segments],
        "stations": {
            "m": _numbers(route.station_m[pick], 1),
            "lon": _numbers(route.lon_deg[pick], 6),
            "lat": _numbers(route.lat_deg[pick], 6),
            "spread": _numbers(route.station_spread_m[pick], 1),
            "low": _numbers(route.station_low_m[pick], 1),
            "high": _numbers(route.station_high_m[pick], 1),
        },
        "offsets": _offsets(route, words),
        "pairs": list(map(pair_data, route.pairs)),
    }


def _offsets(route: m.RouteResult, words: MapWords) -> dict[str, Any]:
    """Return what a chart of offsets says where it is pointed at: of few traces alone."""
    if len(route.traces) > MOST_LINES:
        return {"step": 1, "names": [], "values": []}
    step = max(1, -(-len(route.station_m) // MOST_OFFSETS))
    return {
        "step": step,
        "names": [words.trace(route, trace)[0] for trace in route.traces],
        "values": [_numbers(route.offset_m[trace.number][::step], 1) for trace in route.traces],
    }


def encoded(lon_deg: m.Floats, lat_deg: m.Floats, route: m.RouteResult) -> list[int]:
    """Return a line as whole numbers: latitude and longitude in turn, each as the step from the one before.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (P,)
        Degrees.
    route : RouteResult
        On whose turn around the globe the line is put.

    Returns
    -------
    list of int
        2 P numbers in units of 1 / `SCALE` degrees.
    """
    lon = lon_deg - 360.0 * np.round((lon_deg.mean() - route.lon_deg.mean()) / 360.0)
    whole = np.rint(np.column_stack([lat_deg, lon]) * SCALE).astype(np.int64)
    steps = np.diff(whole, axis=0, prepend=np.zeros_like(whole[:1]))
    return steps.ravel().tolist()


@dataclass
class _Draw:
    """Notes everything that is drawn of one route, with its layer, its looks and its words."""

    route: m.RouteResult
    settings: Settings
    words: MapWords
    watches: Mapping[str, int]
    lines: list[dict[str, Any]] = field(default_factory=list)
    dots: list[dict[str, Any]] = field(default_factory=list)

    def all_layers(self) -> None:
        """Draw from the bottom up."""
        self._stretches()
        self._variants()
        self._traces()
        self._spread()
        self._fixes()
        self._kilometres()

    def _line(
        self, layer: str, lines: Sequence[Line], looks: str, words: Sequence[str] = (), **more: Any
    ) -> None:
        parts = [encoded(*line, self.route) for line in lines if len(line[0]) > 1]
        if parts:
            self.lines.append({"layer": layer, "look": looks, "parts": parts, "words": list(words), **more})

    def _dot(
        self, layer: str, lon_deg: float, lat_deg: float, looks: str, radius: float, words: Sequence[str]
    ) -> None:
        place = encoded(np.array([lon_deg]), np.array([lat_deg]), self.route)
        self.dots.append({"layer": layer, "look": looks, "at": place, "r": radius, "words": list(words)})

    def _looks(self, receiver: str) -> str:
        return look(self.watches[receiver])

    def _order(self, receiver: str) -> int:
        return list(self.watches).index(receiver)

    def _traces(self) -> None:
        drawn: list[list[Line]] = []
        for tolerance in THINNINGS_M:
            drawn = [[thinned(*line, tolerance) for line in pieces(trace)] for trace in self.route.traces]
            if sum(len(line[0]) for lines in drawn for line in lines) <= MOST_MAP_POINTS:
                break
        for trace, lines in zip(self.route.traces, drawn, strict=True):
            looks = f"trace {self._looks(trace.receiver)}"
            words = self.words.trace(self.route, trace)
            self._line("traces", lines, looks, words, watch=self._order(trace.receiver))

    def _spread(self) -> None:
        route = self.route
        edges = style.spread_edges_m(self.settings)
        whole = thinned(route.lon_deg, route.lat_deg, LINE_THINNING_M)
        self._line("spread", [whole], "case")
        for i, segment in enumerate(route.segments):
            line = thinned(*line_between(route, segment.from_m, segment.to_m), LINE_THINNING_M)
            own = {entry.receiver: entry.spread.value for entry in segment.receivers}
            classes = [_class(own.get(name, float("nan")), edges) for name in self.watches]
            words = self.words.segment(route, i)
            self._line("spread", [line], f"seg {_class(segment.spread.value, edges)}", words, by=classes)

    def _stretches(self) -> None:
        """Draw each stretch in the looks of its watch; what several show together is one event."""
        members = [self._members(event) for event in self.route.events]
        shared = {i for group in members if len(group) > 1 for i in group}
        for i, stretch in enumerate(self.route.stretches):
            looks = f"stretch {self._looks(stretch.receiver)}"
            words = self.words.stretch(self.route, i)
            more = {"alone": True} if i in shared else {}
            self._line("stretches", self._way(i), looks, words, watch=self._order(stretch.receiver), **more)
        for number, group in enumerate(members):
            if len(group) > 1:
                farthest = max(group, key=lambda i: abs(self.route.stretches[i].peak_m))
                words = self.words.event(self.route, number)
                self._line("stretches", self._way(farthest), "stretch event", words, together=True)

    def _way(self, stretch: int) -> list[Line]:
        return [
            thinned(*line, THINNINGS_M[0])
            for line in trace_between(self.route, self.route.stretches[stretch])
        ]

    def _members(self, event: m.Event) -> list[int]:
        """Return the stretches of an event that more than one watch shows."""
        if len(event.receivers) < 2:
            return []
        return [
            i
            for i, s in enumerate(self.route.stretches)
            if s.receiver in event.receivers and s.ride in event.rides and s.side == event.side
            and s.cause != "settling" and s.from_m >= event.from_m and s.to_m <= event.to_m
        ]  # fmt: skip

    def _variants(self) -> None:
        """Draw the way of each variant once, along one of its traces, with its name."""
        for number, variant in enumerate(self.route.variants):
            line = variant_line(self.route, variant)
            if line is None:
                continue
            words = self.words.variant(self.route, number)
            self._line("variants", [thinned(*line, THINNINGS_M[0])], "variant", words)
            middle = len(line[0]) // 2
            lon, lat = (float(degrees[middle]) for degrees in line)
            self._dot("marks", lon, lat, "kilometre", 2.0, words[:1])

    def _fixes(self) -> None:
        for trace in self.route.traces:
            order = self._order(trace.receiver)
            for kind, (lon, lat) in fix_positions(trace).items():
                step = min(RING_PX, RINGS_PX / len(self.watches))
                radius = FIRST_PX + step * order if kind == "first" else SETTLED_PX
                looks = f"fix {kind} {self._looks(trace.receiver)}"
                self._dot(kind, lon, lat, looks, radius, self.words.fix(self.route, trace, kind))
                self.dots[-1]["watch"] = order

    def _kilometres(self) -> None:
        for station, label in _marks(self.route, self.words.ends):
            lon = float(np.interp(station, self.route.station_m, self.route.lon_deg))
            lat = float(np.interp(station, self.route.station_m, self.route.lat_deg))
            self._dot("marks", lon, lat, "kilometre", 3.0, [label])


def _class(spread_m: float, edges: Sequence[float]) -> str:
    return f"c{style.spread_class(spread_m, edges)}" if np.isfinite(spread_m) else "unknown"


def _marks(route: m.RouteResult, ends: tuple[str, str]) -> Iterator[tuple[float, str]]:
    """Both ends, and every kilometre between (every 2, 5, 10, … on long routes)."""
    first, last = float(route.station_m[0]), float(route.station_m[-1])
    yield first, ends[0]
    length_km = (last - first) / 1000
    step = next(step for step in MARK_STEPS_KM if length_km / step <= MOST_MARKS)
    after_first = step * (int(first / 1000 / step) + 1)
    for number in range(after_first, int(last / 1000) + 1, step):
        if last - 1000 * number > BEFORE_END_M:
            yield 1000.0 * number, f"{number} km"
    yield last, ends[1]


def _numbers(values: m.Floats, places: int) -> list[float | None]:
    return [round(value, places) if isfinite(value) else None for value in values.tolist()]
