"""The types of arrays, and the words that records may hold."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

Verdict = Literal["steady", "wavering", "torn", "thin"]
Cause = Literal["line", "receiver", "settling", "after a gap", "unknown"]
Side = Literal["left", "right"]
FixSource = Literal["declared", "timer", "file", "none"]


def kept(values: Floats, left_out: Bools) -> Floats:
    """Return values with NaN where they are left out, such as the offsets in stretches, shape as given.

    Parameters
    ----------
    values : ndarray
        Of any shape.
    left_out : ndarray of bool
        Of the same shape.

    Returns
    -------
    ndarray

    Examples
    --------
    >>> kept(np.array([1.0, 2.0]), np.array([False, True])).tolist()
    [1.0, nan]
    """
    return np.where(left_out, np.nan, values)


def first_known(values: Floats) -> float:
    """Return the first value that is not NaN; NaN where there is none.

    Parameters
    ----------
    values : ndarray, shape (P,)
        NaN = not known.

    Returns
    -------
    float

    Examples
    --------
    >>> first_known(np.array([np.nan, 4.0, 5.0]))
    4.0
    """
    known = values[np.isfinite(values)]
    return float(known[0]) if len(known) else float("nan")


def earliest(times_s: Iterable[Floats]) -> float:
    """Return the earliest of the first known times of several traces, seconds; infinite where none is known.

    Parameters
    ----------
    times_s : iterable of ndarray
        Times of each trace in order, seconds UTC; NaN = not known.

    Returns
    -------
    float

    Examples
    --------
    >>> earliest([np.array([np.nan, 9.0]), np.array([4.0, 5.0]), np.array([np.nan])])
    4.0
    """
    known = [first for first in map(first_known, times_s) if np.isfinite(first)]
    return min(known, default=float("inf"))
