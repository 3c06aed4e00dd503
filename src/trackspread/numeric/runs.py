"""Runs of True along one axis, how to join and bound them, and numbers spaced evenly."""

from __future__ import annotations

import numpy as np

from trackspread.model import Bools, Ints


def runs(mask: Bools) -> Ints:
    """Return first and last index of every run of True, shape (R, 2).

    Parameters
    ----------
    mask : ndarray of bool, shape (S,)

    Returns
    -------
    ndarray of int, shape (R, 2)
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return np.stack([edges[::2], edges[1::2] - 1], axis=1).astype(np.int64)


def joined(spans: Ints, most_apart: int) -> Ints:
    """Return the runs with those joined that at most ``most_apart`` indices separate, shape (R, 2).

    Parameters
    ----------
    spans : ndarray of int, shape (R, 2)
        First and last index of each run.
    most_apart : int
        Indices between two runs.

    Returns
    -------
    ndarray of int, shape (R, 2)
    """
    if len(spans) == 0:
        return spans
    apart = spans[1:, 0] - spans[:-1, 1] - 1 > most_apart
    first = np.concatenate([[True], apart])
    last = np.concatenate([apart, [True]])
    return np.stack([spans[first, 0], spans[last, 1]], axis=1)


def evenly(count: int, most: int) -> list[int]:
    """Return ``most`` numbers below ``count``, evenly from first to last, or all if they are fewer.

    Parameters
    ----------
    count, most : int

    Returns
    -------
    list of int
    """
    return sorted(set(np.linspace(0, count - 1, min(count, most)).round().astype(int).tolist()))


def widened(mask: Bools, margin: int) -> Bools:
    """Return a mask, shape (T, S), with every run of True longer by ``margin`` at both ends.

    Parameters
    ----------
    mask : ndarray of bool, shape (T, S)
    margin : int
        Stations on each side.

    Returns
    -------
    ndarray of bool, shape (T, S)
    """
    out = mask.copy()
    for shift in range(1, margin + 1):
        out[:, :-shift] |= mask[:, shift:]
        out[:, shift:] |= mask[:, :-shift]
    return out
