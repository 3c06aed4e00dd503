"""Receivers ridden together: pair by pair, from the arrays of a route to `PairResult`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from trackspread.errors import printable
from trackspread.model import Bools, Estimate, Floats, PairResult
from trackspread.options import Options
from trackspread.statistics.agreement import linked_replicates
from trackspread.statistics.clock import Clock, along_separation, clock_offset
from trackspread.statistics.effective import Along, centred, mean_estimate
from trackspread.statistics.pair_words import sentence
from trackspread.statistics.receiver_sd import OwnErrors, own_errors
from trackspread.statistics.separation import by_segment, distance_m


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Table:
    """Offsets and times by receiver and ride, shape (K, N, S), NaN where there is no trace.

    ``voiced_m`` are the offsets without stretches and settling phases. ``used`` (K, N) says which
    receiver has a trace on which ride.
    """

    receivers: tuple[str, ...]
    rides: tuple[str, ...]
    offset_m: Floats
    voiced_m: Floats
    crossing_s: Floats
    used: Bools


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
    found = []
    for a, b in combinations(range(len(table.receivers)), 2):
        if (table.used[a] & table.used[b]).any():
            found.append(_pair(table, a, b, station_m, along, options, correlation_length_m))
    return tuple(found)


def _table(
    offset_m: Floats, crossing_s: Floats, in_stretch: Bools, receivers: Sequence[str], rides: Sequence[str]
) -> Table:
    """Sort traces by receiver and ride; two parts of one recording complete each other."""
    known = [i for i in range(len(offset_m)) if receivers[i] and rides[i]]
    names = tuple(dict.fromkeys(receivers[i] for i in known))
    trips = tuple(dict.fromkeys(rides[i] for i in known))
    shape = (len(names), len(trips), offset_m.shape[1])
    offset, voiced, crossing = (np.full(shape, np.nan) for _ in range(3))
    used = np.zeros(shape[:2], dtype=bool)
    for i in known:
        place = names.index(receivers[i]), trips.index(rides[i])
        free = np.isnan(offset[place])
        offset[place][free] = offset_m[i][free]
        voiced[place][free] = np.where(in_stretch[i], np.nan, offset_m[i])[free]
        crossing[place][free] = crossing_s[i][free]
        used[place] = True
    return Table(
        receivers=names, rides=trips, offset_m=offset, voiced_m=voiced, crossing_s=crossing, used=used
    )


def _pair(
    table: Table,
    a: int,
    b: int,
    station_m: Floats,
    along: Along,
    options: Options,
    correlation_length_m: float,
) -> PairResult:
    shared = np.flatnonzero(table.used[a] & table.used[b])
    clock = clock_offset(
        table.crossing_s[a, shared], table.crossing_s[b, shared], station_m, along, options.confidence
    )
    across = table.offset_m[a, shared] - table.offset_m[b, shared]
    apart_m = along_separation(
        table.crossing_s[a, shared], table.crossing_s[b, shared], station_m, clock.by_ride_s
    )
    difference = table.voiced_m[a, shared] - table.voiced_m[b, shared]
    bias, _ = mean_estimate(difference, along, options.confidence)
    limits = linked_replicates(by_segment(difference, station_m, options.segment_m))
    own = _own(table, a, b, shared, along, options.confidence)
    names = printable(table.receivers[a], 40), printable(table.receivers[b], 40)
    words = sentence(names, own, len(shared), clock, options, correlation_length_m)
    ends = (limits.low, limits.high) if limits else None
    return _record(table, (a, b), shared, clock, across, apart_m, bias, ends, own, words)


def _record(
    table: Table, pair: tuple[int, int], shared: np.ndarray, clock: Clock, across: Floats, apart_m: Floats,
    bias: Estimate, limits: tuple[float, float] | None, own: OwnErrors | str, words: str,
) -> PairResult:  # fmt: skip
    distance = distance_m(across, apart_m)
    distance = distance[np.isfinite(distance)]
    nothing = Estimate(reason=own) if isinstance(own, str) else Estimate()
    none = float("nan")
    return PairResult(
        a=table.receivers[pair[0]], b=table.receivers[pair[1]], rides=len(shared),
        ride_names=tuple(table.rides[i] for i in shared), clock_offset_s=clock.pooled,
        separation_median_m=float(np.median(distance)) if len(distance) else none,
        separation_p95_m=float(np.quantile(distance, 0.95)) if len(distance) else none,
        sd_a=nothing if isinstance(own, str) else own.sd_a,
        sd_b=nothing if isinstance(own, str) else own.sd_b,
        common_sd_m=nothing if isinstance(own, str) else own.common,
        bias_m=bias, limits_m=limits or (none, none),
        difference=nothing if isinstance(own, str) else own.difference,
        told_apart=not isinstance(own, str) and own.told_apart, sentence=words,
        separation_across_m=across, separation_along_m=apart_m,
    )  # fmt: skip


def _own(
    table: Table, a: int, b: int, shared: np.ndarray, along: Along, confidence: float
) -> OwnErrors | str:
    """Return the standard deviations of two receivers, by the best reference there is."""
    both = np.isfinite(table.voiced_m[a, shared]) & np.isfinite(table.voiced_m[b, shared])
    overlap = both.any(axis=1)
    if not overlap.any():
        return "the two never pass the same station on one ride"
    companions = [k for k in range(len(table.receivers)) if k not in (a, b) and table.used[k, shared].all()]
    middle = np.zeros(both.shape)
    if companions:
        middle = hat_reference(table.voiced_m[a, shared], table.voiced_m[b, shared],
                               np.mean(table.voiced_m[companions][:, shared], axis=0))  # fmt: skip
    elif overlap.sum() == 1:
        others = [n for n in range(len(table.rides)) if n not in shared[overlap]]
        if not others or not np.isfinite(table.voiced_m[:, others]).any():
            return "one ride with two receivers cannot part their errors from the rider's line; ride again"
        middle = middle + _mean_known(table.voiced_m[:, others].reshape(-1, both.shape[1]))
    return own_errors(table.voiced_m[a, shared], table.voiced_m[b, shared], middle, along, confidence)


def _mean_known(values: Floats) -> Floats:
    count = np.isfinite(values).sum(axis=0)
    total = np.nansum(values, axis=0)
    return np.asarray(np.divide(total, count, out=np.full(len(count), np.nan), where=count > 0))


def hat_reference(a_m: Floats, b_m: Floats, companion_m: Floats, weight: float | None = None) -> Floats:
    """Return the reference m of two receivers that one or more others accompany, shape (R, S).

    ``weight`` times the companions' mean: 1 is the three-cornered hat (averaged over all third
    receivers), 0 the estimators for two. Any weight is unbiased, as the companions' errors have nothing to do
    with the difference a - b; the one that leaves least scatter is the regression of the mean of a and b on
    the companions, taken here between 0 and 1, so that a bad third receiver does no harm. One
    ride alone takes 1.
    """
    if weight is None:
        u, freedom = centred(np.where(np.isfinite(companion_m), 0.5 * (a_m + b_m), np.nan))
        v, _ = centred(np.where(np.isfinite(u), companion_m, np.nan))
        power = float(np.nansum(v * v))
        weight = float(np.clip(np.nansum(u * v) / power, 0.0, 1.0)) if freedom.any() and power > 0 else 1.0
    return np.asarray(weight * companion_m)
