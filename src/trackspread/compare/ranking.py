"""Receivers of several analyses side by side: who is told apart from whom, and the stations they share."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import chain

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.sphere import places_m
from trackspread.model import Bools, Estimate, Floats, MedianEstimate
from trackspread.numeric.distributions import f_quantile
from trackspread.statistics.rides_needed import implied_dof

NEAR_LINE_M = 25.0  # m between two centrelines of one way


def steadier(a: Estimate, b: Estimate, confidence: float) -> bool:
    """Return whether spread ``a`` is smaller than ``b`` by more than chance (two-sided F test).

    F = (s_b / s_a)^2 with the degrees of freedom that their intervals stand for (NIST/SEMATECH
    e-Handbook 1.3.5.9).

    Parameters
    ----------
    a, b : Estimate
        Spreads, metres.
    confidence : float
        Of the intervals, and 1 less the risk of the test.

    Returns
    -------
    bool
        False where one of the two has no interval.
    """
    dof = [implied_dof(e.value, e.low, e.high, confidence) for e in (a, b)]
    if not all(map(math.isfinite, dof)):
        return False
    limit = float(f_quantile(0.5 + confidence / 2.0, dof[1], dof[0]))
    return bool((b.value / a.value) ** 2 > limit)


def sooner(a: MedianEstimate, b: MedianEstimate) -> bool:
    """Return whether median ``a`` is smaller than ``b``: their exact intervals do not meet (cautious).

    Parameters
    ----------
    a, b : MedianEstimate
        Such as first fixes, seconds.

    Returns
    -------
    bool
    """
    return bool(math.isfinite(a.high) and math.isfinite(b.low) and a.high < b.low)


def ordered(count: int, *tiers: Iterable[tuple[int, int]]) -> Bools:
    """Return who of ``count`` is better than whom, (n, n), with all that follows.

    Every tier holds pairs (better, worse). If a is better than b and b better than c, then a is better than
    c; a pair of a later tier that contradicts what is known by then is left out. So no order turns round
    what an earlier tier says, whatever separate tests add.

    Parameters
    ----------
    count : int
        How many there are.
    *tiers : iterable of (int, int)
        Pairs (better, worse) by number, what counts most first.

    Returns
    -------
    ndarray of bool, shape (n, n)
        Whether the one of the row is better than the one of the column.

    Examples
    --------
    >>> ordered(3, [(0, 1)], [(1, 2), (2, 0)]).tolist()
    [[False, True, True], [False, False, True], [False, False, False]]
    """
    better, itself = np.zeros((count, count), dtype=bool), np.eye(count, dtype=bool)
    for i, j in chain.from_iterable(tiers):
        if not (better[i, j] or better[j, i]):
            better |= np.outer(better[:, i] | itself[i], better[j] | itself[j])
    return better


def ranks(better: Bools, known: Sequence[bool]) -> list[int | None]:
    """Return the rank of each: 1 + how many are better than it; ``None`` where there is no figure.

    Those with no detectable difference from the best share rank 1, and so on: a tie is shown as a tie.

    Parameters
    ----------
    better : ndarray of bool, shape (n, n)
        See `ordered`.
    known : sequence of bool, length n
        Who has a figure.

    Returns
    -------
    list of int or None

    Examples
    --------
    >>> ranks(ordered(3, [(0, 1), (0, 2)]), [True, True, True])
    [1, 2, 2]
    """
    above = better[np.flatnonzero(known)].sum(axis=0)
    return [1 + int(count) if has else None for count, has in zip(above, known, strict=True)]


def shared_stations(lon_deg: Floats, lat_deg: Floats, other_lon_deg: Floats, other_lat_deg: Floats) -> Bools:
    """Return which stations of one centreline lie within 25 m of another that runs the same way, shape (S,).

    Place and heading are compared together: turning by a full circle counts like 50 m.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (S,)
        Of one centreline, degrees.
    other_lon_deg, other_lat_deg : ndarray, shape (V,)
        Of the other.

    Returns
    -------
    ndarray of bool, shape (S,)
    """
    tree = cKDTree(poses(other_lon_deg, other_lat_deg))
    distance, _ = tree.query(poses(lon_deg, lat_deg), distance_upper_bound=NEAR_LINE_M)
    return np.asarray(np.isfinite(distance))


def poses(lon_deg: Floats, lat_deg: Floats) -> Floats:
    """Return place and heading of stations, (S, 6), metres: to turn by a full circle counts like 50 m.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (S,)
        Of a centreline in the direction of travel, degrees.

    Returns
    -------
    ndarray, shape (S, 6)
        Place on a sphere, then direction of travel times `NEAR_LINE_M`.
    """
    place = places_m(lon_deg, lat_deg)
    way = np.gradient(place, axis=0)
    size = np.linalg.norm(way, axis=1, keepdims=True)
    return np.asarray(np.hstack([place, NEAR_LINE_M * way / np.where(size > 0.0, size, 1.0)]))
