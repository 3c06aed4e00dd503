"""report.html and map.html: one file each, opened offline, with a policy that lets nothing else in."""

from __future__ import annotations

import base64
import re
from dataclasses import asdict
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from trackspread import model as m
from trackspread.errors import printable
from trackspread.report import style, words
from trackspread.report.charts import NARROW, SIDES_PX, WIDE, Chart, receiver_order, route_charts
from trackspread.report.headlines import pair_headlines, route_headlines
from trackspread.report.map_words import MapWords
from trackspread.report.page_tables import page_table
from trackspread.report.policy import Basemap, json_block, with_policy
from trackspread.report.route_map import RouteMap, leaflet_files, make_map
from trackspread.results.document import Document
from trackspread.results.rounding import counted, plain, share, span, with_interval
from trackspread.results.tables import Table, inputs_table, route_tables

Context = dict[str, Any]

EMPTY = {
    "stretches": "No stretch was found.",
    "film": "No segment could be judged.",
    "receivers": "No receiver is known.",
}
ABOUT = {
    "traces": "Offsets are those of each trace from the consensus of the other rides.",
    "fixes": "First fix: first logged position. Settled fix: from here on the trace stays within the band "
    "for the hold. Both count from the start; where no start is known they are not measurable.",
    "segments": "Spread with its interval; a segment without two traces has none.",
    "stretches": "Where one trace leaves the others by more than chance allows. Side: as seen in the "
    "direction of travel.",
    "receivers": "Over all rides of one receiver. Rides that never settled count as later than all others.",
    "film": "Runs of like segments: what to show, and what to say with it.",
    "pairs": "SD: standard deviation across the line of one receiver alone, and of what both share.",
}


def report_page(analysis: m.Analysis, document: Document, basemap: Basemap | None = None) -> str:
    """Return report.html: the answer in words, then maps, charts and tables of every route."""
    map_words = MapWords(analysis, document)
    routes = [
        _route(number, route, shown, map_words, analysis.settings)
        for number, (route, shown) in enumerate(zip(analysis.routes, document["routes"], strict=True))
    ]
    private = words.PUBLISHED if analysis.published else words.PRIVATE
    head, _, rest = private.partition(":")
    context = {
        "opening": list(map(_unbroken, words.opening(document))),
        "published": analysis.published,
        "privacy": {"head": f"{head}:", "rest": rest},
        "routes": routes,
        "aside": _aside(document),
        "inferred": _inferred(document),
        "notes": [printable(note, 400) for note in document["notes"]],
        "inputs": _table(inputs_table(document), "all", None),
        "rules": _rules(analysis.settings),
        "method": words.METHOD,
        "settings": [(name.replace("_", " "), _setting(value)) for name, value in analysis.settings.items()],
        "grids": [_grid(route) for route in document["routes"]],
        "cautions": words.CAUTIONS,
        "report_js": _static("report.js"),
    }
    return _finished(
        "report.html", ("base.css", "route_map.css", "report.css"), context, analysis, document, basemap
    )


def map_page(analysis: m.Analysis, document: Document, basemap: Basemap | None = None) -> str:
    """Return map.html: the map of all routes alone, in the whole window."""
    numbered = list(enumerate(analysis.routes))
    made = make_map(numbered, MapWords(analysis, document), analysis.settings, "whole")
    context = {
        "made": _marked(made),
        "plans": [made.data],
        "routes": [_key(number, route, analysis.settings) for number, route in numbered],
        "published": analysis.published,
        "privacy": words.PUBLISHED if analysis.published else words.PRIVATE,
        "caution": " ".join(words.CAUTIONS[2:3]),
    }
    return _finished(
        "map.html", ("base.css", "route_map.css", "map.css"), context, analysis, document, basemap
    )


