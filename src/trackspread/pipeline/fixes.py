"""First and settled fixes of the traces of a route, and what at their beginning is settling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trackspread.geometry.crossings import Crossings
from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import cumulative_length, tangents
from trackspread.geometry.ways_beside import ALONG_COS
from trackspread.model import Bools, FirstFix, Floats, Ints, Reason, SettledFix, Witness
from trackspread.noise.correlation import Correlation
from trackspread.options import Options
from trackspread.rides.laps import LATER_LAP
from trackspread.statistics.astray.settling import companions_agree, converges, fall, leaps, turns_in
from trackspread.statistics.first_fix import first_fix, settled_fix

FAR_DOUBT = 0.1  # share of a distance by which it may be wrong out of reach, reckoned by the way logged
LEAST_APPROACH_M = 30.0  # shortest approach, m
STREET_OVER_ERRORS = 2.0
"""So many times as far aside as the rides err later on is a street; nearer it may be an error like those."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Beside:
    """What fixes are judged by: deviations, their scale and what of them is allowed, shape (T, S).

    ``enter`` is how many scales a deviation must reach to be more than chance; ``elsewhere`` says where a
    trace takes a variant; ``correlation`` is that of errors along the route; what lies
    beyond ``reach_m`` is not known so well.
    """

    deviation_m: Floats
    scale_m: Floats
    allowed_m: Floats
    enter: float
    elsewhere: Bools
    correlation: Correlation
    reach_m: float


Fixes = tuple[FirstFix, SettledFix]


def fixes(
    witnesses: Sequence[Witness], bundle: Bundle, ride: Ints, line: Line, station_m: Floats, found: Crossings,
    beside: Beside, options: Options,
) -> tuple[list[Fixes], list[int]]:  # fmt: skip
    """Return first and settled fix of every trace, and how many stations its settling takes up.

    What comes before the settled fix is settling only where the position converges on the others, or leaps
    to them. A trace that comes to the line as a rider comes from another street made an approach: it is not
    settling, nothing of the route is missing, and whether its fix had settled nobody can say.

    Parameters
    ----------
    witnesses : sequence of Witness, length T
        The traces of a route.
    bundle : Bundle
        Their points, (P,) of them.
    ride : ndarray of int, shape (T,)
        Number of the ride of each trace.
    line : Line
        Centreline with S stations.
    station_m : ndarray, shape (P,)
        Station of each point, metres; NaN away.
    found : Crossings
        Where and when each trace passes each station.
    beside : Beside
        What fixes are judged by.
    options : Options
        For band and hold of the settled fix.

    Returns
    -------
    fixes : list of (FirstFix, SettledFix), length T
    stations : list of int, length T
        How many stations from the first the settling takes up, 0 where there is none.
    """
    begun, told, settling = [], [], []
    for number, witness in enumerate(witnesses):
        first_time = witness.trace.first_time_s()
        at = first_station_m(bundle, station_m, number)
        first = first_fix(
            number, first_time, witness.start_s, witness.start_source, at, line.station_m, found.time_s
        )
        if witness.start_reason and np.isnan(first.value_s) and np.isfinite(first_time):
            first = replace(first, reason=Reason(witness.start_reason))
        if np.isfinite(first.value_s):
            first = replace(first, seen_s=witness.fix_seen_s - witness.start_s)
        joined, joined_time = _joining(bundle, station_m, number, first, first_time)
        settled, stations = settled_fix(
            joined,
            joined_time,
            witness.start_s,
            line.station_m,
            found.time_s[number],
            np.where(beside.elsewhere[number], np.nan, beside.deviation_m[number]),
            beside.allowed_m[number],
            found.away[number] & ~beside.elsewhere[number],
            options,
        )
        told.append((first, settled))
        begun.append(stations)
    later_m = np.where(_beginning(begun, beside) | beside.elsewhere, np.nan, np.abs(beside.deviation_m))
    for number, stations in enumerate(begun):
        errors_m = float(np.nanmax(later_m[:, stations:], initial=0.0))
        met = _met_at(number, stations, bundle, ride, line, station_m, found, beside, errors_m)
        if met is not None:
            told[number] = _approached(*told[number], float(line.station_m[met]))
        own_lap = witnesses[number].start_reason != LATER_LAP
        settling.append(stations if met is None and own_lap else 0)
    return told, settling


def _beginning(begun: Sequence[int], beside: Beside) -> Bools:
    """Return the stations at which each trace had not settled, (T, S)."""
    return np.arange(beside.deviation_m.shape[1]) < np.array(begun)[:, None]


