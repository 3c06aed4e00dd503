"""The headline figures of a route and of a pair: label, value, and what stands small beside it."""

from __future__ import annotations

from dataclasses import dataclass

from trackspread.errors import printable
from trackspread.report.words import film_share, is_judged, is_thin
from trackspread.results.document import Document
from trackspread.results.rounding import UNKNOWN, plain, share, with_interval

MOST_RECEIVERS = 4


@dataclass(frozen=True, kw_only=True, slots=True)
class Headline:
    """One figure as shown: all texts."""

    label: str
    value: str
    note: str = ""


def route_headlines(route: Document) -> list[Headline]:
    """Return spread, 95 % of offsets, share fit to show, stretches, and the fixes of each receiver."""
    within = route["spread"]["p95_m"]
    found = [
        _estimate("Spread", route["spread"], "_m"),
        Headline(label="95 % of offsets within", value=UNKNOWN if within is None else f"{plain(within)} m"),
        _steady(route),
        _stretches(route),
    ]
    for receiver in route["receivers"][:MOST_RECEIVERS]:
        whose = printable(receiver["receiver"], 24) or "unknown receiver"
        found.append(_median(f"First fix, {whose}", receiver["first_fix_s"]))
        found.append(_median(f"Settled fix, {whose}", receiver["settled_fix_s"]))
    return found


def pair_headlines(pair: Document) -> list[Headline]:
    """Return what each of two receivers spreads alone, what both share, and how they differ."""
    a, b = (printable(pair[name], 24) for name in ("a", "b"))
    return [
        _estimate(f"SD of {a} alone", pair["sd_a"], "_m"),
        _estimate(f"SD of {b} alone", pair["sd_b"], "_m"),
        _estimate("SD shared by both", pair["common_sd"], "_m"),
        _estimate(f"SD of {a} minus {b}", pair["difference"], "_m"),
        _estimate(f"Mean {a} minus {b}, right +", pair["bias"], "_m"),
        _estimate(f"Clock {a} minus {b}", pair["clock_offset"], "_s"),
    ]


def _steady(route: Document) -> Headline:
    label = "Steady, fit to show"
    if is_thin(route):
        return Headline(label=label, value=UNKNOWN, note="too few traces to say")
    return Headline(label=label, value=share(film_share(route)), note="of the way")


def _stretches(route: Document) -> Headline:
    stray = sum(stretch["cause"] != "settling" for stretch in route["stretches"])
    if not stray and not is_judged(route):
        return Headline(label="Stretches", value=UNKNOWN, note="too few rides to say")
    return Headline(label="Stretches", value=str(stray), note="beyond chance")


def _estimate(label: str, estimate: Document, unit: str) -> Headline:
    value, low, high = (estimate[f"{end}{unit}"] for end in ("value", "low", "high"))
    return _headline(label, value, low, high, unit[1:], estimate.get("reason", ""))


def _median(label: str, median: Document) -> Headline:
    if median["n"] == 1 and median["median"] is not None:
        return Headline(label=label, value=f"{plain(median['median'])} s", note="one ride")
    level = median.get("confidence")
    note = f", {share(level)} interval" if level else ""
    found = _headline(label, median["median"], median["low"], median["high"], "s", median.get("reason", ""))
    return Headline(label=label, value=found.value, note=found.note + note if found.note else "")


def _headline(
    label: str, value: float | None, low: float | None, high: float | None, unit: str, reason: str
) -> Headline:
    if value is None:
        return Headline(label=label, value=UNKNOWN, note=printable(reason, 100))
    shown, _, interval = with_interval(value, low, high, unit).partition(" (")
    return Headline(label=label, value=shown, note=interval.removesuffix(")"))
