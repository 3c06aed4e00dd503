"""All traces of a route as one ragged array, made ready for matching: thinned, with standing collapsed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trackspread.model import Bools, Floats, Ints
from trackspread.numeric.runs import runs

STANDING_SPEED_M_S = 0.6  # slower is standing, m/s
STANDING_WINDOW_S = 5.0  # s before and after
THIN_TO_S = 0.9  # s, just below the usual second: traces logged faster are thinned to it
HEADING_M = 6.0  # m of way that tell the direction of a point; less tells less
FEW_POINTS, FAR_APART_M, MOVING_M = 25, 100.0, 1.0  # points, m, and m of step below which nobody moves


Part = tuple[Floats, Floats, Floats, Bools]
"""One trace: ``x``, ``y``, ``time_s``, ``gap_before``."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Bundle:
    """Points of ``T`` traces one after the other. What follows from them is reckoned once.

    Parameters
    ----------
    x, y : ndarray, shape (P,)
        East and north, metres.
    time_s : ndarray, shape (P,)
        Seconds UTC, NaN unknown.
    gap_before : ndarray of bool, shape (P,)
        Whether nothing was logged between the point before and this one (always at a first point).
    owner : ndarray of int, shape (P,)
        Number of the trace of each point.
    start : ndarray of int, shape (T + 1,)
        Trace ``t`` has the points ``start[t]:start[t + 1]``.
    """

    x: Floats
    y: Floats
    time_s: Floats
    gap_before: Bools
    owner: Ints
    start: Ints

    @property
    def traces(self) -> int:
        """Number of traces."""
        return len(self.start) - 1

    def of(self, trace: int) -> slice:
        """Return where the points of one trace are."""
        return slice(int(self.start[trace]), int(self.start[trace + 1]))

    @cached_property
    def step_m(self) -> Floats:
        """Distance from the point before, 0 at the first of a trace, shape (P,)."""
        step = np.hypot(np.diff(self.x, prepend=self.x[:1]), np.diff(self.y, prepend=self.y[:1]))
        step[self.start[:-1]] = 0.0
        return step

    @cached_property
    def travel_m(self) -> Floats:
        """Length travelled within each trace, shape (P,)."""
        total = np.cumsum(self.step_m)
        return np.asarray(total - total[self.start[:-1]][self.owner])

    @cached_property
    def is_sparse(self) -> bool:
        """Whether most traces have few points, `FEW_POINTS`, or such that lie `FAR_APART_M` apart."""
        if np.median(np.diff(self.start)) <= FEW_POINTS:
            return True
        step = self.step_m[self.step_m > MOVING_M]
        return len(step) > 0 and bool(np.median(step) >= FAR_APART_M)

    @cached_property
    def heading(self) -> tuple[Floats, Floats]:
        """Direction from the point before to the point after, shape (P,) each.

        Vectors of length 1, or less over a way below `HEADING_M`, which noise may have turned. Gaps are not
        looked across.
        """
        at = np.arange(len(self.x))
        before, after = at - ~self.gap_before, at + ~np.append(self.gap_before[1:], True)
        dx, dy = self.x[after] - self.x[before], self.y[after] - self.y[before]
        size = np.maximum(np.hypot(dx, dy), HEADING_M)
        return dx / size, dy / size

    def way_xyt(self, trace: int) -> Floats:
        """Return the points of one trace, metres, and their times, seconds, shape (N, 3)."""
        own = self.of(trace)
        return np.column_stack([self.x[own], self.y[own], self.time_s[own]])

    def select(self, keep: list[int]) -> Bundle:
        """Return the bundle of some of the traces."""
        if keep == list(range(self.traces)):
            return self
        return join([(self.x[p], self.y[p], self.time_s[p], self.gap_before[p]) for p in map(self.of, keep)])


