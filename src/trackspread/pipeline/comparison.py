"""All receivers of an analysis side by side, over all their rides and routes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from types import MappingProxyType

import numpy as np

from trackspread.model import (
    Basis,
    Comparison,
    Difference,
    Estimate,
    Floats,
    Reason,
    ReceiverSummary,
    RideDifference,
    RideFigure,
    RouteResult,
    TraceResult,
)
from trackspread.numeric.means import mean_known
from trackspread.options import Options
from trackspread.pairs.contrasts import beside_others, contrast, mean_squares, ride_level
from trackspread.pairs.log_ratio import Shared, apart, combined, shared_moments, together
from trackspread.pipeline.claims import claim_code, claim_over
from trackspread.pipeline.ridden import (
    Ridden,
    away_squares,
    by_ride,
    is_shared,
    name_of_ride,
    ridden,
    spread_of,
)
from trackspread.rides.colours import UNKNOWN
from trackspread.statistics.exact_tests import rank_sum, signed_ranks
from trackspread.statistics.first_fix import median_fix
from trackspread.statistics.letters import holm, letters
from trackspread.statistics.ride_share import share_of_way

NEVER_S = 1e9
"""Stands for never: later than any."""
NOT_COMPARED = Reason("nothing_to_compare_on")
NOT_SEEN = Reason("fix_not_noted")


def comparison(routes: Sequence[RouteResult], options: Options) -> Comparison | None:
    """Return all receivers side by side, ``None`` where none is known by name.

    Parameters
    ----------
    routes : sequence of RouteResult
        With their arrays; rides of one name are one ride, also on two routes.
    options : Options

    Returns
    -------
    Comparison or None
        Receivers in the order of their spread, those without one last; every two of them, with p-values held
        to the family of all comparisons made (`holm`).
    """
    names = sorted({trace.receiver for route in routes for trace in route.traces} - {"", UNKNOWN})
    if not names:
        return None
    tables = ridden(routes)
    summaries = [_summary(tables, name, options) for name in names]
    summaries.sort(key=lambda one: (not np.isfinite(one.spread.value), one.spread.value, one.receiver))
    order = [one.receiver for one in summaries]
    pairs = list(combinations(order, 2))
    shown = {one.receiver: one.spread.value for one in summaries}
    spreads = [_as_shown(_difference(tables, a, b, options), shown[a] - shown[b]) for a, b in pairs]
    others = [found for name in FIGURES for a, b in pairs if (found := _by_ride(tables, name, a, b))]
    risk = 1.0 - options.confidence
    p = holm(
        np.array([one.p_adjusted for one in spreads] + [one.p for one in others]),
        np.array([0.0] * len(spreads) + [one.smallest_p for one in others]),
        risk,
    ).tolist()
    differences = tuple(
        replace(one, p_adjusted=own, told_apart=bool(own <= risk))
        for one, own in zip(spreads, p[: len(spreads)], strict=True)
    )
    return Comparison(
        receivers=_grouped(summaries, differences),
        differences=differences,
        by_ride=tuple(
            replace(one, p_adjusted=own, told_apart=bool(own <= risk))
            for one, own in zip(others, p[len(spreads) :], strict=True)
        ),
        confidence=options.confidence,
    )


def _grouped(
    summaries: Sequence[ReceiverSummary], differences: Sequence[Difference]
) -> tuple[ReceiverSummary, ...]:
    """Return the receivers with their letters; one alone, or without a spread, has none."""
    known = [one.receiver for one in summaries if np.isfinite(one.spread.value)]
    told = np.zeros((len(known), len(known)), dtype=bool)
    for one in differences:
        if one.told_apart and {one.a, one.b} <= set(known):
            i, j = known.index(one.a), known.index(one.b)
            told[i, j] = told[j, i] = True
    groups = dict(zip(known, letters(told), strict=True)) if len(known) > 1 else {}
    return tuple(replace(one, group=groups.get(one.receiver, "")) for one in summaries)


def _summary(tables: Sequence[Ridden], receiver: str, options: Options) -> ReceiverSummary:
    mine = [
        (table.route, trace) for table in tables for trace in table.route.traces if trace.receiver == receiver
    ]
    first = [trace.first_fix for _, trace in mine]
    settled = [trace.settled_fix for _, trace in mine]
    never = sum(1 for s, f in zip(settled, first, strict=True) if s.censored and np.isfinite(f.value_s))
    spread = spread_of(tables, receiver, options.confidence)
    claimed = claim_over([trace.claimed_m for _, trace in mine])
    return ReceiverSummary(
        receiver=receiver,
        rides=len({name_of_ride(trace) for _, trace in mine}),
        routes=tuple(dict.fromkeys(route.name for route, _ in mine)),
        spread=spread,
        first_fix_s=median_fix([f.value_s for f in first], 0, options.confidence, first[0].reason),
        settled_fix_s=median_fix([s.value_s for s in settled], never, options.confidence, settled[0].reason),
        stray_share=_stray_share(mine, options),
        claimed_m=claimed,
        claim=claim_code(claimed, spread),
        fix_seen_s=median_fix([f.seen_s for f in first], 0, options.confidence, NOT_SEEN),
        own_sd=_own_sd(tables, receiver, options.confidence),
    )


def _own_sd(tables: Sequence[Ridden], receiver: str, confidence: float) -> Estimate:
    """Return the SD of a receiver, without what all of a ride share, beside the mean of the others."""
    parts = []
    for table in tables:
        others = [name for name in table.rows if name not in (receiver, "")]
        rides = [
            ride
            for ride in table.rides(receiver)
            if is_shared(ride) and any(ride in table.rows[name] for name in others)
        ]
        if rides:
            mine = table.stack(table.deviation_m, receiver, rides)
            parts.append(shared_moments(mine, _mean_of(table, others, rides), rides))
    return beside_others(parts, _lengths(tables), confidence)


def _lengths(tables: Sequence[Ridden]) -> float:
    """Return how many independent values a ride holds, on average over routes."""
    return float(np.mean([table.lengths() for table in tables]))


def _mean_of(table: Ridden, receivers: Sequence[str], rides: Sequence[str]) -> Floats:
    """Return the mean deviation of those of the receivers that were there, (R, S)."""
    return mean_known(np.stack([table.stack(table.deviation_m, name, rides) for name in receivers]))


def _astray_m(route: RouteResult, trace: TraceResult) -> list[float]:
    """Return the lengths of the stretches of a trace; the rider's other way and settling are none."""
    return [
        stretch.to_m - stretch.from_m
        for stretch in route.stretches
        if stretch.number == trace.number and stretch.cause not in ("line", "settling")
    ]