def _finished(
    template: str,
    sheets: tuple[str, ...],
    context: Context,
    analysis: m.Analysis,
    document: Document,
    basemap: Basemap | None,
) -> str:
    """Fill a template with what all pages share, then seal it with its policy."""
    leaflet, leaflet_css = leaflet_files()
    plans = context.get("plans") or [route["data"] for route in context["routes"]]
    css = "\n".join([style.css_variables(), _plot_sides(), leaflet_css, *map(_static, sheets)])
    shared = {
        "version": analysis.version,
        "created": (document["created"] or "").replace("T", " ").replace("Z", " UTC"),
        "css": Markup(css),
        "leaflet": Markup(leaflet),
        "map_js": _static("route_map.js"),
        "data": Markup(json_block({"plans": plans, "basemap": asdict(basemap) if basemap else None})),
        "glyphs": dict(style.VERDICT_GLYPHS),
    }
    environment = Environment(
        loader=PackageLoader("trackspread.report"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    page = environment.get_template(template).render(**context, **shared)
    return with_policy(page.lstrip(), basemap.source if basemap else "") + "\n"


def _plot_sides() -> str:
    """Where the plotted area of a chart lies, as CSS: what stands under a chart keeps to it."""
    rules = []
    for (width, _), query in ((WIDE, ""), (NARROW, "@media (max-width:40rem)")):
        left, right = SIDES_PX[width]
        area = f":root{{--plot-left:{left / width:.4%};--plot-width:{1 - (left + right) / width:.4%}}}"
        rules.append(f"{query}{{{area}}}" if query else area)
    return "\n".join(rules)


def _unbroken(prose: str) -> str:
    """Keep a number and its unit on one line."""
    return re.sub(r"(?<=\d) (?=(m|km|s|%)\b|%)", "\u00a0", prose)


def _static(name: str) -> Markup:
    """One of our own files; Markup, because it is ours."""
    return Markup((files("trackspread.report") / "templates" / name).read_text("utf-8"))


def _marked(plan: RouteMap) -> Context:
    return {"html": Markup(plan.html.strip()), "script": Markup(plan.script.strip())}


# --- one route ---------------------------------------------------------------------------------------


def _route(
    number: int, route: m.RouteResult, shown: Document, map_words: MapWords, settings: style.Settings
) -> Context:
    plan = make_map([(number, route)], map_words, settings, f"plan{number}")
    charts = [_chart(chart, route) for chart in route_charts(route, settings)]
    tables = {
        t.name: _table(t, f"route-{number}-{t.name}", number, f"route {number + 1}")
        for t in route_tables(shown)
    }
    along = [chart for chart in charts if not chart["name"].startswith("pair")]
    pairs = [chart for chart in charts if chart["name"].startswith("pair")]
    order = ("film", "segments", "stretches", "traces", "fixes", "receivers")
    return _key(number, route, settings) | {
        "lead": _unbroken(words.route_lead(shown)),
        "notes": [printable(note, 400) for note in shown["notes"]],
        "figures": route_headlines(shown),
        "plan": _marked(plan),
        "data": plan.data,
        "charts": along,
        "pairs": [
            {"sentence": _pair_sentence(pair), "chart": chart, "figures": pair_headlines(pair)}
            for pair, chart in zip(shown["pairs"], pairs, strict=True)
        ],
        "tables": [tables[name] for name in order],
        "pair_table": tables["pairs"],
        "references": [_reference(reference) for reference in shown["references"]],
        **_strip(number, route, shown),
    }


def _key(number: int, route: m.RouteResult, settings: style.Settings) -> Context:
    """What the key of a map says of one route."""
    edges = style.spread_edges_m(settings)
    classes = []
    for i, low in enumerate(edges):
        high = edges[i + 1] if i + 1 < len(edges) else None
        if high == low:
            continue
        label = f"above {plain(low)} m" if high is None else f"{plain(low)} to {plain(high)} m"
        classes.append({"number": i, "label": label})
    return {
        "number": number,
        "name": printable(route.name, 60),
        "classes": classes,
        "thresholds": f"By spread, steady up to {float(settings['steady_m']):g} m, torn above "
        f"{float(settings['torn_m']):g} m; a trace that leaves the others (thick) tears a segment too.",
        "receivers": _receivers(route),
    }


def _receivers(route: m.RouteResult) -> list[Context]:
    looks, dashes = len(style.RECEIVER_COLOURS), len(style.RECEIVER_DASHES)
    return [
        {"name": printable(name, 40) or "unknown receiver", "look": f"k{i % looks} d{i % dashes}"}
        for i, name in enumerate(receiver_order(route))
    ]


def _chart(chart: Chart, route: m.RouteResult) -> Context:
    about = {
        "spread": "Line: spread in a window of one segment. Band: its interval.",
        "offsets": "Thick where a trace is in a stretch or not yet settled.",
        "fixes": "Ring: first fix. Disc: settled fix. Arrow: never settled.",
    }.get(chart.name, "One line a ride. Band: 95 % limits of agreement. Line: mean difference.")
    return {
        "name": chart.name,
        "title": chart.title,
        "alt": chart.alt,
        "about": about,
        "wide": _image(chart.wide),
        "narrow": _image(chart.narrow),
        "along": chart.along,
        "walk": chart.name == "spread",
        "wide_sides": " ".join(f"{side:.4f}" for side in chart.sides[0]),
        "narrow_sides": " ".join(f"{side:.4f}" for side in chart.sides[1]),
        "receivers": _receivers(route) if chart.name == "offsets" else [],
    }


def _image(svg: bytes) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")


def _table(table: Table, identity: str, route: int | None, of: str = "") -> Context:
    return {
        "id": identity,
        "label": f"{table.title}, {of}" if of else table.title,
        "table": page_table(table, route),
        "about": ABOUT.get(table.name, ""),
        "empty": EMPTY.get(table.name, "Nothing to list."),
    }


def _strip(number: int, route: m.RouteResult, shown: Document) -> Context:
    """The verdicts along the route, each of its own height, over the same stations as the charts."""
    first, last = float(route.station_m[0]), float(route.station_m[-1])
    heights = {"steady": 7, "wavering": 14, "torn": 24, "thin": 4}
    pieces = [
        {
            "verdict": s["verdict"],
            "x": f"{s['from_m']:g}",
            "width": f"{s['to_m'] - s['from_m']:g}",
            "y": 24 - heights[s["verdict"]],
            "height": heights[s["verdict"]],
            "frame": f"{number} {s['from_m']:g} {s['to_m']:g}",
            "title": f"{span(s['from_m'], s['to_m'])}: {s['verdict']}, spread "
            + with_interval(s["spread"]["value_m"], s["spread"]["low_m"], s["spread"]["high_m"], "m"),
        }
        for s in shown["segments"]
    ]
    parts = ", ".join(
        f"{share(words.film_share(shown, verdict))} {verdict}" for verdict in style.VERDICT_GLYPHS
    )
    return {
        "strip": pieces,
        "strip_box": f"{first:g} 0 {max(1.0, last - first):g} 24",
        "strip_alt": f"Verdicts along the route: {parts}.",
    }


def _rules(settings: style.Settings) -> list[Context]:
    return [
        {
            "verdict": verdict,
            "text": style.verdict_rule(verdict, settings),
            "advice": style.VERDICT_ADVICE[verdict].capitalize(),
        }
        for verdict in style.VERDICT_GLYPHS
    ]


def _pair_sentence(pair: Document) -> str:
    return printable(pair["sentence"], 300)


def _reference(reference: Document) -> str:
    bias, rmse, within = reference["bias"], reference["rmse"], reference["accuracy_95"]
    told = [
        f"{name} {with_interval(e['value_m'], e['low_m'], e['high_m'], 'm')}"
        for name, e in (("bias", bias), ("RMSE", rmse), ("95 % within", within))
    ]
    return f"{printable(reference['receiver'], 40)}: {', '.join(told)}."


# --- inputs and settings -----------------------------------------------------------------------------


def _aside(document: Document) -> list[str]:
    lines = [
        f"{printable(record['file'], 120)}: {printable(record['reason'], 200)}."
        for record in document["inputs"]
        if record["status"] != "used"
    ]
    points = sum(record["points_set_aside"] for record in document["inputs"])
    lines += [printable(problem, 400) for problem in document["problems"]]
    return lines + (
        [f"{counted(points, 'point')} within traces that were used; see findings."] if points else []
    )


def _inferred(document: Document) -> str:
    told = []
    for name in ("receiver", "ride"):
        guessed = sum(r[f"{name}_from"] not in ("sheet", "none") for r in document["inputs"])
        if guessed:
            told.append(f"the {name} of {counted(guessed, 'trace')}")
    if not told:
        return ""
    return f"Inferred, not given: {' and '.join(told)}. The table says from what; rides.csv corrects it."


def _setting(value: float | int | str | bool) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _grid(route: Document) -> str:
    error = plain(route["grid"]["scale_error_ppm"])
    return f"Grid of {words.name_of(route)}: {route['grid']['proj4']}, scale error at most {error} ppm."
