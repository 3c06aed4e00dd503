"""All receivers of an analysis side by side, over all their rides and routes."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations
from typing import TypeVar

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
    is_shared,
    name_of_ride,
    ridden,
    spread_of,
)
from trackspread.pipeline.ride_figures import (
    FIGURES,
    ByRide,
    all_alike_by_ride,
    astray_m,
    by_ride,
    compared_by_ride,
)
from trackspread.rides.colours import UNKNOWN
from trackspread.statistics.closed import alike_by_pairs, closed, over_figures
from trackspread.statistics.first_fix import median_fix
from trackspread.statistics.letters import letters
from trackspread.statistics.ride_share import share_of_way

NOT_COMPARED = Reason("nothing_to_compare_on")
NOT_SEEN = Reason("fix_not_noted")
Compared = TypeVar("Compared", Difference, RideDifference)
Routes = tuple[int, ...]
Squares = dict[str, dict[int, float]]
"""Mean square by ride and route."""


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
        to the family of all comparisons made (`closed`, `over_figures`).
    """
    names = sorted({trace.receiver for route in routes for trace in route.traces} - {"", UNKNOWN})
    if not names:
        return None
    tables = ridden(routes)
    summaries = [_summary(tables, name, options) for name in names]
    summaries.sort(key=lambda one: (not np.isfinite(one.spread.value), one.spread.value, one.receiver))
    order = [one.receiver for one in summaries]
    shown = {one.receiver: one.spread.value for one in summaries}
    spreads = [
        _as_shown(_difference(tables, a, b, options), shown[a] - shown[b]) for a, b in combinations(order, 2)
    ]
    rides = {name: [by_ride(tables, one, figure) for one in order] for name, figure in FIGURES.items()}
    tests = [compared_by_ride(name, order, own) for name, own in rides.items()]
    risk = 1.0 - options.confidence
    p = _family(spreads, tests, list(rides.values()), risk)
    differences = tuple(_told(one, own, risk) for one, own in zip(spreads, p[0], strict=True))
    by_figure = [
        _told(one, own, risk)
        for row, held in zip(tests, p[1:], strict=True)
        for one, own in zip(row, held, strict=True)
        if one is not None
    ]
    return Comparison(
        receivers=_grouped(summaries, differences),
        differences=differences,
        by_ride=tuple(by_figure),
        confidence=options.confidence,
    )


def _family(
    spreads: Sequence[Difference], tests: Sequence[Sequence[RideDifference | None]],
    rides: Sequence[Sequence[ByRide]], risk: float,
) -> list[Floats]:  # fmt: skip
    """Return the p-values of spread and of each figure by ride, held to the family of all."""
    count = len(rides[0])
    alone = np.array([one.p_adjusted for one in spreads])
    figures, smallest = [closed(alone, count, partial(alike_by_pairs, alone, count))], [0.0]
    for row, own in zip(tests, rides, strict=True):
        p = np.array([np.nan if one is None else one.p for one in row])
        figures.append(closed(p, count, partial(all_alike_by_ride, own)))
        smallest.append(min((one.smallest_p for one in row if one is not None), default=1.0))
    return over_figures(figures, smallest, risk)


def _told(one: Compared, p: float, risk: float) -> Compared:
    return replace(one, p_adjusted=float(p), told_apart=bool(p <= risk))


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


def _stray_share(mine: Sequence[tuple[RouteResult, TraceResult]], options: Options) -> Estimate:
    """Return the share of the way on which a receiver left the others."""
    struck: dict[str, float] = {}
    way: dict[str, float] = {}
    lengths = [options.segment_m]
    for route, trace in mine:
        if not np.isfinite(route.deviation_m[trace.number]).any():
            continue
        ride, astray = name_of_ride(trace), astray_m(route, trace)
        lengths += astray
        struck[ride] = struck.get(ride, 0.0) + sum(astray)
        way[ride] = way.get(ride, 0.0) + trace.coverage * route.length_m
    return share_of_way(
        np.array(list(struck.values())), np.array(list(way.values())), max(lengths), options.confidence
    )


@dataclass(kw_only=True, slots=True)
class _Sides:
    """What two receivers rode over all routes: moments of shared rides, squares of rides of their own.

    ``others`` are the rides in the consensus of each route of the latter.
    """

    parts: list[Shared] = field(default_factory=list)
    own: list[tuple[Floats, Floats]] = field(default_factory=list)
    others: list[int] = field(default_factory=list)
    shared_rides: set[str] = field(default_factory=set)

    def alone(self) -> int:
        """Return the rides of its own that the one with fewer has."""
        return min(sum(len(pair[k]) for pair in self.own) for k in (0, 1))


def _sides(tables: Sequence[Ridden], a: str, b: str) -> _Sides:
    out = _Sides()
    alone: tuple[Squares, Squares] = ({}, {})
    for number, table in enumerate(tables):
        mine = table.rides(a), table.rides(b)
        both = [ride for ride in mine[0] if ride in mine[1] and is_shared(ride)]
        if both:
            out.parts.append(_shared(table, a, b, both))
            out.shared_rides.update(both)
        own = [_known(table, name, set(rides) - set(both)) for name, rides in zip((a, b), mine, strict=True)]
        if all(own):
            out.others.append(table.others())
            for squares, of_route in zip(alone, own, strict=True):
                for ride, square in of_route.items():
                    squares.setdefault(ride, {})[number] = square
    out.own = _by_routes(alone)
    return out


def _known(table: Ridden, receiver: str, rides: Collection[str]) -> dict[str, float]:
    """Return the mean square of each of the rides that has one."""
    names = [ride for ride in table.rides(receiver) if ride in rides]
    squares = away_squares(table, receiver, names).tolist()
    return {ride: square for ride, square in zip(names, squares, strict=True) if np.isfinite(square)}


def _by_routes(alone: tuple[Squares, Squares]) -> list[tuple[Floats, Floats]]:
    """Return mean squares of rides of a and of b that cover the same routes; a ride counts once.

    Where the rides of the two never cover the same ones, each counts on its first route.
    """
    kinds = [{tuple(on) for on in squares.values()} for squares in alone]
    most = None if kinds[0] & kinds[1] else 1
    sorted_out: tuple[dict[Routes, list[float]], ...] = ({}, {})
    for strata, squares in zip(sorted_out, alone, strict=True):
        for on in squares.values():
            routes = tuple(on)[:most]
            strata.setdefault(routes, []).append(float(np.mean([on[route] for route in routes])))
    a, b = sorted_out
    return [(np.array(a[routes]), np.array(b[routes])) for routes in a if routes in b]


def _difference(tables: Sequence[Ridden], a: str, b: str, options: Options) -> Difference:
    """Return the spreads of two receivers side by side; ``p_adjusted`` holds the p of this pair alone."""
    sides = _sides(tables, a, b)
    beside, alone = together(sides.parts), apart(sides.own, float(np.mean(sides.others or [1])))
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


def _shared(table: Ridden, a: str, b: str, rides: Sequence[str]) -> Shared:
    """Return the moments of two receivers on shared rides of one route."""
    a_m, b_m = (table.stack(table.deviation_m, name, rides) for name in (a, b))
    return shared_moments(a_m, b_m, rides)
