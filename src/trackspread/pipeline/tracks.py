"""The traces of one route on their grid: places in metres, gaps, numbers of rides and receivers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from trackspread.geometry.circuits import turned
from trackspread.geometry.consensus.lines import NoLine
from trackspread.geometry.points import Bundle, join, prepare
from trackspread.geometry.projection import Grid
from trackspread.model import Floats, Ints, Reason, Witness
from trackspread.options import Options

GAP_STEPS, MOST_GAP, STEP_MOVING_M = 1.5, 5.0, 1.0
"""In usual steps, in ``gap_m``, and metres of a step that moves."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Tracks:
    """The witnesses of a route on its grid; ``ride`` and ``receiver`` are numbers, shape (T,).

    ``gap_m`` is the longest way without a point that any of them may make and be no gap.
    """

    witnesses: tuple[Witness, ...]
    grid: Grid
    bundle: Bundle
    gap_m: float
    ride: Ints
    receiver: Ints


def on_grid(witnesses: tuple[Witness, ...], options: Options) -> Tracks:
    """Put the traces of a route on their grid, thinned and with standing collapsed.

    Parameters
    ----------
    witnesses : tuple of Witness, length T
        The traces of a route.
    options : Options
        For the kind of grid and the longest gap.

    Returns
    -------
    Tracks

    Raises
    ------
    NoLine
        A trace reaches too far for the grid.
    """
    lon = np.concatenate([w.trace.lon_deg for w in witnesses])
    lat = np.concatenate([w.trace.lat_deg for w in witnesses])
    grid = Grid.utm(lon, lat) if options.grid == "utm" else Grid.local(lon, lat)
    parts, gaps = [], [options.gap_m]
    for w in witnesses:
        x, y = grid.forward(w.trace.lon_deg, w.trace.lat_deg)
        if not (np.isfinite(x).all() and np.isfinite(y).all()):
            raise NoLine(Reason("too_far_for_grid"))
        gaps.append(own_gap_m(x, y, options.gap_m))
        parts.append(prepare(x, y, w.trace.time_s, w.trace.break_before, gaps[-1]))
    return Tracks(
        witnesses=witnesses,
        grid=grid,
        bundle=join(turned(parts)),
        gap_m=max(gaps),
        ride=ride_numbers(w.ride for w in witnesses),
        receiver=_numbers([w.receiver for w in witnesses]),
    )


def with_rides_of(tracks: Tracks, witnesses: tuple[Witness, ...]) -> Tracks:
    """Return the tracks with the rides that the same witnesses are said to be of by now.

    Parameters
    ----------
    tracks : Tracks
        The traces on their grid.
    witnesses : tuple of Witness, length T
        The same traces in the same order.

    Returns
    -------
    Tracks
    """
    return replace(tracks, witnesses=witnesses, ride=ride_numbers(w.ride for w in witnesses))


def own_gap_m(x: Floats, y: Floats, gap_m: float) -> float:
    """Return the longest step of a trace that is no gap: ``gap_m``, or more where it logs more seldom.

    A receiver that logs every ten seconds, or only where the way bends, leaves longer steps than one that
    misses a point: `GAP_STEPS` times its 95 % step, at most `MOST_GAP` times ``gap_m``.

    Parameters
    ----------
    x, y : ndarray, shape (P,)
        Points of a trace on the grid, metres.
    gap_m : float
        Longest step that is no gap where points are logged often, metres.

    Returns
    -------
    float
        Metres.

    Examples
    --------
    >>> own_gap_m(np.arange(0.0, 400.0, 40.0), np.zeros(10), 30.0)
    60.0
    """
    step = np.hypot(np.diff(x), np.diff(y))
    moving = step[step > STEP_MOVING_M]
    usual = float(np.quantile(moving, 0.95)) if len(moving) else 0.0
    return min(max(gap_m, GAP_STEPS * usual), MOST_GAP * gap_m)


def ride_numbers(rides: Iterable[str]) -> Ints:
    """Number the rides of traces; a trace without one is a ride of its own.

    Parameters
    ----------
    rides : iterable of str, length T
        Name of the ride of each trace, "" where it has none.

    Returns
    -------
    ndarray of int, shape (T,)

    Examples
    --------
    >>> ride_numbers(["out", "", "out", ""]).tolist()
    [2, 0, 2, 1]
    """
    return _numbers([ride or f"#{i}" for i, ride in enumerate(rides)])


def _numbers(names: list[str]) -> Ints:
    return np.unique(names, return_inverse=True)[1].astype(np.int64)
