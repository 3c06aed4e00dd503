"""All receivers of an analysis side by side, over all their rides and routes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from trackspread.model import (
    Basis,
    Claim,
    Comparison,
    Difference,
    Estimate,
    Floats,
    ReceiverSummary,
    RouteResult,
    TraceResult,
)
from trackspread.noise.effective import centred
from trackspread.options import Options
from trackspread.pairs.ride_by_ride import Contrast, RideMoments, contrast, ride_moments
from trackspread.statistics.first_fix import median_fix
from trackspread.statistics.letters import holm, letters
from trackspread.statistics.ride_share import share_of_way
from trackspread.statistics.ride_spread import sd_of_rides, sd_posterior

LEAST_STATIONS = 20
"""A ride with fewer says nothing of its spread."""
NOT_COMPARED = "the two share no two rides of one route, nor has each two rides of its own"


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class RideSquares:
    """Mean square error of each ride of one receiver, the independent values behind it, and its worth."""

    square_m2: Floats
    dof: Floats
    worth: Floats


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
        Receivers in the order of their spread, those without one last.
    """
    names = sorted({trace.receiver for route in routes for trace in route.traces} - {""})
    if not names:
        return None
    squares = {name: _squares(routes, name) for name in names}
    summaries = [_summary(routes, name, squares[name], options) for name in names]
    summaries.sort(key=lambda one: (not np.isfinite(one.spread.value), one.spread.value, one.receiver))
    order = [one.receiver for one in summaries]
    found = [_difference(routes, a, b, squares, options) for a, b in combinations(order, 2)]
    adjusted = holm(np.array([one.p_adjusted for one in found]), risk=1.0 - options.confidence)
    apart = np.zeros((len(order), len(order)), dtype=bool)
    differences = []
    for one, p in zip(found, adjusted.tolist(), strict=True):
        told = bool(p <= 1.0 - options.confidence)
        i, j = order.index(one.a), order.index(one.b)
        apart[i, j] = apart[j, i] = told
        differences.append(replace(one, told_apart=told, p_adjusted=p))
    known = [np.isfinite(one.spread.value) for one in summaries]
    groups = letters(apart[np.ix_(known, known)]) if len(order) > 1 else [""] * sum(known)
    given = iter(groups)
    return Comparison(
        receivers=tuple(
            replace(one, group=next(given)) if has else one for one, has in zip(summaries, known, strict=True)
        ),
        differences=tuple(differences),
    )


def _of(route: RouteResult, receiver: str) -> list[TraceResult]:
    return [trace for trace in route.traces if trace.receiver == receiver]


def _ride(trace: TraceResult) -> str:
    return trace.ride or f"#{trace.file}:{trace.part}"


def errors_m(route: RouteResult) -> Floats:
    """Return the offsets that count as errors, shape (T, S): all but where the rider took another way."""
    offset = route.offset_m.copy()
    for stretch in route.stretches:
        if stretch.cause == "line":
            part = (route.station_m >= stretch.from_m) & (route.station_m <= stretch.to_m)
            offset[stretch.number, part] = np.nan
    return offset


def lengths_in(route: RouteResult) -> float:
    """Return the independent lengths in one ride of a route: its length / correlation length."""
    return max(route.length_m / max(route.correlation_length_m, route.station_step_m), 1.0)


def _stack(values: Floats, rows: dict[str, list[int]], rides: Sequence[str]) -> Floats:
    """Return values by ride, (R, S); two parts of one recording complete each other."""
    out = np.full((len(rides), values.shape[1]), np.nan)
    for place, ride in enumerate(rides):
        for row in rows[ride]:
            out[place] = np.where(np.isnan(out[place]), values[row], out[place])
    return out


def _rows(route: RouteResult, receiver: str) -> dict[str, list[int]]:
    rows: dict[str, list[int]] = {}
    for trace in _of(route, receiver):
        rows.setdefault(_ride(trace), []).append(trace.number)
    return rows


def _squares(routes: Sequence[RouteResult], receiver: str) -> RideSquares:
    """Return the mean square error of every ride about the receiver's own mean line, on every route."""
    square, dof, worth = [], [], []
    for route in routes:
        rows = _rows(route, receiver)
        if len(rows) < 2:
            continue
        values, _ = centred(_stack(errors_m(route), rows, list(rows)))
        count = np.isfinite(values).sum(axis=1)
        ridden = count >= LEAST_STATIONS
        rides = int(ridden.sum())
        if rides < 2:
            continue
        own = (rides - 1.0) / rides
        square.append(np.nansum(values[ridden] ** 2, axis=1) / count[ridden] / own)
        dof.append(lengths_in(route) * count[ridden] / values.shape[1])
        worth.append(np.full(rides, own))
    none = np.zeros(0)
    return RideSquares(
        square_m2=np.concatenate([none, *square]), dof=np.concatenate([none, *dof]),
        worth=np.concatenate([none, *worth]),
    )  # fmt: skip


