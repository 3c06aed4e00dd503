"""Settling and approach: a first fix that gets right, and a ride that comes from another street."""

from __future__ import annotations

import numpy as np

from trackspread.model import Bools, Floats, Ints
from trackspread.statistics.stretches import EDGE_M, ENTER_WITH_EDGE

FALLS = 0.6
"""Mean height of a fall between its ends, as a share, up to which it converges: 1/2 where it is straight, 1/3
or less where it is fast at first, as fixes get right; about 1 for a street that turns in at its end."""
LEAP_SPEEDS = 3.0
"""A step so many times faster than the trace moves is a leap of the position, not of the rider."""
LEAP_SHARE = 0.4
"""A fall is a leap where one step takes up so much of it."""
COMPANION_SHARE = 0.5


def fall(deviation_m: Floats, first: int, end: int, scale_m: float) -> Floats:
    """Return the distance over which a trace comes to the others, from ``first`` on, shape (N,).

    It goes on beyond ``end``, where the trace is near enough, to where it is there: within a scale.
    """
    side = np.sign(np.nansum(deviation_m[first:end]))
    there = np.flatnonzero(side * deviation_m[end:] <= scale_m)
    size = np.abs(deviation_m[first : end + int(there[0]) + 1 if len(there) else end])
    return size[np.isfinite(size)]


def converges(size_m: Floats, scale_m: float) -> bool:
    """Return whether a distance, shape (N,), falls all along, as that of a fix that gets right does.

    The mean height of the fall above its end, as a share of its whole height, is `FALLS` at most, or
    above it by no more than chance (``scale_m``) makes.
    """
    known = size_m[np.isfinite(size_m)]
    if len(known) < 2:
        return True
    peak, end = float(known.max()), float(known[-1])
    if peak - end <= scale_m:
        return False
    height = (float(known.mean()) - end) / (peak - end)
    return height <= FALLS + scale_m / (peak - end)


def turns_in(size_m: Floats, scale_m: float, step_m: float) -> bool:
    """Return whether a distance, shape (N,), falls mostly at its very end, as a street does at a corner.

    By half of its peak within `EDGE_M`, and by no less than a stretch with an edge is high.
    """
    near = round(EDGE_M / step_m)
    if len(size_m) <= near:
        return False
    drop, peak = float(size_m[-1 - near] - size_m[-1]), float(size_m.max())
    return drop >= max(0.5 * peak, ENTER_WITH_EDGE * scale_m)


def leaps(x: Floats, y: Floats, time_s: Floats, fall_m: float) -> bool:
    """Return whether a trace, shape (P,), makes most of a fall in one step, faster than it ever moves."""
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
    """Return whether all companions deviate as a trace does at ``stations``; None where none was there."""
    own = deviation_m[trace, stations]
    shares = []
    for companion in np.flatnonzero(ride == ride[trace]):
        there = deviation_m[companion, stations]
        both = np.isfinite(there) & np.isfinite(own)
        if companion != trace and both.any() and both.mean() >= 0.5:
            size = float(np.mean(np.abs(own[both])))
            shares.append(float(np.mean(np.sign(own[both]) * there[both])) / max(size, 1e-9))
    return min(shares) >= COMPANION_SHARE if shares else None
