"""What was found, in plain words with its uncertainty: sentences of the report, taken from the document."""

from __future__ import annotations

from collections.abc import Mapping
from statistics import median
from typing import Any

from trackspread.errors import first_few, printable
from trackspread.results.document import Document
from trackspread.results.rounding import counted, kilometres, plain, share, span, with_interval
from trackspread.results.words.events import CAUSES, rides_named
from trackspread.results.words.names import listed, shown_name
from trackspread.rides.colours import UNKNOWN

CLOCKS_APART_S = 3.0  # s, the error of a start noted by hand
CLOCKS_SET = "clocks_set"
NO_START = "no start time was noted"

NONE_LEAVES = "Traces diverge nowhere by more than chance allows."
NOT_JUDGED = "Whether traces diverge is unknown: it takes two other rides to compare with."
STARTS = {
    "declared": "the start noted in rides.csv",
    "timer": "the start of the watch's own timer",
    "file": "the start that the file gives",
}
PRIVATE = "Private: shows where trips start and end."
PUBLISHED = "Ends cut for publication. Look at the map before you show it."
SHARE = (
    "This report is private. To show it, make a copy with cut ends: the button copies the command for a "
    "terminal, and nothing is analysed again. Then look at start, end and every stop of the copy."
)
CAUTIONS = (
    "Keep your eyes on the road. Never work a watch while riding: start it before you leave, stop it "
    "after you arrive.",
    "Agreement is not accuracy. Traces that agree may all be off by the same amount; only a surveyed "
    "reference line can show that.",
    "Not for navigation, surveying or evidence.",
    "Local law and licensed practice come first: on filming, on privacy, and on what only a licensed "
    "surveyor may measure.",
    "A published map can show where someone lives or works. Check start, end and every stop.",
)
METHOD = (
    (
        "Centreline",
        "The traces are laid on a metric grid and matched to one line in order of travel. The line is "
        "shifted to the robust average until it converges; traces that stray count less.",
    ),
    (
        "Spread",
        "The standard deviation across traces of the offset from the centreline, pooled over a segment "
        "(root of the mean variance). Its interval uses effective degrees of freedom: neighbouring "
        "stations are not independent.",
    ),
    (
        "Stretches",
        "Each trace is compared with the consensus of the other rides. Where it strays by more than chance "
        "allows, for long enough, that is a stretch; what comes before the fix has settled is kept apart. A "
        "cause is given only if a second watch on that ride confirms it.",
    ),
    (
        "First and settled fix",
        "First fix: first logged position, counted from the start that rides.csv or the file gives. "
        "Settled fix: from here on the trace stays within the band of the other rides, for the stated "
        "time. A ride that never settles counts as later than all others.",
    ),
    (
        "Watches ridden together",
        "Clocks are compared first. The spread of each watch is parted from what all share (the line "
        "ridden, the air above) by the variance of their differences (Grubbs 1948); differences along the "
        "route follow Bland and Altman.",
    ),
    (
        "Who differs",
        "Every two watches are compared by spread, first fix and share astray, with one risk for all these "
        "tests. The settled fix is not tested: it follows the first.",
    ),
    ("Medians", "Intervals of medians are exact: they come from ranks, and so does their confidence."),
)


def counts(document: Document) -> str:
    """Return what was analysed: rides and traces.

    Parameters
    ----------
    document : dict
        Of a whole analysis.

    Returns
    -------
    str
    """
    used = [record for record in document["inputs"] if record["status"] == "used"]
    routes = document["routes"]
    rides = {(trace["ride"]) for route in routes for trace in route["traces"]}
    return f"{counted(len(rides), 'ride')}, {counted(len(used), 'trace')}"


def unknown_watches(document: Document) -> str:
    """Return how many traces are of a watch that nobody named, and how to mend that; "" where none is.

    Parameters
    ----------
    document : dict
        Of a whole analysis.

    Returns
    -------
    str
    """
    names = [trace["receiver"] for route in document["routes"] for trace in route["traces"]]
    unknown = sum(name in ("", UNKNOWN) for name in names)
    if not unknown:
        return ""
    of = "all traces" if unknown == len(names) else f"{unknown} of {len(names)} traces"
    return f"Unknown: which watch made {of}. Run trackspread init, fill in rides.csv, and analyse again."


