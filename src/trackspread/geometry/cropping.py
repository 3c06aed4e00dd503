"""Pieces of a polyline that lie inside a box."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trackspread.model import Floats


def pieces_inside(x: Floats, y: Floats, low: Floats, high: Floats) -> Iterator[tuple[Floats, Floats]]:
    """Yield the pieces of a polyline that lie inside a box, its ends moved to where it enters and leaves.

    Each side of the polyline is cut by parameter (Liang & Barsky 1984, ACM Trans. Graph. 3:1, from memory).
    Vertices without a place part the line.

    Parameters
    ----------
    x, y : ndarray, shape (V,)
    low, high : ndarray, shape (2,)
        Corners of the box.

    Returns
    -------
    list

    Examples
    --------
    >>> import numpy as np
    >>> x, y = np.array([-5.0, 15.0]), np.array([2.0, 2.0])
    >>> [(px.tolist(), py.tolist()) for px, py in pieces_inside(x, y, np.zeros(2), np.full(2, 10.0))]
    [([0.0, 10.0], [2.0, 2.0])]
    """
    place = np.column_stack([x, y])
    step = np.diff(place, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        one, other = (low - place[:-1]) / step, (high - place[:-1]) / step
    inside = (place[:-1] >= low) & (place[:-1] <= high)
    still = step == 0.0
    enters = np.where(still, np.where(inside, -np.inf, np.inf), np.fmin(one, other)).max(axis=1)
    leaves = np.where(still, np.where(inside, np.inf, -np.inf), np.fmax(one, other)).min(axis=1)
    first, last = np.clip(enters, 0.0, 1.0), np.clip(leaves, 0.0, 1.0)
    kept = np.isfinite(step).all(axis=1) & (enters <= leaves) & (leaves >= 0.0) & (enters <= 1.0)
    numbers = np.flatnonzero(kept)
    if len(numbers) == 0:
        return
    goes_on = (np.diff(numbers) == 1) & (last[numbers[:-1]] == 1.0) & (first[numbers[1:]] == 0.0)
    for run in np.split(numbers, np.flatnonzero(~goes_on) + 1):
        a, b = run[0], run[-1]
        start, end = place[a] + first[a] * step[a], place[b] + last[b] * step[b]
        piece = np.vstack([start, place[a + 1 : b + 1], end])
        yield piece[:, 0], piece[:, 1]