def join(parts: list[Part]) -> Bundle:
    """Join ``(x, y, time_s, gap_before)`` of several traces.

    Parameters
    ----------
    parts : sequence of (x, y, time_s, gap_before)
        Points of each trace, metres and seconds.

    Returns
    -------
    Bundle
    """
    sizes = [len(part[0]) for part in parts]
    x, y, time_s = (np.concatenate([part[k] for part in parts]) for k in range(3))
    gap = np.concatenate([part[3] for part in parts])
    start = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    gap[start[:-1]] = True
    owner = np.repeat(np.arange(len(parts)), sizes)
    return Bundle(x=x, y=y, time_s=time_s, gap_before=gap, owner=owner, start=start)


def prepare(x: Floats, y: Floats, time_s: Floats, break_before: Bools, gap_m: float) -> Part:
    """Make one trace ready for `join`: thin it to about 1 Hz, collapse standing, mark gaps.

    A break of the recording counts as a gap from a quarter of ``gap_m`` on; any step longer than
    ``gap_m`` is one.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.
    time_s : ndarray, shape (P,)
        Seconds UTC, NaN unknown.
    break_before : ndarray of bool, shape (P,)
        Where the recording was interrupted.
    gap_m : float
        Longest way between logged points that is no gap, metres.

    Returns
    -------
    x, y, time_s, gap_before : ndarray
    """
    breaks = np.cumsum(break_before)
    keep = _thinned(time_s)
    x, y, time_s, breaks = x[keep], y[keep], time_s[keep], breaks[keep]
    x, y, keep = _standing_collapsed(x, y, time_s)
    x, y, time_s, breaks = x[keep], y[keep], time_s[keep], breaks[keep]
    broken = np.diff(breaks, prepend=breaks[:1]) > 0
    step = np.hypot(np.diff(x, prepend=x[:1]), np.diff(y, prepend=y[:1]))
    gap = (step > gap_m) | (broken & (step > gap_m / 4.0))
    return x, y, time_s, gap


def _thinned(time_s: Floats) -> Bools:
    """Return which points to keep so that none follows another within ``THIN_TO_S``; none is averaged."""
    step = np.diff(time_s)
    known = step[np.isfinite(step)]
    if len(time_s) < 3 or not len(known) or not np.median(known) < THIN_TO_S:
        return np.ones(len(time_s), dtype=bool)
    second = np.floor(time_s - np.nanmin(time_s) + 1e-6)
    return np.concatenate([[True], (np.diff(second) != 0) | np.isnan(step)])


def standing(x: Floats, y: Floats, time_s: Floats) -> Bools:
    """Return which points were logged while standing, shape (P,).

    A point stands where the way made between five seconds before and after it is below
    0.6 m/s, slower than any walk, and where that lasts for the whole window.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.
    time_s : ndarray, shape (P,)
        Seconds UTC, NaN unknown.

    Returns
    -------
    ndarray of bool, shape (P,)
    """
    known = np.isfinite(time_s)
    if known.sum() < 3 or np.any(np.diff(time_s[known]) <= 0):
        return np.zeros(len(x), dtype=bool)
    t, index = time_s[known], np.flatnonzero(known)
    before, after = np.maximum(t - STANDING_WINDOW_S, t[0]), np.minimum(t + STANDING_WINDOW_S, t[-1])
    way = np.hypot(
        np.interp(after, t, x[known]) - np.interp(before, t, x[known]),
        np.interp(after, t, y[known]) - np.interp(before, t, y[known]),
    )
    slow = np.zeros(len(x), dtype=bool)
    slow[index] = way < STANDING_SPEED_M_S * (after - before)
    return slow


def _standing_collapsed(x: Floats, y: Floats, time_s: Floats) -> tuple[Floats, Floats, Bools]:
    """Put every stop on its median point and keep its first and last moment only."""
    slow = standing(x, y, time_s)
    keep = np.ones(len(x), dtype=bool)
    x, y = x.copy(), y.copy()
    for first, last in runs(slow):
        stop = slice(first, last + 1)
        if last - first < 2:
            continue
        x[stop] = np.median(x[stop])
        y[stop] = np.median(y[stop])
        keep[first + 1 : last] = False
    return x, y, keep