def findings(route: Document, level: str) -> list[str]:
    """Return what was found on one route, one sentence or two each, with the doubt in the sentence.

    Parameters
    ----------
    route : dict
        One of the document's ``routes``.
    level : str
        Stands before an interval, such as ``95 % interval ``.

    Returns
    -------
    list of str
    """
    told = [_agreement(route, level), _consistent(route), *_stretches(route)]
    told += [_fix(route, "first_fix_s", "First fix"), *_clocks(route)]
    return [*told, *_certainty(route)]


def _film_share(route: Document, verdict: str = "steady") -> float:
    """Return the share of the route's length with one verdict."""
    whole = sum(segment["to_m"] - segment["from_m"] for segment in route["segments"])
    part = sum(s["to_m"] - s["from_m"] for s in route["segments"] if s["verdict"] == verdict)
    return part / whole if whole else 0.0


def _is_thin(route: Document) -> bool:
    """Whether no segment has the traces that a verdict needs."""
    return all(segment["verdict"] == "thin" for segment in route["segments"])


def is_judged(route: Mapping[str, Any]) -> bool:
    """Whether any trace could be held against traces of other rides; it takes two of them.

    Parameters
    ----------
    route : dict
        One of the document's ``routes``.

    Returns
    -------
    bool
    """
    return any(trace["settled_fix"]["band_m"] is not None for trace in route["traces"])


def name_of(route: Document) -> str:
    """Return the title of a route, or its name, short and on one line.

    Parameters
    ----------
    route : dict
        One of the document's ``routes``.

    Returns
    -------
    str
    """
    return printable(route.get("title") or route["name"], 40)


# --- sentences ---------------------------------------------------------------------------------------


def _agreement(route: Document, level: str) -> str:
    """Say how closely the traces agree: all errors first, what is kept of them beside it."""
    where = f"{name_of(route)} ({kilometres(route['length_m'])})"
    kept, every = route["spread"], route.get("spread_all") or {}
    if kept["value_m"] is None and every.get("value_m") is None:
        return f"{where}: no spread could be formed: {printable(kept['reason'], 120)}."
    figure, rest = kept, ""
    if every.get("value_m") is not None:
        figure = every
        if kept["value_m"] is not None and f"{kept['value_m']:.1f}" != f"{figure['value_m']:.1f}":
            rest = f"; {kept['value_m']:.1f} m with the stretches left out"
    shown = with_interval(figure["value_m"], figure["low_m"], figure["high_m"], "m", f"1 SD, {level}")
    return f"{where}: the traces agree to {shown}{rest}."


def _consistent(route: Document) -> str:
    if _is_thin(route):
        return "There are too few traces to rate any part of the route."
    return f"{share(_film_share(route))} of the route is consistent enough to show without comment."


def _stretches(route: Document) -> list[str]:
    """Name the places where traces diverge, one an event, the farthest first."""
    events = [e for e in route.get("events") or () if e["cause"] != "settling"]
    places = [_event_words(e) for e in sorted(events, key=lambda e: -(e["peak_m"] or 0.0))]
    if not places:
        return [NONE_LEAVES if is_judged(route) else NOT_JUDGED]
    where, few = counted(len(places), "place"), first_few(places, by="; ", last="; ")
    return [f"Traces diverge in {where}: {few}.", *_variants(route)]


def _event_words(event: Document) -> str:
    names = listed([shown_name(name) for name in event["receivers"]])
    rode = rides_named(event["rides"])
    far = f"up to {plain(event['peak_m'])} m to the {event['side']}"
    return f"{span(event['from_m'], event['to_m'])} ({names}, {rode}, {far}: {CAUSES[event['cause']]})"


def _variants(route: Document) -> list[str]:
    return [
        f"{printable(v['name'], 30)}: another way from {span(v['from_m'], v['to_m'])}, up to "
        f"{plain(v['aside_m'])} m aside, taken on {counted(len(v['rides']), 'ride')}."
        for v in route.get("variants") or ()
    ]


