"""The words of what is drawn on a map, one list of lines for each: taken from the document, set as text."""

from __future__ import annotations

from trackspread import model as m
from trackspread.errors import printable
from trackspread.results.document import Document
from trackspread.results.rounding import plain, span, with_interval
from trackspread.results.words.events import CAUSES, rides_named
from trackspread.results.words.names import listed, shown_name
from trackspread.results.words.verdicts import VERDICT_GLYPHS, verdict_rule

LONGEST_LINE = 60  # characters
KINDS = {"first": "First fix", "settled": "Settled fix"}


class MapWords:
    """Words for the marks of a map, plain text that is not escaped.

    Parameters
    ----------
    analysis : Analysis
    document : dict
        Its document, from which the words come.

    Attributes
    ----------
    ends : (str, str)
        Words of the first and of the last station.

    Notes
    -----
    Methods take a ``route`` of the analysis and the ``number`` of the piece on it, from 0, and return lines.
    """

    def __init__(self, analysis: m.Analysis, document: Document) -> None:
        self._shown = {id(r): d for r, d in zip(analysis.routes, document["routes"], strict=True)}
        self._settings = document["settings"]
        self.ends = ("cut", "cut") if analysis.published else ("start", "end")

    def segment(self, route: m.RouteResult, number: int) -> list[str]:
        """Return span, spread with interval, verdict with its rule, and the number of traces."""
        shown = self._shown[id(route)]["segments"][number]
        spread = shown["spread"]
        figure = with_interval(spread["value_m"], spread["low_m"], spread["high_m"], "m")
        verdict = shown["verdict"]
        return [
            span(shown["from_m"], shown["to_m"]),
            f"spread {figure}",
            f"{VERDICT_GLYPHS[verdict]} {verdict}: {verdict_rule(verdict, self._settings)}",
            f"{shown['traces']} traces",
        ]

    def stretch(self, route: m.RouteResult, number: int) -> list[str]:
        """Return whose stretch it is, from where to where, how far, and the cause."""
        shown = self._shown[id(route)]["stretches"][number]
        lines = [
            f"Stretch: {_who(shown)}",
            span(shown["from_m"], shown["to_m"]),
            f"up to {plain(shown['peak_m'])} m to the {shown['side']}",
            f"cause: {shown['cause']}",
        ]
        return lines + ([f"lasted {plain(shown['seconds'])} s"] if shown["seconds"] is not None else [])

    def event(self, route: m.RouteResult, number: int) -> list[str]:
        """Return who strayed together, from where to where, how far, and the cause."""
        shown = self._shown[id(route)]["events"][number]
        return [
            f"Event: {listed([shown_name(name) for name in shown['receivers']])}",
            span(shown["from_m"], shown["to_m"]),
            f"up to {plain(shown['peak_m'])} m to the {shown['side']}, {rides_named(shown['rides'])}",
            CAUSES[shown["cause"]],
        ]

    def variant(self, route: m.RouteResult, number: int) -> list[str]:
        """Return the name of another way, from where to where, how far aside, and on which rides."""
        shown = self._shown[id(route)]["variants"][number]
        return [
            printable(shown["name"], 30),
            span(shown["from_m"], shown["to_m"]),
            f"another way, up to {plain(shown['aside_m'])} m aside",
            f"taken on {rides_named(shown['rides'])}",
        ]

    def fix(self, route: m.RouteResult, trace: m.TraceResult, kind: str) -> list[str]:
        """Return whose fix it is, and after how long it came or why that is not known."""
        shown = self._shown[id(route)]["traces"][trace.number][f"{kind}_fix"]
        after = shown["value_s"]
        told = (
            f"after {plain(after)} s"
            if after is not None
            else printable(shown["value_s_reason"], LONGEST_LINE)
        )
        return [f"{KINDS[kind]}: {_who(self._shown[id(route)]['traces'][trace.number])}", told]

    def trace(self, route: m.RouteResult, trace: m.TraceResult) -> list[str]:
        """Return whose trace it is and how it lies to the others."""
        shown = self._shown[id(route)]["traces"][trace.number]
        return [
            _who(shown),
            printable(shown["file"], LONGEST_LINE),
            f"spread {plain(shown['spread_m'])} m, mean offset {plain(shown['bias_m'])} m (right +)",
        ]


def _who(shown: Document) -> str:
    return f"{shown_name(shown['receiver'])}, ride {printable(shown['ride'], 20)}"
