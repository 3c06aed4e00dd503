"""Receivers ridden together: pair by pair, from the arrays of a route to `PairResult`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from trackspread.errors import printable
from trackspread.model import Bools, Estimate, Floats, PairResult, Reason
from trackspread.model.arrays import kept
from trackspread.noise.effective import Along, centred, mean_estimate
from trackspread.numeric.means import mean_known
from trackspread.options import Options
from trackspread.pairs.agreement import linked_replicates
from trackspread.pairs.clock import Clock, along_separation, clock_offset
from trackspread.pairs.outcome import between, outcome
from trackspread.pairs.own_errors import OwnErrors, own_errors
from trackspread.pairs.separation import by_segment, distance_m


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Table:
    """Traces by receiver and ride.

    ``offset_m``, ``voiced_m`` (without stretches and settling phases) and ``crossing_s`` have shape (T, S).
    ``rows`` holds the traces of a receiver (its number) on a ride (its number): mostly one.
    """

    receivers: tuple[str, ...]
    rides: tuple[str, ...]
    offset_m: Floats
    voiced_m: Floats
    crossing_s: Floats
    rows: Mapping[tuple[int, int], list[int]]

    def shared(self, a: int, b: int) -> list[int]:
        """Return the rides on which both were carried."""
        return [n for n in range(len(self.rides)) if (a, n) in self.rows and (b, n) in self.rows]

    def stack(self, values: Floats, receiver: int, rides: Sequence[int]) -> Floats:
        """Return values of one receiver by ride, (R, S); two parts of one recording complete each other."""
        out = np.full((len(rides), values.shape[1]), np.nan)
        for place, ride in enumerate(rides):
            for row in self.rows.get((receiver, ride), []):
                out[place] = np.where(np.isnan(out[place]), values[row], out[place])
        return out


def pair_results(
    station_m: Floats, offset_m: Floats, crossing_s: Floats, in_stretch: Bools, receivers: Sequence[str],
    rides: Sequence[str], options: Options, correlation_length_m: float, heading_rad: Floats | None = None,
) -> tuple[PairResult, ...]:  # fmt: skip
    """Compare every two receivers that share a ride.

    Parameters
    ----------
    station_m : ndarray, shape (S,)
    offset_m, crossing_s : ndarray, shape (T, S)
        Offsets, positive right, and times of passing each station, NaN unknown.
    in_stretch : ndarray of bool, shape (T, S)
        Stations that do not enter standard deviations and bias; separations are of all.
    receivers, rides : sequence of str, length T
        ``""`` is unknown and pairs with nothing.
    correlation_length_m : float
        Over which errors stay alike; only told.
    heading_rad : ndarray, shape (S,), optional
        Direction of the line: an error that points one way on the earth turns where the line turns.

    Returns
    -------
    tuple of PairResult
        In order of first appearance. A figure that cannot be had is NaN with its reason.
    """
    table = _table(offset_m, crossing_s, in_stretch, receivers, rides)
    along = Along.of(station_m, heading_rad)
    aboard = [[k for k, n in table.rows if n == ride] for ride in range(len(table.rides))]
    together = sorted({pair for crew in aboard for pair in combinations(sorted(crew), 2)})
    return tuple(_pair(table, a, b, station_m, along, options, correlation_length_m) for a, b in together)


def _table(
    offset_m: Floats, crossing_s: Floats, in_stretch: Bools, receivers: Sequence[str], rides: Sequence[str]
) -> Table:
    """Sort traces by receiver and ride."""
    known = [i for i in range(len(offset_m)) if receivers[i] and rides[i]]
    names, trips = (
        {name: k for k, name in enumerate(dict.fromkeys(x[i] for i in known))} for x in (receivers, rides)
    )
    rows: dict[tuple[int, int], list[int]] = {}
    for i in known:
        rows.setdefault((names[receivers[i]], trips[rides[i]]), []).append(i)
    return Table(
        receivers=tuple(names), rides=tuple(trips), offset_m=offset_m,
        voiced_m=kept(offset_m, in_stretch), crossing_s=crossing_s, rows=rows,
    )  # fmt: skip


def _pair(
    table: Table,
    a: int,
    b: int,
    station_m: Floats,
    along: Along,
    options: Options,
    correlation_length_m: float,
) -> PairResult:
    shared = table.shared(a, b)
    time_a, time_b = (table.stack(table.crossing_s, k, shared) for k in (a, b))
    clock = clock_offset(time_a, time_b, station_m, along, options.confidence)
    across = table.stack(table.offset_m, a, shared) - table.stack(table.offset_m, b, shared)
    apart_m = along_separation(time_a, time_b, station_m, clock.by_ride_s)
    difference = table.stack(table.voiced_m, a, shared) - table.stack(table.voiced_m, b, shared)
    bias, _ = mean_estimate(difference, along, options.confidence)
    limits = linked_replicates(by_segment(difference, station_m, options.segment_m))
    own = _own(table, a, b, shared, along, options.confidence)
    names = printable(table.receivers[a], 40), printable(table.receivers[b], 40)
    told = outcome(names, own, len(shared), clock, options, correlation_length_m, bias)
    ends = (limits.low, limits.high) if limits else None
    return _record(table, (a, b), shared, clock, across, apart_m, bias, ends, own, told)


def _record(
    table: Table, pair: tuple[int, int], shared: list[int], clock: Clock, across: Floats, apart_m: Floats,
    bias: Estimate, limits: tuple[float, float] | None, own: OwnErrors | Reason, told: Reason,
) -> PairResult:  # fmt: skip
    names = printable(table.receivers[pair[0]], 40), printable(table.receivers[pair[1]], 40)
    distance = distance_m(across, apart_m)
    distance = distance[np.isfinite(distance)]
    nothing = Estimate(reason=own) if isinstance(own, Reason) else Estimate()
    none = float("nan")
    return PairResult(
        a=table.receivers[pair[0]], b=table.receivers[pair[1]], rides=len(shared),
        ride_names=tuple(table.rides[i] for i in shared),
        clock_offset_s=replace(clock.pooled, reason=between(names, clock.pooled.reason)),
        separation_median_m=float(np.median(distance)) if len(distance) else none,
        separation_p95_m=float(np.quantile(distance, 0.95)) if len(distance) else none,
        sd_a=nothing if isinstance(own, Reason) else own.sd_a,
        sd_b=nothing if isinstance(own, Reason) else own.sd_b,
        common_sd_m=nothing if isinstance(own, Reason) else own.common,
        bias_m=bias, limits_m=limits or (none, none),
        difference=nothing if isinstance(own, Reason) else own.difference,
        told_apart=not isinstance(own, Reason) and own.told_apart, outcome=told,
        separation_across_m=across, separation_along_m=apart_m,
    )  # fmt: skip


def _own(
    table: Table, a: int, b: int, shared: list[int], along: Along, confidence: float
) -> OwnErrors | Reason:
    """Return the standard deviations of two receivers, by the best reference there is."""
    a_m, b_m = (table.stack(table.voiced_m, k, shared) for k in (a, b))
    overlap = np.isfinite(a_m + b_m).any(axis=1)
    if not overlap.any():
        return Reason("never_meet")
    a_m, b_m, shared = a_m[overlap], b_m[overlap], [shared[i] for i in np.flatnonzero(overlap)]
    others = [k for k in range(len(table.receivers)) if k not in (a, b)]
    aboard = [k for k in others if any((k, n) in table.rows for n in shared)]
    companions = [table.stack(table.voiced_m, k, shared) for k in aboard]
    if len(shared) > 1:
        middle = hat_reference(a_m, b_m, companions) if companions else np.zeros(a_m.shape)
    elif companions:
        middle = mean_known(np.concatenate(companions))[None]
    else:
        rest = [i for (_, n), rows in table.rows.items() if n not in shared for i in rows]
        if not rest:
            return Reason("one_ride_two_receivers")
        middle = mean_known(table.voiced_m[rest])[None]
    return own_errors(a_m, b_m, middle, along, confidence)


def hat_reference(
    a_m: Floats, b_m: Floats, companions_m: Sequence[Floats], weight: float | None = None
) -> Floats:
    """Return the reference m of two receivers that one or more others accompany on several rides, (R, S).

    ``weight`` times the companions' mean, each less its mean across rides and 0 where it has no data: 1 is
    the three-cornered hat (averaged over all third receivers), 0 the estimators for two. Any weight is
    unbiased, as the companions' errors have nothing to do with the difference a - b; the one that leaves
    least scatter is the regression of the mean of a and b on the companions, taken here between 0 and 1, so
    that neither a bad third receiver nor one that stopped half way does harm.
    """
    companion = np.nan_to_num(mean_known(np.stack([centred(c)[0] for c in companions_m])))
    if weight is None:
        u, _ = centred(0.5 * (a_m + b_m))
        power = float(np.sum(np.where(np.isfinite(u), companion, 0.0) ** 2))
        weight = float(np.clip(np.nansum(u * companion) / power, 0.0, 1.0)) if power > 0 else 0.0
    return np.asarray(weight * companion)
