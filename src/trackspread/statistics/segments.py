"""Who is astray where, segment by segment, for all traces and for those of one receiver."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackspread.model import Bools, Floats, Ints, Stretch
from trackspread.options import Options
from trackspread.statistics.verdicts import Astray, share_of_rides

NAMED_SHARE = 0.1
"""A trace is named as astray on a segment from this share of it on."""


def edges_of(station_m: Floats, segment_m: float) -> tuple[Floats, Ints]:
    """Return the ends of the segments, metres, and their first stations, shape (N + 1,) each.

    A last piece below half a segment joins its neighbour.

    Parameters
    ----------
    station_m : ndarray, shape (S,)
        Stations, metres.
    segment_m : float
        Length of a segment, metres.

    Returns
    -------
    bounds_m : ndarray, shape (N + 1,)
    first : ndarray of int, shape (N + 1,)
    """
    count = max(1, round(float(station_m[-1]) / segment_m))
    bounds = np.append(np.arange(count) * segment_m, station_m[-1])
    ends = np.searchsorted(station_m, bounds[1:-1])
    return bounds, np.array([0, *ends.tolist(), len(station_m)], dtype=np.int64)


def present(known: Bools) -> int:
    """Return how many traces have data over half of a segment or more; ``known`` has shape (T, n).

    Parameters
    ----------
    known : ndarray of bool, shape (T, n)
        Where there is data.

    Returns
    -------
    int
    """
    return int((known.mean(axis=1) >= 0.5).sum())


def widest_m(offset_m: Floats) -> float:
    """Return the largest distance across the line between two traces, metres; NaN where no two are.

    Parameters
    ----------
    offset_m : ndarray, shape (T, n)
        Offsets at the stations of a segment, NaN unknown.

    Returns
    -------
    float

    Examples
    --------
    >>> widest_m(np.array([[0.0, 1.0], [3.0, np.nan]]))
    3.0
    """
    known = np.isfinite(offset_m)
    width = np.where(known, offset_m, -np.inf).max(axis=0) - np.where(known, offset_m, np.inf).min(axis=0)
    both = known.sum(axis=0) >= 2
    return float(width[both].max()) if both.any() else float("nan")


def astray_masks(
    stretches: Sequence[Stretch], station_m: Floats, traces: int, options: Options
) -> tuple[Bools, Bools]:
    """Return where traces are in a stretch of a mean above ``steady_m``, and above ``torn_m``, (T, S) each.

    Settling is told apart, and is none.

    Parameters
    ----------
    stretches : sequence of Stretch
        Of the route.
    station_m : ndarray, shape (S,)
        Stations, metres.
    traces : int
        Number of traces.
    options : Options
        Thresholds.

    Returns
    -------
    some, far : ndarray of bool, shape (T, S)
    """
    some, far = (np.zeros((traces, len(station_m)), dtype=bool) for _ in range(2))
    for stretch in stretches:
        if stretch.cause == "settling":
            continue
        part = (station_m >= stretch.from_m) & (station_m <= stretch.to_m)
        some[stretch.number, part] |= stretch.mean_m > options.steady_m
        far[stretch.number, part] |= stretch.mean_m > options.torn_m
    return some, far


def astray_of(some: Bools, far: Bools, known: Bools, ride: Ints, names: Sequence[str]) -> Astray:
    """Return the shares of the rides astray on one segment, of masks with shape (T, n).

    Parameters
    ----------
    some : ndarray of bool, shape (T, n)
        In a stretch of a mean above ``steady_m``.
    far : ndarray of bool, shape (T, n)
        In one above ``torn_m``.
    known : ndarray of bool, shape (T, n)
        Where there is data.
    ride : ndarray of int, shape (T,)
        Ride of each trace.
    names : sequence of str
        Of the traces.

    Returns
    -------
    Astray
    """
    if not (some | far).any():
        return Astray()
    there = (some & known).mean(axis=1) >= NAMED_SHARE
    return Astray(
        some=share_of_rides(some, known, ride),
        far=share_of_rides(far, known, ride),
        names=tuple(name for name, inside in zip(names, there.tolist(), strict=True) if inside),
    )
