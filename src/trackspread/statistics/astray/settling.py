"""Settling and approach: a first fix that gets right, and a ride that comes from another street."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.linalg import solve_triangular

from trackspread.model import Bools, Floats, Ints
from trackspread.noise.correlation import Correlation
from trackspread.numeric.distributions import normal_above, t_quantile
from trackspread.numeric.runs import evenly

ENDS: Floats = np.geomspace(0.15, 1.6, 24)
"""Where a fall ends, in ways (or times) up to where the trace is near: tried for all shapes."""
NEAR_SCALES, BEYOND = 3.0, 2.0
"""A trace is near within so many scales; the fall is looked at for twice as long, as its tail tells."""
FIX_POWERS = (2.0, 3.0, 5.0)
FIX_EXPONENTIAL = 0.5  # of an end, the time in which an exponential falls to 1/e
STREET_POWERS = (1.0, 0.6, 0.35, 0.2, 0.1)
"""A fall is (1 - u)^p, u being what of it is gone: the larger p, the faster at first; below 1 it turns in."""
STREET_ODDS = 10.0
"""So much likelier has a street to make it than a fix: a fix that settles is common, a street that leads to
the route at a flat angle is not (docs/validation.md)."""
MOST_LOOKED_AT = 60  # bounds the work, stations
LEAST_S = 0.1  # s between two stations, against division by nothing
WHITE_SHARE = 0.02  # of the variance, what is independent from station to station
BEND_SHARE = 0.02  # of the first column's square, by which the second one is held down
LEAP_SPEEDS = 3.0
"""A step so many times faster than the trace moves is a leap of the position, not of the rider."""
LEAP_SHARE = 0.4
"""A fall is a leap where one step takes up so much of it."""
CORNER_M, CORNER_SCALES = 60.0, 2.8  # m within which a street turns in, and scales by which it does, at least
COMPANION_SHARE = 0.5  # share of an approach that makes a companion agree


def chance_level(scales: float, dof: float, most: float) -> float:
    """Return the threshold that a scale known with ``dof`` degrees of freedom makes of one of ``scales``.

    Student's t quantile with the tail of the normal at ``scales``; at most ``most`` times ``scales``.
    With four rides whose errors wander slowly, even the scale is known to a factor of two only.

    Parameters
    ----------
    scales : float
        Threshold in scales, were the scale known.
    dof : float
        Degrees of freedom of the scale.
    most : float
        Largest threshold.

    Returns
    -------
    float
        In scales.
    """
    tail = float(normal_above(scales))
    return float(min(float(-t_quantile(tail, max(dof, 1.0))), most * scales))


def fall(deviation_m: Floats, first: int, end: int, scale_m: float) -> Floats:
    """Return the distance over which a trace comes to the others, from ``first`` on, shape (N,).

    It goes on beyond ``end``, where the trace is near enough, to where it is there: within a scale.

    Parameters
    ----------
    deviation_m : ndarray, shape (S,)
        Of one trace, metres, NaN unknown.
    first : int
        First station.
    end : int
        Station behind the last.
    scale_m : float
        What chance makes of a distance, metres.

    Returns
    -------
    ndarray, shape (N,)
    """
    side = np.sign(np.nansum(deviation_m[first:end]))
    there = np.flatnonzero(side * deviation_m[end:] <= scale_m)
    size = np.abs(deviation_m[first : end + int(there[0]) + 1 if len(there) else end])
    return size[np.isfinite(size)]


def converges(
    deviation_m: Floats,
    first: int,
    scale_m: float,
    time_s: Floats,
    correlation: Correlation,
    doubt_m: Floats | None = None,
    apart_m: float = 0.0,
) -> bool:
    """Return whether a trace comes to the others from ``first`` on as a fix that gets right does.

    The error of such a fix keeps its direction on the earth while the line turns, and falls with *time*,
    fast at first and ever more slowly: as a power of what is left, or exponentially. A street leads to the
    route with the *way*, evenly, or it turns in at its end, and ends at a corner. Both are fitted to the same
    stations by generalised least squares under the correlation of the route's own errors (Aitken 1935, from
    memory), which takes a slow drift for chance and a bend not. The likelihoods are those of Student's t, as
    the scale is an estimate: of values as many as are fitted to. Settling is the common case, `STREET_ODDS`.
    What falls by no more than chance does not converge.

    Parameters
    ----------
    deviation_m, time_s : ndarray, shape (S,)
        Of the trace: deviation from the others, metres, NaN unknown, and seconds.
    first : int
        First station.
    scale_m : float
        What chance makes of a distance, metres.
    correlation : Correlation
        Of the errors along the route.
    doubt_m : ndarray, shape (S,), optional
        By how much each deviation may be wrong beside that, metres.
    apart_m : float
        Between logged points, metres: stations between two of them tell nothing more.

    Returns
    -------
    bool
    """
    at, near = _looked_at(deviation_m, first, scale_m, max(1.0, apart_m / correlation.step_m))
    if len(at) < 2:
        return True
    way = (at - at[0]) / near
    gone = time_s[at] - time_s[at[0]]
    until = np.interp(near, at - at[0], gone)
    timed = bool(np.isfinite(gone).all() and (gone >= 0.0).all() and until > 0.0)
    size = deviation_m[at]
    if float(np.abs(size).max() - np.abs(size[-1])) <= scale_m:
        return False
    passed_m = correlation.step_m * (at - at[0])
    if timed:  # errors change with time, also while the rider stands: as far as he would have ridden
        passed_m = gone * float(np.median(np.diff(passed_m) / np.maximum(np.diff(gone), LEAST_S)))
    alike = (1.0 - WHITE_SHARE) * correlation.at(np.abs(passed_m[:, None] - passed_m))
    beside = WHITE_SHARE + (0.0 if doubt_m is None else doubt_m[at] / scale_m) ** 2
    root = np.asarray(np.linalg.cholesky(alike + beside * np.eye(len(at))))
    turn = correlation.heading_rad[at] - correlation.heading_rad[at[0]]
    falls = _fix_shapes(gone / until if timed else way)
    fix = _misfit(root, size / scale_m, falls * np.cos(turn), falls * np.sin(turn))
    street = _misfit(root, size / scale_m, _left(way, STREET_POWERS))
    odds: float = ((len(at) + fix) / (len(at) + street)) ** (0.5 * len(at))
    return odds < STREET_ODDS


def _looked_at(deviation_m: Floats, first: int, scale_m: float, apart: float) -> tuple[Ints, float]:
    """Return stations of a fall with its tail, some ``apart``, and how many lie before the trace is near."""
    known = first + np.flatnonzero(np.isfinite(deviation_m[first:]))
    size = np.abs(deviation_m[known])
    if len(size) == 0:
        return known, 1.0
    there = np.flatnonzero(size <= min(NEAR_SCALES * scale_m, 0.5 * float(size.max())))
    near = int(known[there[0]] if len(there) else known[-1]) - int(known[0]) + 1
    known = known[known <= known[0] + BEYOND * near]
    count = min(MOST_LOOKED_AT, math.ceil((known[-1] - known[0]) / apart) + 1)
    return known[evenly(len(known), count)], float(near)


def _left(gone: Floats, powers: Sequence[float]) -> Floats:
    """Return how much is left of falls of some powers that end at `ENDS`, shape (K, N)."""
    return np.vstack([np.maximum(1.0 - gone / ENDS[:, None], 0.0) ** power for power in powers])


def _fix_shapes(gone: Floats) -> Floats:
    """Return the shapes of fixes that get right, (K, N), of the share of time that is gone, shape (N,)."""
    slow = np.exp(-gone / (FIX_EXPONENTIAL * ENDS[:, None]))
    return np.vstack([slow, *(_left(gone / (0.6 * power), [power]) for power in FIX_POWERS)])


def _misfit(root: Floats, values: Floats, *columns: Floats) -> float:
    """Return the least whitened sum of squares that one of the shapes, (K, N) a column, leaves of values.

    ``root`` is the Cholesky factor of the correlation. On a straight line the second column is nothing: a
    share of the first one's square holds its factor down.
    """
    y, (a, *more) = (
        solve_triangular(root, values, lower=True),
        (solve_triangular(root, column.T, lower=True) for column in columns),
    )
    aa, ay = np.maximum(np.sum(a * a, axis=0), 1e-12), y @ a
    gain = ay**2 / aa
    for b in more:
        bb, ab, by = np.sum(b * b, axis=0) + BEND_SHARE * aa, np.sum(a * b, axis=0), y @ b
        gain = (bb * ay**2 - 2.0 * ab * ay * by + aa * by**2) / (aa * bb - ab**2)
    return float(y @ y - gain.max())


def turns_in(size_m: Floats, scale_m: float, step_m: float) -> bool:
    """Return whether a distance, shape (N,), falls mostly at its very end, as a street does at a corner.

    By half of its peak within `CORNER_M`, and by `CORNER_SCALES` or more.

    Parameters
    ----------
    size_m : ndarray, shape (N,)
        Distance from the others, metres.
    scale_m : float
        What chance makes of a distance, metres.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    bool
    """
    near = round(CORNER_M / step_m)
    if len(size_m) <= near:
        return False
    drop, peak = float(size_m[-1 - near] - size_m[-1]), float(size_m.max())
    return drop >= max(0.5 * peak, CORNER_SCALES * scale_m)


def leaps(x: Floats, y: Floats, time_s: Floats, fall_m: float) -> bool:
    """Return whether a trace, shape (P,), makes most of a fall in one step, faster than it ever moves.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.
    time_s : ndarray, shape (P,)
        Seconds UTC, NaN unknown.
    fall_m : float
        How far it falls in all, metres.

    Returns
    -------
    bool
    """
    step = np.hypot(np.diff(x), np.diff(y))
    took = np.diff(time_s)
    known = np.isfinite(took) & (took > 0)
    moving = known & (step > 0.5)
    if not moving.any():
        return False
    usual = float(np.median(step[moving] / took[moving]))
    beyond = step[known] - LEAP_SPEEDS * usual * took[known]
    return bool((beyond >= LEAP_SHARE * fall_m).any())


def companions_agree(deviation_m: Floats, ride: Ints, trace: int, stations: Bools) -> bool | None:
    """Return whether all companions deviate as a trace does at ``stations``; None where none was there.

    Parameters
    ----------
    deviation_m : ndarray, shape (T, S)
        Deviation from the other rides, metres, NaN unknown.
    ride : ndarray of int, shape (T,)
        Ride of each trace.
    trace : int
        Its row.
    stations : ndarray of bool, shape (S,)
        Where it deviates.

    Returns
    -------
    bool or None
    """
    own = deviation_m[trace, stations]
    shares = []
    for companion in np.flatnonzero(ride == ride[trace]):
        there = deviation_m[companion, stations]
        both = np.isfinite(there) & np.isfinite(own)
        if companion != trace and both.any() and both.mean() >= 0.5:
            size = float(np.mean(np.abs(own[both])))
            shares.append(float(np.mean(np.sign(own[both]) * there[both])) / max(size, 1e-9))
    return min(shares) >= COMPANION_SHARE if shares else None
