"""Time to first fix, and to a fix that stays with the other rides."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackspread.model import NOTHING, Bools, FirstFix, FixSource, Floats, MedianEstimate, Reason, SettledFix
from trackspread.numeric.intervals import median_interval
from trackspread.options import Options

NO_START = Reason("no_start")
ALREADY_THERE = Reason("fix_was_there")
NO_TIMES = Reason("no_times")
NO_OTHER = Reason("no_others_to_settle_on")


def first_fix(
    number: int,
    first_time_s: float,
    start_s: float,
    source: FixSource,
    at_station_m: float,
    station_m: Floats,
    crossing_s: Floats,
) -> FirstFix:
    """Return the first fix of one trace: its first logged position less the start, never 0 by default.

    A file holds logged positions only, so without a start from elsewhere the time is not measurable. What
    can be said then is how much of the route is missing at the start, and how long the other rides took
    over that (a lower bound, by their median).

    A position before the timer's start, which the file itself tells, is 0 s: the fix was there already, and
    the reason says so. Any other start after the first position is a wrong one.

    Parameters
    ----------
    at_station_m : float
        Where on the route the first position lies.
    station_m, crossing_s : ndarray, shapes (S,), (T, S)
        Stations, and when each trace passed them; ``number`` is this trace's row.
    number : int
        Row of this trace.
    first_time_s : float
        Of the first position, seconds UTC, NaN unknown.
    start_s : float
        When start was pressed, seconds UTC, NaN unknown.
    source : FixSource
        Who says when start was pressed.

    Returns
    -------
    FirstFix
    """
    missing = max(at_station_m, 0.0) if np.isfinite(at_station_m) else float("nan")
    bound = _others_took(number, missing, station_m, crossing_s)
    if not np.isfinite(first_time_s):
        return FirstFix(
            value_s=np.nan, source="none", at_station_m=at_station_m, reason=NO_TIMES, missing_m=missing
        )
    already = source == "timer" and first_time_s < start_s
    if source == "none" or not np.isfinite(start_s) or (first_time_s < start_s and not already):
        return FirstFix(
            value_s=np.nan,
            source="none",
            at_station_m=at_station_m,
            reason=NO_START,
            missing_m=missing,
            lower_bound_s=bound,
        )
    return FirstFix(
        value_s=max(first_time_s - start_s, 0.0),
        source=source,
        at_station_m=at_station_m,
        reason=ALREADY_THERE if already else NOTHING,
        missing_m=missing,
        lower_bound_s=bound,
    )


def approached_to_m(fix: FirstFix) -> float:
    """Return the station at which a trace met the route that came by another way, NaN where it did not.

    Before that its rider was elsewhere, and no receiver erred.

    Parameters
    ----------
    fix : FirstFix

    Returns
    -------
    float

    Examples
    --------
    >>> why = Reason.of("came_another_way", met_m=320.0)
    >>> approached_to_m(FirstFix(value_s=3.0, source="timer", at_station_m=0.0, reason=why))
    320.0
    """
    met = [dict(one.values)["met_m"] for one in fix.reason if one.code == "came_another_way"]
    return float(met[0]) if met else float("nan")


def _others_took(number: int, missing_m: float, station_m: Floats, crossing_s: Floats) -> float:
    """Return the median time that the other traces took from the route's start over ``missing_m``."""
    if not missing_m > 0:
        return 0.0 if missing_m == 0 else float("nan")
    end = min(int(np.searchsorted(station_m, missing_m)), len(station_m) - 1)
    others = np.delete(crossing_s, number, axis=0)
    took = others[:, end] - others[:, 0]
    took = took[took >= 0.0]  # who started elsewhere on a circuit came by the start later
    return float(np.median(took)) if len(took) else float("nan")


