"""Figures that would tell what was cut from single traces, taken anew from what is left of them.

A trace that starts or ends on the way is hidden there. Its beginning must not be read from figures of the
route either: from the interval of the spread, which is wider where a trace fewer is there, from the
differences of two receivers, or from shares of the whole length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trackspread import model as m
from trackspread.numeric.robust import running_mean
from trackspread.pipeline.tracks import ride_numbers
from trackspread.statistics.spread import across_rides


def spread_of_the_rest(
    route: m.RouteResult, hidden: m.Bools, window_m: float
) -> tuple[m.Floats, m.Floats, m.Floats]:
    """Return spread, low and high of a route at every station, shape (S,), near hidden stations anew.

    There the spread is that of what is not hidden, in the same window; what the analysis made of it (the
    correction for distant points, the factors of the interval) is drawn straight over the hidden part.

    Parameters
    ----------
    route : RouteResult
        S stations, T traces.
    hidden : ndarray of bool, shape (T, S)
        Stations of traces that must not be told.
    window_m : float
        Length of the running window, one segment, metres.

    Returns
    -------
    spread_m, low_m, high_m : ndarray, shape (S,)
        Metres; NaN where too few traces are left, everywhere where nothing is left to correct by.
    """
    told = route.station_spread_m, route.station_low_m, route.station_high_m
    half = max(1, round(window_m / route.station_step_m / 2.0))
    touched = np.convolve(hidden.any(axis=0), np.ones(2 * half + 1), mode="same") > 0.5
    if not touched.any() or touched.all():
        return told if not touched.any() else (np.full(len(touched), np.nan),) * 3
    ride = ride_numbers(trace.ride for trace in route.traces)
    used = route.kept_offset_m()
    before = _running(used, ride, half)
    after = _running(np.where(hidden, np.nan, used), ride, half)
    beside = ~touched & np.isfinite(told[0]) & (told[0] > 0) & (before > 0)
    if not beside.any():
        return (np.full(len(touched), np.nan),) * 3
    at = np.arange(len(touched))
    share = (np.interp(at, at[beside], values[beside] / before[beside]) for values in told)
    value, low, high = (
        np.where(touched, after * part, values) for part, values in zip(share, told, strict=True)
    )
    return value, low, high


def _running(offset_m: m.Floats, ride: m.Ints, half: int) -> m.Floats:
    variance, _ = across_rides(offset_m, ride)
    return np.where(np.isfinite(variance), np.sqrt(running_mean(variance, half)), np.nan)


def pairs_of_the_rest(route: m.RouteResult, hidden: m.Bools, part: slice) -> tuple[m.PairResult, ...]:
    """Return the pairs with the stations ``part``, where neither trace of a ride is hidden.

    Parameters
    ----------
    route : RouteResult
        S stations, T traces.
    hidden : ndarray of bool, shape (T, S)
        Stations of traces that must not be told.
    part : slice
        Stations of the piece.

    Returns
    -------
    tuple of PairResult
        Separations are NaN where either trace is hidden; other figures are those of the whole route.
    """
    return tuple(_pair(route, pair, hidden, part) for pair in route.pairs)


def _pair(route: m.RouteResult, pair: m.PairResult, hidden: m.Bools, part: slice) -> m.PairResult:
    gone = np.zeros(pair.separation_across_m.shape, dtype=bool)
    for row, ride in enumerate(pair.ride_names):
        for trace in route.traces:
            if trace.ride == ride and trace.receiver in (pair.a, pair.b):
                gone[row] |= hidden[trace.number]
    across, along = (
        np.where(gone, np.nan, values)[:, part]
        for values in (pair.separation_across_m, pair.separation_along_m)
    )
    return replace(pair, separation_across_m=across, separation_along_m=along)


def receivers_of_the_rest(piece: m.RouteResult) -> tuple[m.ReceiverResult, ...]:
    """Return the receivers with the share of stretches in what is left: of the whole it tells its length.

    Parameters
    ----------
    piece : RouteResult
        With the offsets and stretches that are left.

    Returns
    -------
    tuple of ReceiverResult
        The share is NaN where too few traces are left to judge by.
    """
    return tuple(
        replace(receiver, stretch_share=_share(piece, receiver.receiver, piece.stretches))
        for receiver in piece.receivers
    )


def _share(piece: m.RouteResult, receiver: str, stretches: Sequence[m.Stretch]) -> float:
    if not piece.is_judged:
        return float("nan")
    rows = [trace.number for trace in piece.traces if trace.receiver == receiver]
    seen = int(np.isfinite(piece.offset_m[rows]).sum())
    astray = sum(
        round((s.to_m - s.from_m) / piece.station_step_m) + 1
        for s in stretches
        if s.receiver == receiver and s.cause != "settling"
    )
    return astray / seen if seen else float("nan")
