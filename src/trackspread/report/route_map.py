"""The map of one or more routes, made by folium: our own numbers and ids go in, nothing that was read.

folium compiles what it is given as templates, so no name, note or file enters it. It gives the Leaflet
calls; names travel beside them in a block of JSON and are set as text by templates/route_map.js. All looks
come from class names (templates/route_map.css). Nothing is loaded: no tiles, fonts, icons or scripts of
others.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import folium
import numpy as np
from folium.template import Template
from folium.vector_layers import path_options

from trackspread import model as m
from trackspread.report import style
from trackspread.report.charts import receiver_order
from trackspread.report.map_words import MapWords
from trackspread.results.layers import thinned
from trackspread.results.places import Line, fix_positions, line_between, pieces, trace_between

THINNING_M, LINE_THINNING_M = 0.5, 0.05
MOST_MARKS = 12
FIX_PX = MappingProxyType({"first": 8.0, "settled": 4.5})
MOST_STATIONS = 2000
LAYERS = ("traces", "spread", "stretches", "first", "settled", "marks")


@dataclass(kw_only=True)
class RouteMap:
    """What a page needs to show a map: its element, its script, and the data that route_map.js reads."""

    html: str
    script: str
    data: dict[str, Any] = field(default_factory=dict)


def leaflet_files() -> tuple[str, str]:
    """Return script and style sheet of Leaflet, without the pictures and maps that they would load."""
    folder = files("js_lib_leaflet") / "static" / "js_lib_leaflet"
    script = (folder / "leaflet.js").read_text("utf-8")
    sheet = (folder / "leaflet.css").read_text("utf-8")
    return re.sub(r"//# sourceMappingURL=.*", "", script), re.sub(r"url\([^)]*\)", "none", sheet)


def make_map(
    routes: Sequence[tuple[int, m.RouteResult]], words: MapWords, settings: style.Settings, prefix: str
) -> RouteMap:
    """Return the map of ``routes`` (their numbers in the report and themselves), first one shown.

    ``prefix`` keeps the names of several maps of one page apart; it must be a plain word.
    """
    middle = _middle(routes[0][1])
    ground = folium.Map(
        location=middle, zoom_start=14, tiles=None, zoom_control=False, attribution_control=False,
        zoom_snap=0.25, font_size="1em",
    )  # fmt: skip
    ground.default_js, ground.default_css = [], []
    _call(ground, prefix)
    shown = []
    for number, route in routes:
        draw = _Draw(ground=ground, prefix=f"{prefix}r{number}", route=route, settings=settings, words=words)
        draw.all_layers()
        shown.append(draw.data(number))
    figure: Any = ground.get_root()
    figure.render()
    return RouteMap(
        html=figure.html.render(),
        script=figure.script.render(),
        data={"map": ground.get_name(), "routes": shown},
    )


def _call(element: Any, name: str) -> Any:
    """Give an element a name of its own in place of a random one: the same analysis, the same bytes."""
    element._id = name
    return element


def _middle(route: m.RouteResult) -> list[float]:
    return [round(float(route.lat_deg.mean()), 6), round(float(route.lon_deg.mean()), 6)]


class _Lines(folium.MacroElement):
    """All lines of one layer, by name: folium compiles a template for every element, and that takes long."""

    _template = Template(
        """
        {% macro script(this, kwargs) %}
            {%- for name, places, options in this.lines %}
            var {{ name }} = L.polyline(
                {{ places|tojson }},
                {{ options|tojson }}
            ).addTo({{ this._parent.get_name() }});
            {% endfor %}
        {% endmacro %}
        """
    )

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self.lines: list[tuple[str, Any, Any]] = []


@dataclass
class _Draw:
    """Draws one route on a ground, and notes the words of everything that has some."""

    ground: folium.Map
    prefix: str
    route: m.RouteResult
    settings: style.Settings
    words: MapWords

    def __post_init__(self) -> None:
        self.marks: dict[str, list[str]] = {}
        self.labels: dict[str, str] = {}
        self.groups: dict[str, Any] = {}
        self.lines: dict[str, list[tuple[str, Any, Any]]] = {}
        self.receivers = receiver_order(self.route)

    def all_layers(self) -> None:
        """Draw from the bottom up."""
        for number, _ in enumerate(self.receivers):
            self._group(f"traces{number}")
        for layer in LAYERS[1:]:
            self._group(layer)
        self._traces()
        self._spread()
        self._stretches()
        self._fixes()
        self._kilometres()

    def data(self, number: int) -> dict[str, Any]:
        """Return what route_map.js needs of this route."""
        route = self.route
        step = max(1, -(-len(route.station_m) // MOST_STATIONS))
        pick = slice(None, None, step)
        return {
            "route": number,
            "groups": {name: group.get_name() for name, group in self.groups.items()},
            "marks": self.marks,
            "labels": self.labels,
            "segments": [[s.from_m, s.to_m, s.verdict] for s in route.segments],
            "stations": {
                "m": _numbers(route.station_m[pick], 1),
                "lon": _numbers(route.lon_deg[pick], 6),
                "lat": _numbers(route.lat_deg[pick], 6),
                "spread": _numbers(route.station_spread_m[pick], 1),
                "low": _numbers(route.station_low_m[pick], 1),
                "high": _numbers(route.station_high_m[pick], 1),
            },
        }

    def _group(self, layer: str) -> None:
        group = folium.FeatureGroup(control=False, show=False)
        self.groups[layer] = _call(group, f"{self.prefix}{layer}")
        group.add_to(self.ground)
        lines = _Lines()
        _call(lines, f"{self.prefix}{layer}").add_to(group)
        self.lines[layer] = lines.lines

    def _line(self, layer: str, name: str, lines: Sequence[Line], looks: str, weight: float = 3) -> str:
        drawn = [self._latlon(*line) for line in lines if len(line[0]) > 1]
        if not drawn:
            return ""
        options = path_options(
            line=True, weight=weight, class_name=looks, line_cap="butt", smooth_factor=0.5, fill=False
        )
        name = f"poly_line_{self.prefix}{name}"
        self.lines[layer].append((name, drawn, options))
        return name

    def _dot(self, layer: str, name: str, lon_deg: float, lat_deg: float, looks: str, radius: float) -> str:
        lat, lon = self._latlon(np.array([lon_deg]), np.array([lat_deg]))[0]
        dot = folium.CircleMarker([lat, lon], radius=radius, class_name=looks, fill=True)
        _call(dot, f"{self.prefix}{name}").add_to(self.groups[layer])
        return str(dot.get_name())

    def _latlon(self, lon_deg: m.Floats, lat_deg: m.Floats) -> list[list[float]]:
        """Pairs of latitude and longitude, the latter on the turn around the globe that the line is on."""
        centre = self.route.lon_deg.mean()
        lon = lon_deg - 360.0 * np.round((lon_deg.mean() - centre) / 360.0)
        return np.column_stack([lat_deg, lon]).round(6).tolist()  # type: ignore[no-any-return]

    def _look(self, receiver: str) -> str:
        number = self.receivers.index(receiver)
        return f"k{number % len(style.RECEIVER_COLOURS)} d{number % len(style.RECEIVER_DASHES)}"

    def _traces(self) -> None:
        for trace in self.route.traces:
            number = self.receivers.index(trace.receiver)
            lines = [thinned(*line, THINNING_M) for line in pieces(trace)]
            looks = f"trace {self._look(trace.receiver)}"
            name = self._line(f"traces{number}", f"t{trace.number}", lines, looks, 1.6)
            self.marks |= {name: self.words.trace(self.route, trace)} if name else {}

    def _spread(self) -> None:
        route = self.route
        edges = style.spread_edges_m(self.settings)
        whole = thinned(route.lon_deg, route.lat_deg, LINE_THINNING_M)
        self._line("spread", "case", [whole], "case", 10)
        for i, segment in enumerate(route.segments):
            line = thinned(*line_between(route, segment.from_m, segment.to_m), LINE_THINNING_M)
            known = np.isfinite(segment.spread.value)
            looks = f"seg c{style.spread_class(segment.spread.value, edges)}" if known else "seg unknown"
            name = self._line("spread", f"s{i}", [line], looks, 7)
            self.marks |= {name: self.words.segment(route, i)} if name else {}

    def _stretches(self) -> None:
        for i, stretch in enumerate(self.route.stretches):
            lines = [thinned(*line, THINNING_M) for line in trace_between(self.route, stretch)]
            self._line("stretches", f"w{i}", lines, "halo", 8)
            looks = f"stretch {self._look(stretch.receiver)}"
            name = self._line("stretches", f"x{i}", lines, looks, 4)
            self.marks |= {name: self.words.stretch(self.route, i)} if name else {}

    def _fixes(self) -> None:
        for trace in self.route.traces:
            for kind, (lon, lat) in fix_positions(trace).items():
                looks = f"fix {kind} {self._look(trace.receiver)}"
                name = self._dot(kind, f"{kind[0]}{trace.number}", lon, lat, looks, FIX_PX[kind])
                self.marks[name] = self.words.fix(self.route, trace, kind)

    def _kilometres(self) -> None:
        for i, (station, label) in enumerate(_marks(self.route, self.words.ends)):
            lon = float(np.interp(station, self.route.station_m, self.route.lon_deg))
            lat = float(np.interp(station, self.route.station_m, self.route.lat_deg))
            self.labels[self._dot("marks", f"m{i}", lon, lat, "kilometre", 3)] = label


def _marks(route: m.RouteResult, ends: tuple[str, str]) -> Iterator[tuple[float, str]]:
    """Both ends, and every kilometre between (every 2, 5, 10, … on long routes)."""
    first, last = float(route.station_m[0]), float(route.station_m[-1])
    yield first, ends[0]
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 10**9) if (last - first) / 1000 / s <= MOST_MARKS)
    for number in range(step * (int(first / 1000 / step) + 1), int(last / 1000) + 1, step):
        if last - 1000 * number > 150:
            yield 1000.0 * number, f"{number} km"
    yield last, ends[1]


def _numbers(values: m.Floats, places: int) -> list[float | None]:
    return [round(float(v), places) if np.isfinite(v) else None for v in values]
