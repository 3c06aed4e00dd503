"""Every two of several receivers at one risk, by closed testing.

Two are told apart where every set that holds both shows that not all in it are alike (Marcus, Peritz &
Gabriel 1976, Biometrika 63:655; from memory). Of three watches that is the test of all three, then that of
each two at the full risk, where Holm (1979) leaves a third of it to the first two.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np

from trackspread.model import Floats
from trackspread.numeric.distributions import chi2_below, normal_quantile
from trackspread.statistics.letters import holm

MOST_IN_SETS = 6
"""Receivers up to which all sets are gone through (42 of three or more); of more, pairs are held by Holm."""
LEAST_P = 1e-300  # p-values below it are rounding


def closed(p: Floats, count: int, alike: Callable[[tuple[int, ...]], float]) -> Floats:
    """Return the p-values of all pairs, adjusted for one another.

    Parameters
    ----------
    p : ndarray, shape (count (count - 1) / 2,)
        Of each two, in the order of ``itertools.combinations``; ``NaN`` is no comparison and stays so.
    count : int
        Receivers.
    alike : callable
        Gives the p of all receivers of a set being alike, ``NaN`` where nothing says.

    Returns
    -------
    ndarray, shape as ``p``

    Notes
    -----
    Several groups may each be alike at once: the p of a set is multiplied by their number, `groups`
    (Bonferroni).

    Examples
    --------
    >>> closed(np.array([0.01, 0.04, 0.9]), 3, lambda members: 0.02).tolist()
    [0.02, 0.04, 0.9]
    """
    if count > MOST_IN_SETS:
        return holm(p)
    pairs = list(combinations(range(count), 2))
    out = p * groups(count, 2)
    for size in range(3, count + 1):
        for members in combinations(range(count), size):
            inside = [set(pair) <= set(members) for pair in pairs]
            whole = alike(members) * groups(count, size)
            out[inside] = np.maximum(out[inside], 0.0 if np.isnan(whole) else whole)
    return np.minimum(out, 1.0)


def groups(count: int, size: int) -> int:
    """Return how many groups may each be alike at once, one of them a set of so many receivers.

    Parameters
    ----------
    count : int
        Receivers.
    size : int
        Those in the set.

    Returns
    -------
    int

    Notes
    -----
    A set of s among n leaves room for (n - s) // 2 more.
    """
    return 1 + (count - size) // 2


def alike_by_pairs(p: Floats, count: int, members: Sequence[int]) -> float:
    """Return the p of a set being alike from the p-values of its pairs.

    Parameters
    ----------
    p : ndarray
        Of each two of all, see `closed`.
    count : int
        Receivers.
    members : sequence of int
        Those of the set.

    Returns
    -------
    float

    Notes
    -----
    Of n means of equal error the normal scores z of all pairs have sum z^2 = n / 2 chi-square of n - 1
    degrees of freedom (analysis of variance). Where a pair is not compared: the smallest p times the number
    of pairs (Bonferroni).
    """
    own = p[[set(pair) <= set(members) for pair in combinations(range(count), 2)]]
    known = own[np.isfinite(own)]
    if len(known) < len(own):
        return float(known.min() * len(known)) if len(known) else float("nan")
    scores = normal_quantile(0.5 * np.clip(known, LEAST_P, 1.0))
    squares = 2.0 / len(members) * float(scores @ scores)
    return 1.0 - float(chi2_below(np.array([squares]), len(members) - 1.0)[0])


def over_figures(figures: Sequence[Floats], smallest: Sequence[float], risk: float) -> list[Floats]:
    """Return the p-values of several figures, each closed by itself, held to the family of all.

    Parameters
    ----------
    figures : sequence of ndarray
        Adjusted p-values of the pairs by each figure (`closed`).
    smallest : sequence of float
        The least p of a pair that so many rides could give by each figure.
    risk : float
        Of one false finding or more among all.

    Returns
    -------
    list of ndarray

    Notes
    -----
    Holm's procedure (`holm`) over figures. A figure leaves the family once all its pairs are told apart: so
    against a pair stand the largest p-values of the other figures.

    Examples
    --------
    >>> [p.round(3).tolist() for p in over_figures([np.array([0.001, 0.4]), np.array([0.02])], [0, 0], 0.05)]
    [[0.002, 0.4], [0.04]]
    """
    most = np.array([max(own[np.isfinite(own)], default=np.nan) for own in figures])
    floor = np.array(smallest, dtype=float)
    out = []
    for place, own in enumerate(figures):
        beside = (np.where(np.arange(len(most)) == place, p, most) for p in own)
        out.append(np.array([holm(values, floor, risk)[place] for values in beside]))
    return out