def _clocks(route: Document) -> list[str]:
    """Warn where the first fix hangs on clocks that differ: one noted start cannot be right by both."""
    declared = {t["receiver"] for t in route["traces"] if t["first_fix"]["source"] == "declared"}
    told = []
    for pair in route["pairs"]:
        apart = _clocks_apart(pair)
        if apart and {pair["a"], pair["b"]} <= declared:
            told.append(
                f"{apart}: if the start was not noted by the watch's own clock, its first fix is wrong "
                "by as much."
            )
    return told


def _clocks_apart(pair: Document) -> str:
    """Say how far the clocks of two receivers are apart where that is more than `CLOCKS_APART_S`."""
    a, b = (shown_name(pair[name]) for name in ("a", "b"))
    offset = pair["clock_offset"]["value_s"]
    if offset is None:
        between = pair["clock_offset"].get("reason_code") == CLOCKS_SET
        return f"The clocks of {a} and {b} were set between rides" if between else ""
    if abs(offset) < CLOCKS_APART_S:
        return ""
    ahead, behind = (a, b) if offset > 0 else (b, a)
    return f"The clock of {ahead} is {plain(round(abs(offset), 1))} s ahead of that of {behind}"


def _certainty(route: Document) -> list[str]:
    """Say how well few rides know the spread, and what that means for one segment."""
    rides = len({trace["ride"] for trace in route["traces"]})
    known = [
        e for e in (s["spread"] for s in route["segments"]) if e["value_m"] and e["low_m"] and e["high_m"]
    ]
    if not known:
        return []
    low, high = (plain(round(median(e[end] / e["value_m"] for e in known), 1)) for end in ("low_m", "high_m"))
    return [
        f"With {counted(rides, 'ride')} the true spread of one segment may be {low} to {high} times its "
        "figure: treat single segments as indicative."
    ]


def _started(route: Document) -> str:
    """Return who says when start was pressed, of the fixes that could be timed."""
    fixes = [trace["first_fix"] for trace in route["traces"]]
    used = {fix["source"] for fix in fixes if fix["value_s"] is not None}
    told = [words for source, words in STARTS.items() if source in used]
    return f", from {' or '.join(told)}" if told else ""


def _there_already(route: Document) -> str:
    """Return how often a position came no later than the timer's start, as a sentence."""
    fixes = [trace["first_fix"] for trace in route["traces"]]
    there = sum(fix["source"] == "timer" and fix["value_s"] == 0 for fix in fixes)
    return f" In {counted(there, 'recording')} the fix was there when start was pressed." if there else ""


def _shown(route: Document) -> str:
    """Return after how long each watch showed its fix, where the rider noted it, as a sentence."""
    seen: dict[str, list[float]] = {}
    for trace in route["traces"]:
        if trace["first_fix"].get("seen_s") is not None:
            seen.setdefault(trace["receiver"], []).append(trace["first_fix"]["seen_s"])
    told = [f"{shown_name(name)} after {plain(median(values))} s" for name, values in seen.items()]
    return f" Fix shown on the watch, median: {'; '.join(told)}." if told else ""


def _fix(route: Document, name: str, words: str) -> str:
    """One sentence for all receivers; the level of each interval is the exact one that ranks give."""
    told = []
    for receiver in route["receivers"]:
        found = receiver[name]
        if found["median"] is None:
            continue
        figure = f"{plain(found['median'])} s (one ride)"
        if found["n"] > 1:
            level = f"{share(found['confidence'])} interval " if found["confidence"] else ""
            figure = with_interval(found["median"], found["low"], found["high"], "s", level)
        told.append(f"{shown_name(receiver['receiver'])} after {figure}")
    if told:
        more = _there_already(route) + _shown(route)
        return f"{words}, median over rides: {'; '.join(told)}{_started(route)}.{more}"
    reason = next((r[name].get("reason", "") for r in route["receivers"]), "")
    return f"{words}: unknown; {printable(reason, 120) or NO_START}."
