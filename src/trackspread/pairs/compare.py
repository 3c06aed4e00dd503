"""Receivers ridden together: pair by pair, from the arrays of a route to `PairResult`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from trackspread.errors import printable
from trackspread.model import Bools, Estimate, Floats, PairResult, Reason
from trackspread.model.arrays import kept
from trackspread.noise.effective import Along, lengths_of, mean_estimate
from trackspread.numeric.means import mean_known
from trackspread.options import Options
from trackspread.pairs.agreement import linked_replicates
from trackspread.pairs.clock import Clock, along_separation, clock_offset
from trackspread.pairs.contrasts import beside_others
from trackspread.pairs.log_ratio import shared_moments
from trackspread.pairs.outcome import between, outcome
from trackspread.pairs.own_errors import OwnErrors, own_errors
from trackspread.pairs.separation import by_segment, distance_m


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Table:
    """Traces by receiver and ride.

    ``offset_m``, ``kept_m`` (without stretches and settling phases), ``away_m`` (deviations from the
    consensus of other rides, all errors) and ``crossing_s`` have shape (T, S).
    ``rows`` holds the traces of a receiver (its number) on a ride (its number): mostly one.
    """

    receivers: tuple[str, ...]
    rides: tuple[str, ...]
    offset_m: Floats
    kept_m: Floats
    away_m: Floats
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
    station_m: Floats, offset_m: Floats, away_m: Floats, crossing_s: Floats, in_stretch: Bools,
    receivers: Sequence[str], rides: Sequence[str], options: Options, correlation_length_m: float,
    heading_rad: Floats | None = None,
) -> tuple[PairResult, ...]:  # fmt: skip
    """Compare every two receivers that share a ride.

    Parameters
    ----------
    station_m : ndarray, shape (S,)
    offset_m, crossing_s : ndarray, shape (T, S)
        Offsets, positive right, and times of passing each station, NaN unknown.
    away_m : ndarray, shape (T, S)
        Deviations from the consensus of the other rides, NaN where the rider took another way. Standard
        deviations are of all of them.
    in_stretch : ndarray of bool, shape (T, S)
        Stations that do not enter the bias; separations are of all.
    receivers, rides : sequence of str, length T
        ``""`` is unknown and pairs with nothing.
    correlation_length_m : float
        Over which errors stay alike: a ride holds so many independent values.
    heading_rad : ndarray, shape (S,), optional
        Direction of the line: an error that points one way on the earth turns where the line turns.
    options : Options
        Thresholds.

    Returns
    -------
    tuple of PairResult
        In order of first appearance. A figure that cannot be had is NaN with its reason.
    """
    table = _table(offset_m, away_m, crossing_s, in_stretch, receivers, rides)
    along = Along.of(station_m, heading_rad)
    aboard = [[k for k, n in table.rows if n == ride] for ride in range(len(table.rides))]
    together = sorted({pair for crew in aboard for pair in combinations(sorted(crew), 2)})
    step_m = float(station_m[1] - station_m[0]) if len(station_m) > 1 else 1.0
    length_m = float(np.ptp(station_m)) if len(station_m) else 0.0
    lengths = lengths_of(length_m, correlation_length_m, step_m)
    sds = {k: _own_sd(table, k, lengths, options.confidence) for k in {k for pair in together for k in pair}}
    return tuple(
        _pair(table, a, b, station_m, along, options, correlation_length_m, (sds[a], sds[b]), lengths)
        for a, b in together
    )


def _table(
    offset_m: Floats, away_m: Floats, crossing_s: Floats, in_stretch: Bools, receivers: Sequence[str],
    rides: Sequence[str],
) -> Table:  # fmt: skip
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
        kept_m=kept(offset_m, in_stretch), away_m=away_m, crossing_s=crossing_s, rows=rows,
    )  # fmt: skip


def _pair(
    table: Table,
    a: int,
    b: int,
    station_m: Floats,
    along: Along,
    options: Options,
    correlation_length_m: float,
    sds: tuple[Estimate, Estimate],
    lengths: float,
) -> PairResult:
    shared = table.shared(a, b)
    time_a, time_b = (table.stack(table.crossing_s, k, shared) for k in (a, b))
    clock = clock_offset(time_a, time_b, station_m, along, options.confidence)
    across = table.stack(table.offset_m, a, shared) - table.stack(table.offset_m, b, shared)
    apart_m = along_separation(time_a, time_b, station_m, clock.by_ride_s)
    difference = table.stack(table.kept_m, a, shared) - table.stack(table.kept_m, b, shared)
    bias, _ = mean_estimate(difference, along, options.confidence)
    limits = linked_replicates(by_segment(difference, station_m, options.segment_m))
    own = _own(table, a, b, shared, sds, lengths, options.confidence)
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
    table: Table, a: int, b: int, shared: list[int], sds: tuple[Estimate, Estimate], lengths: float,
    confidence: float,
) -> OwnErrors | Reason:  # fmt: skip
    """Return how two receivers differ on the rides that they share, or why that cannot be said."""
    a_m, b_m = (table.stack(table.away_m, k, shared) for k in (a, b))
    overlap = np.isfinite(a_m + b_m).any(axis=1)
    if not overlap.any():
        return Reason("never_meet")
    a_m, b_m = a_m[overlap], b_m[overlap]
    return own_errors(a_m, b_m, sds, max(len(table.rides) - 1, 1), lengths, confidence)


def _own_sd(table: Table, receiver: int, lengths: float, confidence: float) -> Estimate:
    """Return the SD of a receiver beside the mean of all that were carried with it."""
    others = [k for k in range(len(table.receivers)) if k != receiver]
    crew = {
        n: [k for k in others if (k, n) in table.rows] for _, n in table.rows if (receiver, n) in table.rows
    }
    rides = sorted(n for n, aboard in crew.items() if aboard)
    aboard = sorted({k for n in rides for k in crew[n]})
    mean = mean_known(np.stack([table.stack(table.away_m, k, rides) for k in aboard]))
    return beside_others(
        [shared_moments(table.stack(table.away_m, receiver, rides), mean)], lengths, confidence
    )