def _summary(
    routes: Sequence[RouteResult], receiver: str, squares: RideSquares, options: Options
) -> ReceiverSummary:
    mine = [(route, trace) for route in routes for trace in _of(route, receiver)]
    first = [trace.first_fix for _, trace in mine]
    settled = [trace.settled_fix for _, trace in mine]
    never = sum(1 for s, f in zip(settled, first, strict=True) if s.censored and np.isfinite(f.value_s))
    return ReceiverSummary(
        receiver=receiver,
        rides=len({_ride(trace) for _, trace in mine}),
        routes=tuple(dict.fromkeys(route.name for route, _ in mine)),
        spread=sd_of_rides(squares.square_m2, squares.dof, squares.worth, options.confidence),
        first_fix_s=median_fix([f.value_s for f in first], 0, options.confidence, first[0].reason),
        settled_fix_s=median_fix([s.value_s for s in settled], never, options.confidence, settled[0].reason),
        stray_share=_stray_share(mine, options),
        claimed_m=_claim([trace.claimed_m for _, trace in mine]),
    )


def _stray_share(mine: Sequence[tuple[RouteResult, TraceResult]], options: Options) -> Estimate:
    """Return the share of the way on which a receiver left the others; a rider's other way is not its own."""
    struck: dict[str, float] = {}
    way: dict[str, float] = {}
    lengths = [options.segment_m]
    for route, trace in mine:
        if not np.isfinite(route.deviation_m[trace.number]).any():
            continue
        ride = _ride(trace)
        astray = [
            stretch.to_m - stretch.from_m
            for stretch in route.stretches
            if stretch.number == trace.number and stretch.cause not in ("line", "settling")
        ]
        lengths += astray
        struck[ride] = struck.get(ride, 0.0) + sum(astray)
        way[ride] = way.get(ride, 0.0) + trace.coverage * route.length_m
    return share_of_way(
        np.array(list(struck.values())), np.array(list(way.values())), max(lengths), options.confidence
    )


def _claim(claims: Sequence[Claim]) -> Claim:
    """Return the median over traces of what they claim."""
    known = [claim for claim in claims if np.isfinite(claim.median)]
    if not known:
        return Claim()
    return Claim(
        median=float(np.median([claim.median for claim in known])),
        p95=float(np.median([claim.p95 for claim in known])),
    )


def _difference(
    routes: Sequence[RouteResult], a: str, b: str, squares: dict[str, RideSquares], options: Options
) -> Difference:
    """Return two receivers side by side; ``p_adjusted`` holds the p of this pair alone."""
    parts, shared = [], set[str]()
    for route in routes:
        both = _rows(route, a), _rows(route, b)
        rides = [ride for ride in both[0] if ride in both[1] and not ride.startswith("#")]
        part = _moments(route, both, rides)
        if part is not None:
            parts.append(part)
            shared.update(rides)
    if parts:
        return _record(a, b, len(shared), "together", contrast(parts, options.confidence))
    apart = _apart(squares[a], squares[b], options.confidence)
    count = min(len(squares[a].dof), len(squares[b].dof))
    return _record(a, b, count, "apart", apart)


def _moments(
    route: RouteResult, rows: tuple[dict[str, list[int]], dict[str, list[int]]], rides: Sequence[str]
) -> RideMoments | None:
    if len(rides) < 2:
        return None
    errors = errors_m(route)
    a_m, b_m = (_stack(errors, one, rides) for one in rows)
    return ride_moments(a_m, b_m, np.zeros(a_m.shape), lengths_in(route))


def _record(a: str, b: str, rides: int, basis: Basis, found: Contrast | None) -> Difference:
    none = Estimate(reason=NOT_COMPARED)
    return Difference(
        a=a, b=b, rides=rides, basis=basis, ratio=found.ratio if found else none,
        difference=found.difference if found else none, told_apart=False,
        p_adjusted=found.p if found else float("nan"),
    )  # fmt: skip


def _apart(a: RideSquares, b: RideSquares, confidence: float) -> Contrast | None:
    """Return two receivers on rides of their own: two independent posteriors set against each other."""
    one, other = (sd_posterior(x.square_m2, x.dof, x.worth) for x in (a, b))
    if one is None or other is None:
        return None
    share: Floats = np.asarray((np.arange(200) + 0.5) / 200.0)
    sd_a, sd_b = one.quantile(share)[:, None], other.quantile(share)[None, :]
    tail = np.array([0.5, 0.5 - confidence / 2.0, 0.5 + confidence / 2.0])
    ratio, gap = np.quantile(sd_a / sd_b, tail), np.quantile(sd_a - sd_b, tail)
    above = float(np.mean(sd_a > sd_b))
    return Contrast(
        ratio=Estimate(value=float(ratio[0]), low=float(ratio[1]), high=float(ratio[2])),
        difference=Estimate(value=float(gap[0]), low=float(gap[1]), high=float(gap[2])),
        p=2.0 * min(above, 1.0 - above),
        log_ratio_error=float(np.log(ratio[2] / ratio[1])) / 3.92,
    )
