"""What the first screen shows: one row a watch over all its rides and routes, taken from the records."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from trackspread import model as m
from trackspread.report.watches import watches_of
from trackspread.results.words.names import shown_name


@dataclass(frozen=True, kw_only=True, slots=True)
class FixDot:
    """One first fix: seconds after the start, and whose ride it was."""

    seconds: float
    ride: str
    route: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One watch. ``spreads`` and ``strays`` hold one estimate over everything, or one a route without that.

    ``without_start`` counts the traces whose first fix is unknown.
    """

    name: str
    slot: int
    group: str
    spreads: tuple[m.Estimate, ...]
    strays: tuple[m.Estimate, ...]
    fixes: tuple[FixDot, ...]
    median_fix: m.MedianEstimate
    without_start: int


def rows_of(analysis: m.Analysis) -> tuple[Row, ...]:
    """Return one row a watch, in the order of the comparison.

    Parameters
    ----------
    analysis : Analysis

    Returns
    -------
    tuple of Row
        Without a comparison in the order of the routes, each with one estimate a route.
    """
    compared = {s.receiver: s for s in analysis.comparison.receivers} if analysis.comparison else {}
    rows = []
    for receiver, slot in watches_of(analysis).items():
        summary = compared.get(receiver)
        alone = [r for route in analysis.routes for r in route.receivers if r.receiver == receiver]
        dots, unknown = _fixes(analysis, receiver)
        rows.append(
            Row(
                name=shown_name(receiver, 120),
                slot=slot,
                group=summary.group if summary else "",
                spreads=(summary.spread,) if summary else tuple(r.told_spread for r in alone),
                strays=(summary.stray_share,)
                if summary
                else tuple(m.Estimate(value=r.stretch_share) for r in alone),
                fixes=dots,
                median_fix=summary.first_fix_s if summary else m.MedianEstimate(),
                without_start=unknown,
            )
        )
    return tuple(rows)


def _fixes(analysis: m.Analysis, receiver: str) -> tuple[tuple[FixDot, ...], int]:
    """Return every first fix of a watch that is known, and how many are not."""
    found, unknown = [], 0
    for route in analysis.routes:
        for trace in route.traces:
            if trace.receiver != receiver:
                continue
            seconds = trace.first_fix.value_s
            if isfinite(seconds):
                found.append(FixDot(seconds=seconds, ride=trace.ride, route=route.title or route.name))
            else:
                unknown += 1
    return tuple(found), unknown