def _met_at(
    trace: int, stations: int, bundle: Bundle, ride: Ints, line: Line, station_m: Floats, found: Crossings,
    beside: Beside, errors_m: float,
) -> int | None:  # fmt: skip
    """Return the station at which a trace met the others after an approach, None where it made none.

    ``errors_m`` is the farthest that the rides err beyond its end.
    """
    seen = np.flatnonzero(np.isfinite(found.offset_m[trace]) | found.away[trace])
    if len(seen) == 0:
        return None
    first = int(seen[0])
    if beside.elsewhere[trace, first]:
        return int(first + np.argmin(np.append(beside.elsewhere[trace, first:], False)))
    if _from_aside_m(trace, bundle, line, station_m, float(line.station_m[first])) >= LEAST_APPROACH_M:
        return first
    part = np.zeros(len(line.station_m), dtype=bool)
    part[first:stations] = True
    part &= np.isfinite(beside.deviation_m[trace])
    size = np.abs(beside.deviation_m[trace, part])
    step = line.length_m / (len(line.station_m) - 1)
    if len(size) * step < LEAST_APPROACH_M:
        return None
    scale = beside.scale_m[trace, part]
    usual, above = float(np.nanmedian(scale)), float(np.nanmax(size / scale, initial=0.0))
    left_again = _left_again(size, usual)
    size = fall(beside.deviation_m[trace], first, stations, usual)
    never_came = stations > seen[-1] and size[-1] > usual
    together = companions_agree(beside.deviation_m, ride, trace, part)
    an_error = left_again or float(size.max()) < STREET_OVER_ERRORS * errors_m
    if (
        never_came
        or (together is None and an_error)
        or not (above >= beside.enter or turns_in(size, usual, step))
    ):
        return None
    own = bundle.of(trace)
    begun = slice(own.start, own.start + _points_until(found.time_s[trace], stations, bundle.time_s[own]))
    leap = leaps(bundle.x[begun], bundle.y[begun], bundle.time_s[begun], float(size.max() - size[-1]))
    own_m = beside.deviation_m[trace]
    far = found.away[trace] & (np.abs(own_m) > beside.reach_m)
    doubt_m = np.where(far, FAR_DOUBT * np.abs(own_m), 0.0)
    logged_m = found.span_m[trace, first:stations]
    apart_m = float(np.nanmedian(logged_m)) if np.isfinite(logged_m).any() else 0.0
    falls = leap or converges(own_m, first, usual, found.time_s[trace], beside.correlation, doubt_m, apart_m)
    settles = together is not True and (together is False or falls)
    return None if settles else min(stations, len(line.station_m) - 1)


def _left_again(size_m: Floats, scale_m: float) -> bool:
    """Return whether a trace came within a scale of the others and left them again by half of its peak.

    A street that leads to the route does not meet it before its end.
    """
    met = np.flatnonzero(size_m <= scale_m)
    return len(met) > 0 and bool(size_m[met[0] :].max() >= 0.5 * size_m.max())


def _points_until(crossing_s: Floats, station: int, time_s: Floats) -> int:
    """Return how many points a trace logged until just after it passed a station."""
    later = crossing_s[station:]
    later = later[np.isfinite(later)]
    return int(np.searchsorted(time_s, later[0], side="right")) + 1 if len(later) else len(time_s)


def _from_aside_m(trace: int, bundle: Bundle, line: Line, station_m: Floats, first_m: float) -> float:
    """Return how far a trace rode across the line, not beside it, before it came to its first station."""
    own = bundle.of(trace)
    at = station_m[own]
    known = np.flatnonzero(np.isfinite(at))
    if len(known) == 0 or at[known[0]] > first_m + LEAST_APPROACH_M or first_m <= 0.0:
        return 0.0
    joins = int(known[0])
    start = int(np.flatnonzero(bundle.gap_before[own][: joins + 1])[-1])
    x, y = (c[own][start : joins + 1] for c in (bundle.x, bundle.y))
    way = np.array([x[-1] - x[0], y[-1] - y[0]])
    place = int(np.argmin(np.abs(line.station_m - at[joins])))
    along = way @ np.array([t[place] for t in tangents(line.x, line.y)])
    return float(cumulative_length(x, y)[-1]) if along < ALONG_COS * np.linalg.norm(way) else 0.0


def _approached(first: FirstFix, settled: SettledFix, met_m: float) -> Fixes:
    """Return the fixes of a trace that came by another way: nothing of the route is missing before that."""
    nan = float("nan")
    reason = first.reason + Reason.of("came_another_way", met_m=met_m)
    first = replace(first, at_station_m=nan, missing_m=nan, lower_bound_s=nan, reason=reason)
    if np.isnan(settled.value_s) and not settled.censored and not np.isfinite(settled.at_station_m):
        return first, settled
    reason = Reason.of("met_the_others", met_m=met_m)
    return first, replace(settled, value_s=nan, at_station_m=met_m, censored=False, reason=reason)


def _joining(
    bundle: Bundle, station_m: Floats, trace: int, first: FirstFix, first_time_s: float
) -> tuple[FirstFix, float]:
    """Return place and time from which a trace may have settled: not before the piece that comes to the line.

    What was logged out of reach and ended in a leap or an interruption was not with the other rides.
    """
    part = bundle.of(trace)
    known = np.flatnonzero(np.isfinite(station_m[part]))
    if len(known) == 0:
        return first, first_time_s
    joins = int(known[0])
    start = int(np.flatnonzero(bundle.gap_before[part][: joins + 1])[-1])
    begins_s = float(bundle.time_s[part][start])
    if start == 0 or not begins_s > first_time_s:
        return first, first_time_s
    x, y = (c[part][start : joins + 1] for c in (bundle.x, bundle.y))
    way = float(cumulative_length(x, y)[-1])
    return replace(first, at_station_m=max(0.0, float(station_m[part][joins]) - way)), begins_s


def first_station_m(bundle: Bundle, station_m: Floats, trace: int) -> float:
    """Return the station of a trace's first point; before its first match, reckoned back by way travelled.

    Parameters
    ----------
    bundle : Bundle
        Points of all traces, (P,) of them.
    station_m : ndarray, shape (P,)
        Station of each point, metres; NaN away.
    trace : int
        Number of the trace.

    Returns
    -------
    float
        Metres, at least 0; NaN where no point has a station.
    """
    part = bundle.of(trace)
    known = np.flatnonzero(np.isfinite(station_m[part]))
    if len(known) == 0:
        return float("nan")
    way = float(cumulative_length(*(c[part][: known[0] + 1] for c in (bundle.x, bundle.y)))[-1])
    return max(0.0, float(station_m[part][known[0]]) - way)
