"""How far two receivers ridden together are apart: at each station, and by segment."""

from __future__ import annotations

import numpy as np

from trackspread.model import Floats


def distance_m(across_m: Floats, along_m: Floats) -> Floats:
    """Return the distance between the two, shape (R, S): across only on rides without times.

    Parameters
    ----------
    across_m : ndarray, shape (R, S)
        Across the line, metres.
    along_m : ndarray, shape (R, S)
        Along it, NaN without times.

    Returns
    -------
    ndarray, shape (R, S)
    """
    timed = np.isfinite(along_m).any(axis=1, keepdims=True)
    return np.asarray(np.where(timed, np.hypot(across_m, along_m), np.abs(across_m)))


def by_segment(values: Floats, station_m: Floats, segment_m: float) -> Floats:
    """Return the mean of values (R, S) over each segment, shape (N, R), NaN where none is known.

    Parameters
    ----------
    values : ndarray, shape (R, S)
        NaN unknown.
    station_m : ndarray, shape (S,)
        Stations, metres.
    segment_m : float
        Length of a segment, metres.

    Returns
    -------
    ndarray, shape (N, R)
    """
    count = max(1, round(float(station_m[-1] - station_m[0]) / segment_m))
    place = np.clip(((station_m - station_m[0]) / segment_m).astype(int), 0, count - 1)
    known = np.isfinite(values)
    total = np.zeros((count, len(values)))
    size = np.zeros((count, len(values)))
    np.add.at(total, place, np.where(known, values, 0.0).T)
    np.add.at(size, place, known.T.astype(float))
    return np.asarray(np.divide(total, size, out=np.full(total.shape, np.nan), where=size > 0))