def _stray_share(mine: Sequence[tuple[RouteResult, TraceResult]], options: Options) -> Estimate:
    """Return the share of the way on which a receiver left the others."""
    struck: dict[str, float] = {}
    way: dict[str, float] = {}
    lengths = [options.segment_m]
    for route, trace in mine:
        if not np.isfinite(route.deviation_m[trace.number]).any():
            continue
        ride, astray = name_of_ride(trace), _astray_m(route, trace)
        lengths += astray
        struck[ride] = struck.get(ride, 0.0) + sum(astray)
        way[ride] = way.get(ride, 0.0) + trace.coverage * route.length_m
    return share_of_way(
        np.array(list(struck.values())), np.array(list(way.values())), max(lengths), options.confidence
    )


@dataclass(kw_only=True, slots=True)
class _Sides:
    """What two receivers rode over all routes: moments of shared rides, squares of rides of their own."""

    parts: list[Shared] = field(default_factory=list)
    own: list[tuple[Floats, Floats]] = field(default_factory=list)
    shared_rides: set[str] = field(default_factory=set)
    own_rides: tuple[set[str], set[str]] = field(default_factory=lambda: (set(), set()))

    def alone(self) -> int:
        """Return the rides of its own that the one with fewer has."""
        return min(len(rides) for rides in self.own_rides)


def _sides(tables: Sequence[Ridden], a: str, b: str) -> _Sides:
    out = _Sides()
    for table in tables:
        mine = table.rides(a), table.rides(b)
        both = [ride for ride in mine[0] if ride in mine[1] and is_shared(ride)]
        if both:
            out.parts.append(_shared(table, a, b, both))
            out.shared_rides.update(both)
        alone = tuple([ride for ride in rides if ride not in both] for rides in mine)
        found = [_known(away_squares(table, name, rides)) for name, rides in zip((a, b), alone, strict=True)]
        if len(found[0]) and len(found[1]):
            out.own.append((found[0], found[1]))
            for rides, names in zip(out.own_rides, alone, strict=True):
                rides.update(names)
    return out


