"""Settling and approach: a first fix that gets right, and a ride that comes from another street."""

from __future__ import annotations

import numpy as np

from trackspread.model import Bools, Floats, Ints
from trackspread.statistics.stretches import EDGE_M, ENTER_WITH_EDGE

ENDS: Floats = np.geomspace(0.1, 1.2, 24)
"""Where a fall ends, as a share of the way looked at: tried for all shapes."""
NEAR_SCALES, BEYOND = 3.0, 1.1  # scales within which a trace is near; times the way there that is looked at
STREET_SHARE = 0.2
"""Share of the sum of squares about the shape of a fix that may be left about that of a street. Errors that
wander make one fall look like the other; a settling is common and a straight street to the route is rare."""
CHANCE = 2.0
"""Mean square, over that of chance, that a shape of a fix may leave: errors stay alike over much of a fall,
which holds some two independent values; of chi-square with 2 degrees of freedom 14 % lie above it."""
TURNS_IN = 6.0
"""A street that turns in keeps its distance until this part of the fall's end is left."""
FASTEST, SLOWEST = 0.06, 0.62
"""Length over which an exponential falls to 1/e, as a share: with the slowest it falls to a fifth."""
LEAP_SPEEDS = 3.0
"""A step so many times faster than the trace moves is a leap of the position, not of the rider."""
LEAP_SHARE = 0.4
"""A fall is a leap where one step takes up so much of it."""
COMPANION_SHARE = 0.5  # share of an approach that makes a companion agree


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


def converges(size_m: Floats, scale_m: float) -> bool:
    """Return whether a distance, shape (N,), falls as that of a fix that gets right does.

    That is fast at first and ever more slowly, a parabola or an exponential. A street leads to the route
    evenly, or turns in at its end. By least squares, also over where the fall ends, the shape of a street
    has to leave far less than that of a fix (`STREET_SHARE`), and a fix more than chance makes, ``scale_m``.
    What falls by no more than chance does not converge. What comes long after the trace is near says nothing.

    Parameters
    ----------
    size_m : ndarray, shape (N,)
        Distance from the others, metres.
    scale_m : float
        What chance makes of a distance, metres.

    Returns
    -------
    bool
    """
    size = size_m[np.isfinite(size_m)]
    if len(size) < 2:
        return True
    if float(size.max() - size[-1]) <= scale_m:
        return False
    near = np.flatnonzero(size <= min(NEAR_SCALES * scale_m, 0.5 * float(size.max())))
    size = size[: round(BEYOND * (int(near[0]) if len(near) else len(size))) + 1]
    at = np.arange(len(size)) / len(size)
    left = np.maximum(1.0 - at / ENDS[:, None], 0.0)
    lengths = np.geomspace(FASTEST, SLOWEST, len(ENDS))
    rates = np.exp(-at / lengths[:, None])
    own = _unexplained(size, np.vstack([left**2, rates]))
    street = _unexplained(size, np.vstack([left, np.minimum(left * TURNS_IN, 1.0)]))
    return own <= CHANCE * len(size) * scale_m**2 or own * STREET_SHARE < street


def _unexplained(values: Floats, shapes: Floats) -> float:
    """Return the least sum of squares that a multiple of one of the shapes, (K, N), leaves of values."""
    explained = (shapes @ values) ** 2 / np.maximum(np.sum(shapes**2, axis=1), 1e-12)
    return float(np.sum(values**2) - explained.max())


def turns_in(size_m: Floats, scale_m: float, step_m: float) -> bool:
    """Return whether a distance, shape (N,), falls mostly at its very end, as a street does at a corner.

    By half of its peak within `EDGE_M`, and by no less than a stretch with an edge is high.

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
    near = round(EDGE_M / step_m)
    if len(size_m) <= near:
        return False
    drop, peak = float(size_m[-1 - near] - size_m[-1]), float(size_m.max())
    return drop >= max(0.5 * peak, ENTER_WITH_EDGE * scale_m)


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