def settled_fix(
    fix: FirstFix,
    first_time_s: float,
    start_s: float,
    station_m: Floats,
    crossing_s: Floats,
    deviation_m: Floats,
    allowed_m: Floats,
    away: Bools,
    options: Options,
) -> tuple[SettledFix, int]:
    """Return the settled fix of one trace, and the number of stations that belong to its settling.

    The first station from which the trace stays within ``allowed_m`` of the other rides for
    ``settle_hold_s`` seconds. A station that it passes out of reach is outside the band; one without data, or
    without others to judge it by, does not count; nor does a trace that is beside them for less than that.
    A trace that keeps within the band from its first position on settled there.
    Stations count in the order in which they were passed: a trace may start amid a circuit, and then none is
    called settling.

    Parameters
    ----------
    crossing_s, deviation_m, allowed_m, away : ndarray, shape (S,)
        Of this trace.
    fix : FirstFix
        Of this trace.
    first_time_s : float
        Of the first position, seconds UTC, NaN unknown.
    start_s : float
        When start was pressed, seconds UTC, NaN unknown.
    station_m : ndarray, shape (S,)
        Stations, metres.
    options : Options
        Thresholds.

    Returns
    -------
    fix : SettledFix
    stations : int
    """
    band_m = float(np.nanmedian(allowed_m)) if np.isfinite(allowed_m).any() else float("nan")
    beside = np.isfinite(deviation_m) & np.isfinite(allowed_m) | away
    judged = np.flatnonzero(beside & np.isfinite(crossing_s))
    judged = judged[np.argsort(crossing_s[judged], kind="stable")]
    reason = NOTHING
    if not np.isfinite(first_time_s):
        reason = NO_TIMES
    elif not beside.any() and not np.isfinite(crossing_s).any():
        reason = Reason.of("never_near", reach_m=options.reach_m)
    elif not beside.any() or not np.isfinite(band_m):
        reason = NO_OTHER
    elif len(judged) == 0:
        reason = NO_TIMES
    if reason:
        return _fix(np.nan, np.nan, False, band_m, options, reason), 0
    inside = np.abs(deviation_m[judged]) <= allowed_m[judged]
    time = crossing_s[judged]
    held = _held(inside, time, options.settle_hold_s)
    if time[-1] - time[0] < options.settle_hold_s:
        reason = Reason.of(
            "too_short_to_settle", seconds=float(time[-1] - time[0]), hold_s=options.settle_hold_s
        )
        return _fix(np.nan, np.nan, False, band_m, options, reason), 0
    if not held.any():
        reason = Reason.of("never_settled", band_m=band_m, hold_s=options.settle_hold_s)
        return _fix(np.nan, np.nan, True, band_m, options, reason), len(station_m)
    first = int(np.argmax(held))
    at_start = first == 0
    moment = first_time_s if at_start else float(time[first])
    place = fix.at_station_m if at_start else float(station_m[judged[first]])
    value = max(moment - start_s, 0.0) if np.isfinite(fix.value_s) else float("nan")
    midway = bool((np.diff(judged[: first + 1]) < 0).any() or (judged < judged[0]).any())
    stations = 0 if at_start or midway else int(judged[first])
    return _fix(value, place, False, band_m, options, NOTHING if np.isfinite(value) else fix.reason), stations


def _fix(
    value: float, at: float, censored: bool, band: float, options: Options, reason: Reason
) -> SettledFix:
    return SettledFix(
        value_s=value,
        at_station_m=at,
        censored=censored,
        band_m=band,
        hold_s=options.settle_hold_s,
        reason=reason,
    )


def _held(inside: Bools, time_s: Floats, hold_s: float) -> Bools:
    """Return where a run of ``inside`` begins or goes on for ``hold_s`` more seconds, shape as given."""
    after = np.searchsorted(time_s, time_s + hold_s, side="right")
    outside = np.concatenate([[0], np.cumsum(~inside)])
    enough = time_s[-1] - time_s >= hold_s
    return np.asarray((outside[after] == outside[:-1]) & enough & inside)


def median_fix(values_s: Sequence[float], censored: int, confidence: float, reason: Reason) -> MedianEstimate:
    """Return the median over rides with its exact interval; "never" counts as longer than any time.

    Parameters
    ----------
    values_s : sequence of float
        Seconds, one a ride, NaN unknown.
    censored : int
        Rides that never had one.
    confidence : float
        Of the interval, 0 to 1.
    reason : Reason
        Why there is none, where no ride counts.

    Returns
    -------
    MedianEstimate
    """
    known = np.asarray([v for v in values_s if np.isfinite(v)], dtype=float)
    every = np.concatenate([known, np.full(censored, np.inf)])
    if len(every) == 0:
        return MedianEstimate(reason=reason)
    middle, low, high, level = median_interval(every, confidence)
    finite = [x if np.isfinite(x) else float("nan") for x in (middle, low, high)]
    return MedianEstimate(
        median=finite[0],
        low=finite[1],
        high=finite[2],
        n=len(every),
        censored=censored,
        confidence=level,
        reason=NOTHING if np.isfinite(middle) else Reason("half_never_settled"),
    )
