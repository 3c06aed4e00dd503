"""How rough a trace is beside what is usual: a burst drives errors harder, another way does not."""

from __future__ import annotations

import numpy as np

from trackspread.model import Floats, Ints

ROUGH_LAG_M, ROUGH_STATIONS = 10.0, 8  # m of lag of the second differences; stations that a median needs
ROUGH_BESIDE_M, ROUGH_APART_M = 150.0, 25.0  # m beside a run, and m left out next to it
ROUGH_INSIDE_M, ROUGH_WITHIN_M = 40.0, 60.0  # m left out within a run, and m that must be left
ROUGH_CHANCE = 1.2
"""So much the largest of three medians lies above what is usual, in half of runs of Gauss-Markov errors."""
LEAST_ROUGH = 0.02
"""Share of the scale below which no trace is taken to be rough."""


def roughness(
    deviation_m: Floats,
    scale_m: Floats,
    step_m: float,
    receiver: Ints | None = None,
    span_m: Floats | None = None,
) -> Floats:
    """Return how rough each trace is at each station, over what is usual with its receiver, shape (T, S).

    Parameters
    ----------
    deviation_m, scale_m : ndarray, shape (T, S)
    step_m : float
        Distance between stations, metres.
    receiver : ndarray of int, shape (T,), optional
        Number of the receiver of each trace; without it they are all of one.
    span_m : ndarray, shape (T, S), optional
        Distance between the points around each station, metres; without it they are close.

    Returns
    -------
    ndarray, shape (T, S)
        NaN where the points lie too far apart to show it.

    Notes
    -----
    Second differences over `ROUGH_LAG_M`, in which a bend or a steady approach drops out: they show the
    innovations that drive an error. Between points farther apart than the lag a trace is a straight line, and
    shows none. Usual is the median over the traces of a receiver of each one's median.
    """
    lag = max(1, round(ROUGH_LAG_M / step_m))
    size = np.full(deviation_m.shape, np.nan)
    shown = deviation_m if span_m is None else np.where(span_m > ROUGH_LAG_M, np.nan, deviation_m)
    middle = shown[:, lag:-lag]
    size[:, lag:-lag] = np.abs(shown[:, 2 * lag :] - 2.0 * middle + shown[:, : -2 * lag])
    least = LEAST_ROUGH * (float(np.nanmedian(scale_m)) if np.isfinite(scale_m).any() else 1.0)
    own = np.array([_median(row) for row in size])
    of = np.zeros(len(size), dtype=np.int64) if receiver is None else receiver
    usual = np.array([_median(own[of == number]) for number in of])
    return np.asarray(size / np.fmax(usual, least)[:, None])


def unrest(rough: Floats, first: int, last: int, step_m: float) -> float:
    """Return how many times as restless as usual a trace is in a run, or just before or after it; at least 1.

    Parameters
    ----------
    rough : ndarray, shape (S,)
        `roughness` of the trace.
    first, last : int
        Stations at which the run begins and ends.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    float

    Notes
    -----
    That is the largest median of its `roughness`, (S,): over `ROUGH_BESIDE_M` before and after,
    `ROUGH_APART_M` away from the ends, and within, `ROUGH_INSIDE_M` away from them, as any run has steep
    sides, and only where that leaves `ROUGH_WITHIN_M`. Where errors are driven so much harder, chance takes
    them so much farther.
    """
    apart, wide, inside = (round(x / step_m) for x in (ROUGH_APART_M, ROUGH_BESIDE_M, ROUGH_INSIDE_M))
    least = max(ROUGH_STATIONS, round(ROUGH_WITHIN_M / step_m))
    spans = (
        (first - apart - wide, first - apart, ROUGH_STATIONS),
        (first + inside + 1, last - inside, least),
        (last + apart + 1, last + apart + 1 + wide, ROUGH_STATIONS),
    )
    parts = [(rough[max(0, low) : max(0, high)], enough) for low, high, enough in spans]
    most = max([0.0, *(_median(part) for part, enough in parts if np.isfinite(part).sum() >= enough)])
    return max(1.0, most / ROUGH_CHANCE)


def _median(values: Floats) -> float:
    """Return the median of what is known, NaN where nothing is."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")
