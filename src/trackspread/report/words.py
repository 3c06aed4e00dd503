"""What was found, in plain words with its uncertainty: sentences of the report, taken from the document."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from statistics import median
from typing import Any

from trackspread.errors import printable
from trackspread.results.document import Document
from trackspread.results.rounding import counted, kilometres, plain, share, span, with_interval

MOST_NAMED = 3
CLOCKS_APART_S = 3.0
UNKNOWN_RECEIVER = "unknown receiver"

NONE_LEAVES = "No trace leaves the others by more than chance allows."
NOT_JUDGED = "Whether a trace leaves the others cannot be told: it takes two traces of other rides."
CAUSES = {
    "line": "the rider went another way",
    "receiver": "this receiver alone",
    "after a gap": "after a gap",
    "unknown": "cause unknown",
}
PRIVATE = (
    "Private: the start and end of trips can be seen here. "
    "Before you show or send it, analyse again with the option that cuts the ends:"
)
PUBLISHED = (
    "For publication: every trace was cut near the ends of the route, by lengths drawn at random. "
    "Look at the map yourself before you show it."
)
CAUTIONS = (
    "Keep your eyes on the road. Never work a watch while riding: start it before you leave, stop it "
    "after you arrive.",
    "Agreement is not accuracy. Traces that lie on each other may all be off by the same amount; only a "
    "surveyed reference line can show that.",
    "Not for navigation, surveying or evidence.",
    "Local law and licensed practice come first: on filming, on privacy, and on what only a licensed "
    "surveyor may measure.",
    "A published map can show where someone lives or works. Check start, end and every stop.",
)
METHOD = (
    (
        "Centreline",
        "The traces are laid on a metric grid and matched to one line in order of travel. The line is "
        "moved to the robust middle of their offsets until it rests; traces that leave it weigh less.",
    ),
    (
        "Spread",
        "The standard deviation across traces of the offset from the centreline, pooled over a segment "
        "(root of the mean variance). Its interval comes from chi-square with effective degrees of "
        "freedom: neighbouring stations are not independent, so only lengths longer than the correlation"
        " length count.",
    ),
    (
        "Stretches",
        "Each trace is held against the consensus of the other rides. Where it leaves them by more than "
        "chance allows, for long enough, that is a stretch; the phase before the fix has settled is told"
        " apart. A cause is named only as far as another receiver of the same ride bears witness.",
    ),
    (
        "First and settled fix",
        "First fix: first logged position, counted from the start that rides.csv or the file declares. "
        "Settled fix: first moment from which the trace stays within the band that the other rides "
        "define, for the stated hold. A ride that never settles counts as later than all others; it is "
        "not dropped.",
    ),
    (
        "Receivers ridden together",
        "Clocks are compared first. The spread of each of two receivers is told apart from what both "
        "share (the line ridden, the air above) by the variance of their differences (Grubbs 1948); "
        "differences along the route follow Bland and Altman.",
    ),
    (
        "Medians",
        "Intervals of medians are exact: they come from ranks, and so does the confidence beside them.",
    ),
)


def opening(document: Document) -> list[str]:
    """Return what opens the report, what was found and how sure it is: one paragraph, or one a route."""
    used = [record for record in document["inputs"] if record["status"] == "used"]
    routes = document["routes"]
    first = f"{counted(len(used), 'trace')}{_receivers(routes)} on {counted(len(routes), 'route')}."
    level = f"{100 * float(document['settings']['confidence']):g} % interval "
    told = [
        " ".join(
            [
                _agreement(route, level),
                *_stretches(route),
                _fix(route, "first_fix_s", "First fix"),
                *_clocks(route),
            ]
        )
        for route in routes[:MOST_NAMED]
    ]
    last = [f"{counted(len(routes) - MOST_NAMED, 'more route')} below."] if len(routes) > MOST_NAMED else []
    last += _certainty(routes)
    if len(routes) == 1:
        return [" ".join([first, *told, *last])]
    return [first, *told, *([" ".join(last)] if last else [])]


def route_lead(route: Document) -> str:
    """Return the sentences that open one route: traces, fixes, what both receivers differ by."""
    traces = route["traces"]
    rides = len({trace["ride"] for trace in traces})
    sentences = [
        f"{counted(len(traces), 'trace')} from {counted(rides, 'ride')} over "
        f"{kilometres(route['length_m'])}.",
        _fix(route, "settled_fix_s", "Settled fix"),
        *(printable(pair["sentence"], 600) for pair in route["pairs"]),
    ]
    return " ".join(sentences)


def factor(estimates: Iterable[Document]) -> float | None:
    """Return the factor to which spreads are known, the median of sqrt(high / low)."""
    known = [
        math.sqrt(e["high_m"] / e["low_m"])
        for e in estimates
        if e["low_m"] and e["high_m"] is not None and e["value_m"] is not None
    ]
    return median(known) if known else None


def film_share(route: Document, verdict: str = "steady") -> float:
    """Return the share of the route's length with one verdict."""
    whole = sum(segment["to_m"] - segment["from_m"] for segment in route["segments"])
    part = sum(s["to_m"] - s["from_m"] for s in route["segments"] if s["verdict"] == verdict)
    return part / whole if whole else 0.0


def is_thin(route: Document) -> bool:
    """Whether no segment has the traces that a verdict needs."""
    return all(segment["verdict"] == "thin" for segment in route["segments"])


def is_judged(route: Mapping[str, Any]) -> bool:
    """Whether any trace could be held against traces of other rides; it takes two of them."""
    return any(trace["settled_fix"]["band_m"] is not None for trace in route["traces"])


