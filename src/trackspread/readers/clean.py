"""Points to a `Trace`: what every reader does at the end, whatever the format."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable

import numpy as np

from trackspread.geometry.sphere import directions, places_m
from trackspread.model import Bools, Claims, Device, FixSource, Floats, Ints, Trace
from trackspread.readers.notes import Notes

EARLIEST_S = 631_152_000.0  # 1990-01-01, before any civil receiver logged
LATEST_S = 4_102_444_800.0  # 2100-01-01
LONGEST_WAIT_S = 1800.0  # s from a head time to the first point that are still waiting for a fix
NULL_ISLAND_DEG = 1e-6  # degrees about 0, 0, where receivers put what they do not know
FAR_FROM_ZERO_DEG = 0.01  # degrees, farther than which no rider was at 0, 0
STUCK_SHARE = 0.02  # share of different times below which a clock stood still
STALE_STANDS_M = 30.0  # m within which an old position stands
STALE_LEAP_M = 100.0  # m of the leap from there
STALE_LEAP_M_S = 30.0  # m/s of it
STALE_TIMES_FAST = 5.0  # times the fastest speed afterwards
STALE_LONGEST_S = 120.0  # s of the leap
STALE_LEAST_AFTER = 20  # points after it that tell the usual speed


def as_trace(
    *, file: str, format: str, part: int, name: str, time_s: Floats, lon_deg: Floats, lat_deg: Floats,
    elevation_m: Floats, break_before: Bools, start_s: float, receiver: str, ride: str, set_aside: int,
    notes: Notes, place: Callable[[int], str], longest_wait_s: float = LONGEST_WAIT_S,
    start_from: FixSource = "file", device: Device | None = None, claims: Claims | None = None,
    start_reason: str = "",
) -> Trace | None:  # fmt: skip
    """Return a trace whose times only rise and whose positions can be right, None where nothing is left.

    Parameters
    ----------
    file, format, name : str
        The file as the user named it, what it is, and the name of its part.
    part : int
        Number of the part, from 1.
    time_s, lon_deg, lat_deg, elevation_m, break_before : ndarray, shape (P,)
        As read; positions are finite and in range already.
    start_s : float
        When the file says that recording started; kept only where it lies before the first point, by
        ``longest_wait_s`` at most, and a timer's start also where it lies as long after it.
    receiver, ride : str
        As the file names them, ``""`` where it does not.
    set_aside : int
        Points set aside so far.
    notes : Notes
        Where findings are counted.
    place : callable
        Gives the words for the place of point number ``i`` in the file.
    longest_wait_s : float
        Longest time from start to first point, seconds.
    start_from, start_reason : str
        Who says when recording started, and the code of why nobody does.
    device : Device or None
    claims : Claims or None
        What the device says of its own accuracy.

    Returns
    -------
    Trace or None
    """
    lon_deg = np.where(lon_deg >= 180.0, lon_deg - 360.0, lon_deg)
    lost = _null_island(lon_deg, lat_deg)
    _note(notes, "null island", np.flatnonzero(lost), place)
    far = ~lost & _far_off(lon_deg, lat_deg)
    _note(notes, "far off", np.flatnonzero(far), place)
    lost |= far
    time_s = _set_clock(time_s, notes, place)
    time_s = _rising(time_s, notes, place)
    twice = _twice(np.where(lost, np.nan, time_s))
    _note(notes, "same time", np.flatnonzero(twice), place)
    stale = _stale_start(np.where(lost | twice, np.nan, time_s), lon_deg, lat_deg, break_before)
    _note(notes, "stale start", stale, place)
    keep = ~(lost | twice)
    keep[stale] = False
    if not keep.any():
        return None
    breaks = np.cumsum(break_before)[keep]
    first = time_s[keep][np.isfinite(time_s[keep])]
    wait_s = first[0] - start_s if len(first) else np.nan
    known = abs(wait_s) <= longest_wait_s and (wait_s >= 0.0 or start_from == "timer")
    return Trace(
        file=file, format=format, part=part, name=name, time_s=time_s[keep], lon_deg=lon_deg[keep],
        lat_deg=lat_deg[keep], elevation_m=elevation_m[keep],
        break_before=np.diff(breaks, prepend=breaks[:1]) > 0, start_s=start_s if known else float("nan"),
        receiver=receiver, ride=ride, points_set_aside=set_aside + int((~keep).sum()),
        findings=notes.findings(), start_from=start_from, start_reason=start_reason,
        device=device or Device(), claims=(claims or Claims()).at(keep),
    )  # fmt: skip


def _note(notes: Notes, code: str, where: Ints, place: Callable[[int], str]) -> None:
    if len(where):
        notes.note(code, place(int(where[0])), len(where))


def _null_island(lon_deg: Floats, lat_deg: Floats) -> Bools:
    """Return which points lie at 0, 0 while the trace does not run there."""
    zero = (np.abs(lon_deg) < NULL_ISLAND_DEG) & (np.abs(lat_deg) < NULL_ISLAND_DEG)
    rest = ~zero
    far = rest.any() and np.hypot(lon_deg[rest], lat_deg[rest]).min() > FAR_FROM_ZERO_DEG
    return zero if far else np.zeros(len(zero), dtype=bool)


def _far_off(lon_deg: Floats, lat_deg: Floats) -> Bools:
    """Return which points lie more than an eighth of the way around the earth from the middle of all."""
    if not len(lon_deg):
        return np.zeros(0, dtype=bool)
    unit = directions(lon_deg, lat_deg)
    middle = np.median(unit, axis=0)
    length = float(np.linalg.norm(middle))
    if length < 0.5:  # all over the earth
        return np.zeros(len(unit), dtype=bool)
    return np.asarray(unit @ middle < np.cos(np.pi / 4.0) * length)


def _stale_start(time_s: Floats, lon_deg: Floats, lat_deg: Floats, break_before: Bools) -> Ints:
    """Return the numbers of first points that stand at the place where an earlier ride ended.

    A receiver without a fix may log the last place that it knows. Such points stand within 30 m; then, in two
    minutes at most and without an interruption, comes a leap of 100 m or more at a speed that nobody rides
    (30 m/s, and five times what the rest of the trace makes in 95 % of its steps), and none like it in the
    ten steps after.
    """
    known = np.flatnonzero(np.isfinite(time_s))
    nothing = known[:0]
    if len(known) <= STALE_LEAST_AFTER:
        return nothing
    place = places_m(lon_deg[known], lat_deg[known])
    there = int(np.argmax(np.linalg.norm(place - place[0], axis=1) > STALE_STANDS_M))
    if there == 0 or len(known) - there < max(STALE_LEAST_AFTER, there):
        return nothing
    step = np.linalg.norm(np.diff(place[there - 1 :], axis=0), axis=1)
    took = np.diff(time_s[known[there - 1 :]])
    speed = np.divide(step, took, out=np.zeros(len(step)), where=took > 0.0)
    fast = max(STALE_LEAP_M_S, STALE_TIMES_FAST * float(np.quantile(speed[1:], 0.95)))
    leaps = step[0] >= STALE_LEAP_M and speed[0] >= fast and 0.0 < took[0] <= STALE_LONGEST_S
    whole = not break_before[known[there - 1] + 1 : known[there] + 1].any()
    return known[:there] if leaps and whole and speed[1:11].max() < fast else nothing


def _set_clock(time_s: Floats, notes: Notes, place: Callable[[int], str]) -> Floats:
    """Leave out times from before the clock was set; where it never was, they still tell seconds apart.

    Times that hardly ever move on tell nothing.
    """
    known = np.isfinite(time_s)
    odd = known & ((time_s < EARLIEST_S) | (time_s > LATEST_S))
    _note(notes, "odd clock", np.flatnonzero(odd), place)
    if odd.any() and not odd[known].all():
        time_s = np.where(odd, np.nan, time_s)
        known &= ~odd
    if known.sum() > 2 and len(np.unique(time_s[known])) <= max(1.0, STUCK_SHARE * known.sum()):
        _note(notes, "stuck clock", np.flatnonzero(known), place)
        return np.full(len(time_s), np.nan)
    return time_s


def _rising(time_s: Floats, notes: Notes, place: Callable[[int], str]) -> Floats:
    """Return the times without the fewest that keep them from rising."""
    known = np.flatnonzero(np.isfinite(time_s))
    values = time_s[known]
    if not (np.diff(values) < 0.0).any():
        return time_s
    ends: list[float] = []
    rank = np.empty(len(values), dtype=np.int64)
    for i, value in enumerate(values.tolist()):
        rank[i] = bisect_right(ends, value)
        ends[rank[i] : rank[i] + 1] = [value]
    bad = np.ones(len(values), dtype=bool)
    wanted, bound = len(ends) - 1, np.inf
    for i in range(len(values) - 1, -1, -1):
        if rank[i] == wanted and values[i] <= bound:
            bad[i], wanted, bound = False, wanted - 1, values[i]
    _note(notes, "time backwards", known[bad], place)
    out = time_s.copy()
    out[known[bad]] = np.nan
    return out


def _twice(time_s: Floats) -> Bools:
    """Return which points have the time of the point before them (that has one)."""
    known = np.flatnonzero(np.isfinite(time_s))
    twice = np.zeros(len(time_s), dtype=bool)
    twice[known[1:]] = np.diff(time_s[known]) == 0.0
    return twice
