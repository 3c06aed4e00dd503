"""The verdicts along a route as strips: one of all traces together, one a watch, over the same stations."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trackspread import model as m
from trackspread.results.document import Document
from trackspread.results.rounding import plain, rounded, share, span
from trackspread.results.words.names import shown_name
from trackspread.results.words.verdicts import VERDICT_GLYPHS

HEIGHTS = {"steady": 7, "wavering": 14, "torn": 24, "thin": 4}
"""A verdict has a height of its own: it is never told by colour alone."""
TALL = 24  # px of a torn segment

Strip = dict[str, Any]


def strips_of(number: int, route: m.RouteResult, shown: Document, watches: Sequence[str]) -> list[Strip]:
    """Return the strips of one route: that of all traces, and one for each watch that has figures of its own.

    Parameters
    ----------
    number : int
        Of the route, from 0.
    route : RouteResult
    shown : dict
        The same in the document.
    watches : sequence of str
        All of the analysis, in order.

    Returns
    -------
    list of dict
        What the template draws; heights are pixels, stations metres.
    """
    every = [(s.from_m, s.to_m, s.verdict, s.spread.value) for s in route.segments]
    name = "All watches" if len(watches) > 1 else shown_name(watches[0])
    strips = [_strip(number, route, name, every)]
    for watch in watches if len(watches) > 1 else ():
        own = [
            (s.from_m, s.to_m, entry.verdict, entry.spread.value)
            for s in route.segments
            for entry in s.receivers
            if entry.receiver == watch
        ]
        if own:
            strips.append(_strip(number, route, shown_name(watch), own))
    return strips


def _strip(
    number: int, route: m.RouteResult, name: str, rated: Sequence[tuple[float, float, m.Verdict, float]]
) -> Strip:
    first, last = float(route.station_m[0]), float(route.station_m[-1])
    whole = sum(to_m - from_m for from_m, to_m, _, _ in rated) or 1.0
    length = dict.fromkeys(VERDICT_GLYPHS, 0.0)
    for from_m, to_m, verdict, _ in rated:
        length[verdict] += to_m - from_m
    part = {verdict: metres / whole for verdict, metres in length.items()}
    told = ", ".join(f"{share(part[verdict])} {verdict}" for verdict in part if part[verdict])
    return {
        "name": name,
        "fit": f"{share(part['steady'])} fit to show",
        "box": f"{first:g} 0 {max(1.0, last - first):g} {TALL}",
        "alt": f"{name}: {told}.",
        "pieces": [
            {
                "verdict": verdict,
                "x": f"{from_m:g}",
                "width": f"{to_m - from_m:g}",
                "y": TALL - HEIGHTS[verdict],
                "height": HEIGHTS[verdict],
                "frame": f"{number} {from_m:g} {to_m:g}",
                "title": f"{name}, {span(from_m, to_m)}: {verdict}, spread {plain(rounded(spread))} m",
            }
            for from_m, to_m, verdict, spread in rated
        ],
    }