def name_of(route: Document) -> str:
    """Return the name of a route, short and on one line."""
    return printable(route["name"], 40)


def who(record: Document) -> str:
    """Return receiver and ride of a trace or stretch."""
    return f"{printable(record['receiver'], 24) or UNKNOWN_RECEIVER}, ride {printable(record['ride'], 12)}"


# --- sentences ---------------------------------------------------------------------------------------


def _receivers(routes: Sequence[Document]) -> str:
    """Say how many receivers are known; how many the unknown ones are, nobody knows."""
    names = {trace["receiver"] for route in routes for trace in route["traces"] if trace["receiver"]}
    known = names - {UNKNOWN_RECEIVER}
    some = " and unknown ones" if known != names else ""
    return f" by {counted(len(known), 'receiver')}{some}" if known else ""


def _agreement(route: Document, level: str) -> str:
    spread = route["spread"]
    name = f"On “{name_of(route)}” ({kilometres(route['length_m'])})"
    if spread["value_m"] is None:
        return f"{name} no spread could be formed: {printable(spread['reason'], 120)}."
    figure = with_interval(spread["value_m"], spread["low_m"], spread["high_m"], "m", level)
    steady = f"{share(film_share(route))} of the way is steady and fit to show as it is"
    if is_thin(route):
        steady = "the traces are too few to call any of the way steady or torn"
    return f"{name} the traces lie on each other with a spread of {figure}; {steady}."


def _stretches(route: Document) -> list[str]:
    stray = [s for s in route["stretches"] if s["cause"] != "settling"]
    if not stray:
        return [NONE_LEAVES if is_judged(route) else NOT_JUDGED]
    worst = _crews(sorted(stray, key=lambda s: -(s["peak_m"] or 0.0)))
    told = ", ".join(_crew_words(crew) for crew in worst[:MOST_NAMED])
    rest = sum(map(len, worst[MOST_NAMED:]))
    more = f" and {rest} more" if rest else ""
    return [f"Traces tear apart on {counted(len(stray), 'stretch', 'stretches')}: {told}{more}."]


def _crews(stretches: Sequence[Document]) -> list[list[Document]]:
    """Put together the stretches of receivers that the rider carried another way, the farthest first."""
    crews: list[list[Document]] = []
    for stretch in stretches:
        for crew in crews:
            if stretch["cause"] == "line" and all(_went_along(stretch, other) for other in crew):
                crew.append(stretch)
                break
        else:
            crews.append([stretch])
    return crews


def _went_along(stretch: Document, other: Document) -> bool:
    alike = all(stretch[name] == other[name] for name in ("cause", "ride", "side"))
    apart = stretch["receiver"] != other["receiver"]
    return (
        alike
        and apart
        and max(s["from_m"] for s in (stretch, other)) < min(s["to_m"] for s in (stretch, other))
    )


def _crew_words(crew: Sequence[Document]) -> str:
    where = span(min(s["from_m"] for s in crew), max(s["to_m"] for s in crew))
    names = [*sorted(printable(s["receiver"], 24) for s in crew[1:]), who(crew[0])]
    far = f"up to {plain(crew[0]['peak_m'])} m to the {crew[0]['side']}"
    return f"{where} ({' and '.join(names)}, {far}; {CAUSES[crew[0]['cause']]})"


def _clocks(route: Document) -> list[str]:
    """Warn where the first fix hangs on clocks that differ: one noted start cannot be right by both."""
    declared = {t["receiver"] for t in route["traces"] if t["first_fix"]["source"] == "declared"}
    told = []
    for pair in route["pairs"]:
        apart = _clocks_apart(pair)
        if apart and {pair["a"], pair["b"]} <= declared:
            told.append(
                f"{apart}: where the start was not noted by the receiver's own clock, its first fix is wrong "
                "by as much."
            )
    return told


def _clocks_apart(pair: Document) -> str:
    """Say how far the clocks of two receivers are apart where that is more than `CLOCKS_APART_S`."""
    a, b = (printable(pair[name], 24) for name in ("a", "b"))
    offset = pair["clock_offset"]["value_s"]
    if offset is None:
        between = "set between" in pair["clock_offset"].get("reason", "")
        return f"The clocks of {a} and {b} were set between rides" if between else ""
    if abs(offset) < CLOCKS_APART_S:
        return ""
    ahead, behind = (a, b) if offset > 0 else (b, a)
    return f"The clock of {ahead} is {plain(round(abs(offset), 1))} s ahead of that of {behind}"


def _certainty(routes: Sequence[Document]) -> list[str]:
    rides = [len({trace["ride"] for trace in route["traces"]}) for route in routes]
    piece = factor(segment["spread"] for route in routes for segment in route["segments"])
    whole = factor(route["spread"] for route in routes)
    if piece is None or whole is None:
        return []
    count = str(min(rides)) if min(rides) == max(rides) else f"{min(rides)} to {max(rides)}"
    return [
        f"With {count} {'ride' if count == '1' else 'rides'} the spread of a whole route is known "
        f"to a factor of about {_round(whole)}, that of one segment to a factor of about {_round(piece)}: "
        "read single segments as hints."
    ]


def _round(value: float) -> str:
    return plain(round(value, 1)) if value < 10 else "ten or more"


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
        told.append(f"{printable(receiver['receiver'], 24) or UNKNOWN_RECEIVER} after {figure}")
    if told:
        return f"{words}, median over rides: {'; '.join(told)}."
    reason = next((r[name].get("reason", "") for r in route["receivers"]), "")
    reason = reason.removeprefix("not measurable").lstrip(": ")
    because = f": {printable(reason, 120)}" if reason else ""
    return f"{words}: not measurable{because}."
