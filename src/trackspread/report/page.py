"""report.html and map.html: one file each, opened offline, with a policy that lets nothing else in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from trackspread import model as m
from trackspread.errors import printable
from trackspread.options import Settings
from trackspread.report import keys, page_notes, style
from trackspread.report.answer import rows_of
from trackspread.report.backdrop import NO_BACKDROP, Backdrop, lines_near, places_on, places_shown
from trackspread.report.charts.answer import FEW_ROWS, answer_pictures
from trackspread.report.charts.chart import figure_of, plot_sides
from trackspread.report.charts.pair import pair_figure
from trackspread.report.charts.route import route_charts
from trackspread.report.charts.strips import strips_of
from trackspread.report.page_tables import ABOUT, EMPTY, page_table
from trackspread.report.pair_figures import pair_headlines, pair_matrix
from trackspread.report.policy import Basemap, json_block, with_policy
from trackspread.report.route_map import Ground, encoded, leaflet_files, make_ground, route_data
from trackspread.report.watches import colours_to_keep, watches_of
from trackspread.results.document import Document
from trackspread.results.rounding import unbroken, with_interval
from trackspread.results.tables import Table, inputs_table, route_tables
from trackspread.results.words import findings as words
from trackspread.results.words.claims import claim_sentences
from trackspread.results.words.comparison import CAVEAT, level_words, verdict_sentence
from trackspread.results.words.marks import MapWords
from trackspread.results.words.names import shown_name
from trackspread.results.words.verdicts import VERDICT_GLYPHS

Context = dict[str, Any]


def report_page(
    analysis: m.Analysis,
    document: Document,
    basemap: Basemap | None = None,
    backdrop: Backdrop | None = None,
    drawn: Sequence[Context] = (),
) -> str:
    """Return report.html: the answer on its first screen, then every route, then how it was found.

    Parameters
    ----------
    analysis : Analysis
    document : dict
        Its document (`results.document.result_document`), for tables and sentences.
    basemap : Basemap, optional
        Tiles that were asked for; without them the page asks the network for nothing.
    backdrop : Backdrop, optional
        The user's own lines and places.
    drawn : sequence of dict, optional
        What `routes_drawn` gave, where it is there already.

    Returns
    -------
    str
        HTML with its policy; texts from files are escaped.
    """
    watches, under = watches_of(analysis), (basemap, backdrop or NO_BACKDROP)
    level = level_words(float(analysis.settings["confidence"]))
    rows = rows_of(analysis)
    answer = verdict_sentence(analysis)
    overview = make_ground(analysis.routes[0], "overview")
    numbered = list(enumerate(zip(analysis.routes, document["routes"], strict=True)))
    plans = [{"map": overview.name, "routes": [n for n, _ in numbered], "kind": "overview"}]
    context = {
        "counts": words.counts(document),
        "unknown": words.unknown_watches(document),
        "answer": answer,
        "answer_copy": f"{answer} {CAVEAT}",
        "pictures": list(map(Markup, answer_pictures(rows))),
        "stacked": len(rows) <= FEW_ROWS,
        "grouped": sum(bool(row.group) for row in rows) > 1,
        "overview": _marked(overview),
        "watches": keys.of_watches(watches),
        "scale": keys.of_spread(analysis.settings),
        "published": analysis.published,
        "privacy": words.PUBLISHED if analysis.published else words.PRIVATE,
        "routes": [
            _route(n, route, shown, watches, analysis.settings, level, places_on(under[1], n, route))
            for n, (route, shown) in numbered
        ],
        "aside": page_notes.aside(document),
        "inferred": page_notes.inferred(document),
        "colours": colours_to_keep(analysis),
        "notes": [printable(note, 400) for note in document["notes"]],
        "inputs": _table(inputs_table(document), "all", None),
        "rules": keys.of_verdicts(analysis.settings),
        "method": words.METHOD,
        "settings": [
            (name.replace("_", " "), page_notes.setting(value)) for name, value in analysis.settings.items()
        ],
        "grids": [page_notes.grid(route) for route in document["routes"]],
        "cautions": words.CAUTIONS,
        "share": "" if analysis.published else words.SHARE,
        "report_js": _static("report.js"),
        "pairs_js": _static("pair_charts.js"),
    }
    plans += [{"map": f"map_plan{n}", "routes": [n], "kind": "route"} for n, _ in numbered]
    sheets = ("base.css", "route_map.css", "report.css")
    drawn = drawn or routes_drawn(analysis, document)
    return _finished("report.html", sheets, context, analysis, document, plans, drawn, under)


def map_page(
    analysis: m.Analysis,
    document: Document,
    basemap: Basemap | None = None,
    backdrop: Backdrop | None = None,
    drawn: Sequence[Context] = (),
) -> str:
    """Return map.html: the map of all routes alone, in the whole window.

    Parameters
    ----------
    analysis : Analysis
    document : dict
        Its document (`results.document.result_document`), for the words of marks.
    basemap : Basemap, optional
        Tiles that were asked for; without them the page asks the network for nothing.
    backdrop : Backdrop, optional
        The user's own lines and places.
    drawn : sequence of dict, optional
        What `routes_drawn` gave, where it is there already.

    Returns
    -------
    str
        HTML with its policy; texts from files are escaped.
    """
    watches, under = watches_of(analysis), (basemap, backdrop or NO_BACKDROP)
    made = make_ground(analysis.routes[0], "whole")
    context = {
        "made": _marked(made),
        "watches": keys.of_watches(watches),
        "routes": [
            keys.of_route(number, route, watches, analysis.settings)
            for number, route in enumerate(analysis.routes)
        ],
        "published": analysis.published,
        "privacy": words.PUBLISHED if analysis.published else words.PRIVATE,
        "caution": " ".join(words.CAUTIONS[2:3]),
    }
    plans = [{"map": made.name, "routes": list(range(len(analysis.routes))), "kind": "whole"}]
    sheets = ("base.css", "route_map.css", "map.css")
    unpaired = [{**route, "pairs": []} for route in drawn or routes_drawn(analysis, document)]
    return _finished("map.html", sheets, context, analysis, document, plans, unpaired, under)


def routes_drawn(analysis: m.Analysis, document: Document) -> list[Context]:
    """Return what the maps and charts of both pages draw of every route.

    Parameters
    ----------
    analysis : Analysis
    document : dict
        Its document (`results.document.result_document`).

    Returns
    -------
    list of dict
        See `route_map.route_data`.
    """
    map_words, watches = MapWords(analysis, document), watches_of(analysis)
    return [
        route_data(number, route, map_words, analysis.settings, watches)
        for number, route in enumerate(analysis.routes)
    ]


def _finished(
    template: str,
    sheets: tuple[str, ...],
    context: Context,
    analysis: m.Analysis,
    document: Document,
    plans: list[Context],
    drawn: Sequence[Context],
    under: tuple[Basemap | None, Backdrop],
) -> str:
    """Fill a template with what all pages share, then seal it with its policy."""
    leaflet, leaflet_css = leaflet_files()
    basemap, backdrop = under
    data = {
        "plans": plans,
        "routes": list(drawn),
        "basemap": asdict(basemap) if basemap else None,
        "ground": [encoded(*line, analysis.routes[0]) for line in lines_near(backdrop, analysis.routes)],
        "places": places_shown(backdrop, analysis),
    }
    css = "\n".join([style.css_variables(), plot_sides(), leaflet_css, *map(_static, sheets)])
    shared = {
        "version": analysis.version,
        "created": (document["created"] or "").replace("T", " ").replace("Z", " UTC"),
        "css": Markup(css),
        "leaflet": Markup(leaflet),
        "map_js": _static("route_map.js"),
        "data": Markup(json_block(data)),
        "glyphs": dict(VERDICT_GLYPHS),
    }
    page = _templates().get_template(template).render(**context, **shared)
    return with_policy(page.lstrip(), basemap.source if basemap else "") + "\n"


@cache
def _templates() -> Environment:
    """Return what compiles the templates, each once."""
    return Environment(
        loader=PackageLoader("trackspread.report"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, finalize=_readable,
    )  # fmt: skip


def compile_templates() -> None:
    """Compile the templates ahead of the first page."""
    templates = _templates()
    for name in templates.list_templates(extensions=["html"]):
        templates.get_template(name)


def _readable(told: Any) -> Any:
    """Keep numbers and units together in what is text and not markup of our own."""
    return unbroken(told) if type(told) is str else told


def _static(name: str) -> Markup:
    """One of our own files; Markup, because it is ours."""
    return Markup((files("trackspread.report") / "templates" / name).read_text("utf-8"))


def _marked(plan: Ground) -> Context:
    return {"html": Markup(plan.html.strip()), "script": Markup(plan.script.strip())}


# --- one route ---------------------------------------------------------------------------------------


def _route(
    number: int,
    route: m.RouteResult,
    shown: Document,
    watches: Mapping[str, int],
    settings: Settings,
    level: str,
    places: list[tuple[float, str]],
) -> Context:
    charts = [figure_of(chart) for chart in route_charts(route, settings, watches, places)]
    tables = {
        t.name: _table(t, f"route-{number}-{t.name}", number, f"route {number + 1}")
        for t in route_tables(shown)
    }
    order = ("receivers", "fixes", "segments", "stretches", "traces", *(("pairs",) if route.pairs else ()))
    return keys.of_route(number, route, watches, settings) | {
        "findings": words.findings(shown, level),
        "caveat": CAVEAT,
        "notes": [printable(note, 400) for note in shown["notes"]],
        "plan": _marked(make_ground(route, f"plan{number}")),
        "charts": [chart for chart in charts if chart["name"] in ("spread", "offsets")],
        "claim_chart": next((chart for chart in charts if chart["name"] == "claims"), None),
        "claims": claim_sentences(route.receivers, level),
        "fix_chart": next(chart for chart in charts if chart["name"] == "fixes"),
        "pairs": [
            {
                "sentence": printable(pair["sentence"], 300),
                "chart": pair_figure(found, n),
                "figures": pair_headlines(pair),
            }
            for n, (pair, found) in enumerate(zip(shown["pairs"], route.pairs, strict=True))
        ],
        "matrix": pair_matrix(shown, list(watches)),
        "tables": [tables[name] for name in order],
        "film": tables["film"],
        "references": [_reference(reference) for reference in shown["references"]],
        "strips": strips_of(number, route, shown, list(watches)),
    }


def _table(table: Table, identity: str, route: int | None, of: str = "") -> Context:
    return {
        "id": identity,
        "label": f"{table.title}, {of}" if of else table.title,
        "table": page_table(table, route),
        "about": ABOUT.get(table.name, ""),
        "empty": EMPTY.get(table.name, "Nothing to list."),
    }


def _reference(reference: Document) -> str:
    bias, rmse, within = reference["bias"], reference["rmse"], reference["accuracy_95"]
    told = [
        f"{name} {with_interval(e['value_m'], e['low_m'], e['high_m'], 'm')}"
        for name, e in (("bias", bias), ("RMSE", rmse), ("95 % within", within))
    ]
    return f"{shown_name(reference['receiver'])}: {', '.join(told)}."
