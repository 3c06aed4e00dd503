"""Exact tests of figures that each ride has one of: nothing is taken to be known of how they are spread."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np

from trackspread.model import Bools, Floats, Ints

MOST_WAYS = 10_000
"""Up to so many ways all are gone through; of more, as many are drawn, always the same ones."""
SET_DRAWS = 2_000  # permutations that tell whether a set is alike
SAME = 1e-9  # sums that differ by less are equal but for rounding


@dataclass(frozen=True, kw_only=True, slots=True)
class ExactTest:
    """``p`` of no difference, two-sided, and ``smallest``: the least that so many rides could give."""

    p: float
    smallest: float


def signed_ranks(difference: Floats) -> ExactTest | None:
    """Return the test of Wilcoxon (1945), Biometrics Bulletin 1:80, for pairs, shape (n,); ``None`` without
    one.

    Every sign is as likely as the other where the two are alike; ranks of equal size are shared, differences
    of 0 left out, and infinite ones rank highest.

    Parameters
    ----------
    difference : ndarray, shape (n,)
        Of the two on each ride.

    Returns
    -------
    ExactTest or None
    """
    difference = difference[~np.isnan(difference)]
    moved = difference[difference != 0.0]
    if len(difference) == 0:
        return None
    if len(moved) == 0:
        return ExactTest(p=1.0, smallest=1.0)
    rank = _ranks(np.abs(moved))
    signs = _signs(len(moved))
    drawn = signs @ rank
    return _two_sided(float(np.sign(moved) @ rank), drawn, len(signs) < 2 ** len(moved))


def rank_sum(a: Floats, b: Floats) -> ExactTest | None:
    """Return the test of Wilcoxon (1945) for two sets of rides, (n,) and (m,), ``None`` where one is empty.

    Every choice of n rides out of all is as likely where the two are alike; equal values share their rank.

    Parameters
    ----------
    a : ndarray, shape (n,)
        One a ride.
    b : ndarray, shape (m,)
        One a ride.

    Returns
    -------
    ExactTest or None
    """
    a, b = a[~np.isnan(a)], b[~np.isnan(b)]
    if len(a) == 0 or len(b) == 0:
        return None
    rank = _ranks(np.concatenate([a, b]))
    rank = rank - rank.mean()
    chosen, drawn_some = _choices(len(rank), len(a))
    return _two_sided(float(rank[: len(a)].sum()), chosen @ rank, drawn_some)


def all_alike(values: Floats, receiver: Ints, block: Ints) -> float:
    """Return the p of several receivers being alike, by permuting them within blocks.

    A block is a shared ride, or all rides on which one receiver went alone: where the receivers are alike,
    each place in it is as likely to be any one's.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One a ride and receiver.
    receiver, block : ndarray of int, shape (n,)
        Whose and in which block each is, from 0.

    Returns
    -------
    float

    Notes
    -----
    Ranks of the values less the median of their block (Hodges & Lehmann 1962, Ann. Math. Stat. 33:482; from
    memory), and the sum of squares between receivers; `SET_DRAWS` permutations, always the same.
    """
    seen, drawn = np.zeros(receiver.max() + 1), np.zeros((SET_DRAWS, receiver.max() + 1))
    rows = [np.flatnonzero(block == one) for one in np.unique(block)]
    aligned = np.array(values, dtype=float)
    for row in rows:
        aligned[row] -= np.median(aligned[row])
    rank = _ranks(aligned)
    random = np.random.default_rng(1)
    for row in rows:
        own, whose = rank[row] - rank[row].mean(), np.eye(len(seen))[receiver[row]]
        seen += own @ whose
        drawn += own[random.random((SET_DRAWS, len(row))).argsort(axis=1)] @ whose
    weight = 1.0 / np.maximum(np.bincount(receiver), 1)
    far = int(np.sum(drawn**2 @ weight >= seen**2 @ weight - SAME))
    return (far + 1) / (SET_DRAWS + 1)


def share_as_far(seen: Floats, rides: int, together: bool) -> Floats:
    """Return the p of sums of ranks, those of signs or of choices of rides, where no two are equal.

    Parameters
    ----------
    seen : ndarray, shape (n,)
        Sizes of sums: of signed ranks, or of the ranks of one receiver less their mean.
    rides : int
        Shared, or of each of the two.
    together : bool
        Whether they share the rides.

    Returns
    -------
    ndarray, shape (n,)

    Examples
    --------
    >>> share_as_far(np.array([10.0, 8.0]), 4, True).tolist()
    [0.125, 0.25]
    """
    if together:
        null = _signs(rides) @ np.arange(1.0, rides + 1.0)
    else:
        null = _choices(2 * rides, rides)[0] @ (np.arange(2.0 * rides) - (rides - 0.5))
    null = np.sort(np.abs(null))
    return np.asarray((len(null) - np.searchsorted(null, seen - SAME)) / len(null))


def _ranks(values: Floats) -> Floats:
    """Return the rank of every value from 1, equal ones sharing the mean of theirs, shape (n,)."""
    _, group, size = np.unique(values, return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(size) - (size - 1) / 2.0)[group])


def _two_sided(seen: float, drawn: Floats, some: bool) -> ExactTest:
    """Return the share of ways at least as far out; of drawn ones the seen one counts too.

    Phipson & Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9:39.
    """
    far = int(np.sum(np.abs(drawn) >= abs(seen) - SAME))
    most = int(np.sum(np.abs(drawn) >= np.abs(drawn).max() - SAME))
    if some:
        return ExactTest(p=(far + 1) / (len(drawn) + 1), smallest=1 / (len(drawn) + 1))
    return ExactTest(p=far / len(drawn), smallest=most / len(drawn))


@lru_cache(maxsize=64)
def _signs(count: int) -> Floats:
    """Return all choices of signs, (2^n, n), or a fixed draw of them."""
    if 2**count <= MOST_WAYS:
        bits = (np.arange(2**count)[:, None] >> np.arange(count)) & 1
        return np.asarray(2.0 * bits - 1.0)
    return np.asarray(2.0 * np.random.default_rng(1).integers(0, 2, (MOST_WAYS, count)) - 1.0)


@lru_cache(maxsize=64)
def _choices(size: int, taken: int) -> tuple[Bools, bool]:
    """Return all choices of ``taken`` out of ``size`` as rows of bool, or a fixed draw of them."""
    ways = 1.0
    for k in range(taken):
        ways *= (size - k) / (k + 1)
    if ways <= MOST_WAYS:
        picks = np.array(list(combinations(range(size), taken)))
        rows = np.zeros((len(picks), size), dtype=bool)
        rows[np.arange(len(picks))[:, None], picks] = True
        return rows, False
    order = np.random.default_rng(1).random((MOST_WAYS, size)).argsort(axis=1)
    return order < taken, True
