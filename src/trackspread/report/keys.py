"""Keys of a page: what its colours, dashes and signs mean, for maps, charts and tables."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from trackspread import model as m
from trackspread.errors import printable
from trackspread.options import Settings
from trackspread.report.style import spread_edges_m
from trackspread.report.watches import look
from trackspread.results.rounding import plain
from trackspread.results.words.names import shown_name
from trackspread.results.words.verdicts import VERDICT_ADVICE, VERDICT_GLYPHS, verdict_rule

Entry = dict[str, Any]
"""What a template needs of one line of a key."""


def of_route(number: int, route: m.RouteResult, watches: Mapping[str, int], settings: Settings) -> Entry:
    """Return what the key of a map says of one route.

    Parameters
    ----------
    number : int
        Of the route, from 0.
    route : RouteResult
    watches : mapping
        Slots of all watches of the analysis (`rides.colours.watch_slots`), in their order.
    settings : mapping
        Those of the analysis, whose thresholds are the classes of spread.

    Returns
    -------
    dict
        Number, name, classes of spread, whether it has variants, and the watches that rode it.
    """
    here = {trace.receiver for trace in route.traces}
    shown = zip(watches, of_watches(watches), strict=True)
    return {
        "number": number,
        "name": printable(route.title or route.name, 60),
        "classes": _classes(spread_edges_m(settings)),
        "variants": bool(route.variants),
        "receivers": [watch for name, watch in shown if name in here],
    }


def _classes(edges_m: tuple[float, ...]) -> list[Entry]:
    """Return number and words of each class of spread; equal thresholds leave none between them."""
    ends = pairwise(edges_m)
    labels = [f"{plain(low)} to {plain(high)} m" if low < high else "" for low, high in ends]
    labels.append(f"over {plain(edges_m[-1])} m")
    return [{"number": number, "label": label} for number, label in enumerate(labels) if label]


def of_spread(settings: Settings) -> list[Entry]:
    """Return the scale of spread in short: every second class, by where it begins.

    Parameters
    ----------
    settings : mapping
        Those of the analysis.

    Returns
    -------
    list of dict
        Number of the class, and metres.

    Examples
    --------
    >>> [entry["label"] for entry in of_spread({"steady_m": 3.0, "torn_m": 6.0})]
    ['0', '3', '6', '15']
    """
    starts = list(enumerate(map(plain, spread_edges_m(settings))))
    return [{"number": number, "label": label} for number, label in starts[::2]]


def of_watches(watches: Mapping[str, int]) -> list[Entry]:
    """Return name and look of every watch, in the order given.

    Parameters
    ----------
    watches : mapping
        Slots of the watches (`rides.colours.watch_slots`).

    Returns
    -------
    list of dict
        Names are plain text, not escaped.
    """
    return [
        {"name": shown_name(name), "look": look(slot), "order": order}
        for order, (name, slot) in enumerate(watches.items())
    ]


def of_verdicts(settings: Settings) -> list[Entry]:
    """Return every verdict with its rule and what follows for a film.

    Parameters
    ----------
    settings : mapping
        Those of the analysis, whose thresholds stand in the rules.

    Returns
    -------
    list of dict
    """
    return [
        {
            "verdict": verdict,
            "text": verdict_rule(verdict, settings),
            "advice": VERDICT_ADVICE[verdict].capitalize(),
        }
        for verdict in VERDICT_GLYPHS
    ]