def _difference(tables: Sequence[Ridden], a: str, b: str, options: Options) -> Difference:
    """Return the spreads of two receivers side by side; ``p_adjusted`` holds the p of this pair alone."""
    sides = _sides(tables, a, b)
    beside, alone = together(sides.parts), apart(sides.own)
    if beside is None and alone is None:
        none = Estimate(reason=NOT_COMPARED)
        return Difference(
            a=a, b=b, rides=len(sides.shared_rides), basis="together" if sides.shared_rides else "apart",
            ratio=none, difference=none, told_apart=False, p_adjusted=float("nan"),
        )  # fmt: skip
    levels = [0.5 * part.gap_m2 for part in sides.parts]
    basis: Basis
    if beside is None:
        share, basis, rides = alone, "apart", sides.alone()
        levels = [mean_squares(*pair) for pair in sides.own]
    elif alone is None:
        share, basis, rides = beside, "together", len(sides.shared_rides)
    else:
        share, basis, rides = combined(beside, alone), "both", len(sides.shared_rides) + sides.alone()
    assert share is not None
    found = contrast(share, ride_level(levels, _lengths(tables)), options.confidence)
    return Difference(
        a=a, b=b, rides=rides, basis=basis, ratio=found.ratio, difference=found.difference,
        told_apart=False, p_adjusted=found.p,
    )  # fmt: skip


def _as_shown(one: Difference, gap_m: float) -> Difference:
    """Return a difference whose value is that of the two spreads as they stand beside it.

    Its interval is that of what the two err by on their own; where that does not hold ``gap_m``, the value is
    its own too.
    """
    own = one.difference
    return replace(one, difference=replace(own, value=gap_m)) if own.low < gap_m < own.high else one


def _known(values: Floats) -> Floats:
    return np.asarray(values[np.isfinite(values)])


def _shared(table: Ridden, a: str, b: str, rides: Sequence[str]) -> Shared:
    """Return the moments of two receivers on shared rides of one route."""
    a_m, b_m = (table.stack(table.deviation_m, name, rides) for name in (a, b))
    return shared_moments(a_m, b_m, rides)


def _first_fix(route: RouteResult, trace: TraceResult) -> float:
    return trace.first_fix.value_s


def _settled_fix(route: RouteResult, trace: TraceResult) -> float:
    """Return the settled fix, infinite where the trace never settled though its start is known."""
    never = trace.settled_fix.censored and np.isfinite(trace.first_fix.value_s)
    return float("inf") if never else trace.settled_fix.value_s


def _share_astray(route: RouteResult, trace: TraceResult) -> float:
    if not np.isfinite(route.deviation_m[trace.number]).any():
        return float("nan")
    return sum(_astray_m(route, trace)) / max(trace.coverage * route.length_m, 1.0)


FIGURES: Mapping[RideFigure, Callable[[RouteResult, TraceResult], float]] = MappingProxyType(
    {"first_fix": _first_fix, "settled_fix": _settled_fix, "stray_share": _share_astray}
)


def _by_ride(tables: Sequence[Ridden], figure: RideFigure, a: str, b: str) -> RideDifference | None:
    """Return the exact test of two receivers by a figure, on shared rides if there are two, else on all."""
    found = [by_ride(tables, name, FIGURES[figure]) for name in (a, b)]
    known = [{key: value for key, value in one.items() if not np.isnan(value)} for one in found]
    both = [key for key in known[0] if key in known[1] and is_shared(key[1])]
    basis: Basis = "together" if len(both) > 1 else "apart"
    keys = (both, both) if basis == "together" else tuple(list(one) for one in known)
    values = [np.array([one[key] for key in chosen]) for one, chosen in zip(known, keys, strict=True)]
    if basis == "together":
        test = signed_ranks(np.minimum(values[0], NEVER_S) - np.minimum(values[1], NEVER_S))
    else:
        test = rank_sum(values[0], values[1])
    if test is None:
        return None
    medians = [float(np.median(one)) for one in values]
    gap_of_medians = medians[0] - medians[1] if np.isfinite(medians).all() else float("nan")
    return RideDifference(
        figure=figure, a=a, b=b, rides=min(len({key[1] for key in chosen}) for chosen in keys), basis=basis,
        difference=gap_of_medians, p=test.p, smallest_p=test.smallest, p_adjusted=float("nan"),
        told_apart=False,
    )  # fmt: skip
