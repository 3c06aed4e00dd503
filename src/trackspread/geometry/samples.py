"""The points of traces that are matched: one for each few metres travelled, with its heading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.geometry.points import Bundle
from trackspread.model import Bools, Floats, Ints

SAMPLE_M = 12.0  # m between the points matched
BENT_SHARE = 0.3  # of a step beyond that, by which the way ridden may be longer
LONG_MATCH_STEP_M = 50.0  # m without a logged point beyond which a step is a gap


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Samples:
    """``N`` points of the bundle chosen for matching, ``index``, trace by trace; arrays of shape (N,).

    ``first``, shape (T,), is the first sample of each trace. ``heading_over_m`` is the way that a heading is
    taken over, infinite where it is not in doubt: points of sparse traces scatter each by itself. Where a
    trace among closer ones logs seldom, the straight line between two of its points says little:
    ``heading_share`` is how much of a heading counts, and ``bent_m`` by how much the way to a sample may be
    longer than that line.
    """

    index: Ints
    first: Ints
    x: Floats
    y: Floats
    heading_x: Floats
    heading_y: Floats
    heading_over_m: Floats
    travel_m: Floats
    heading_share: Floats
    bent_m: Floats


def sample(bundle: Bundle, sparse: bool = False) -> Samples:
    """Choose one point per `SAMPLE_M` travelled of every trace, with its heading over some 25 m.

    Both ends of every gap are chosen. Beside a step of more than `LONG_MATCH_STEP_M` one of ordinary
    length gives the heading alone: across a gap the way may have turned.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    sparse : bool
        Whether points lie far apart.

    Returns
    -------
    Samples
    """
    travel = bundle.travel_m
    index = _chosen(bundle, travel)
    edge = np.diff(bundle.owner[index], prepend=-1, append=-1) != 0
    before = np.where(edge[:-1], index, np.roll(index, 1))
    after = np.where(edge[1:], index, np.roll(index, -1))
    back_m, ahead_m = travel[index] - travel[before], travel[after] - travel[index]
    before = np.where((back_m > LONG_MATCH_STEP_M) & _ordinary(ahead_m), index, before)
    after = np.where((ahead_m > LONG_MATCH_STEP_M) & _ordinary(back_m), index, after)
    way_x, way_y = bundle.x[after] - bundle.x[before], bundle.y[after] - bundle.y[before]
    size = np.hypot(way_x, way_y)
    safe = np.where(size > 0.0, size, np.inf)
    nowhere, certain = np.zeros(len(index)), np.full(len(index), np.inf)
    neighbours = np.maximum((before != index) * 1.0 + (after != index), 1.0)
    step_m = nowhere if sparse else (travel[after] - travel[before]) / neighbours
    return Samples(
        index=index,
        first=np.flatnonzero(edge[:-1]),
        x=bundle.x[index],
        y=bundle.y[index],
        heading_x=way_x / safe,
        heading_y=way_y / safe,
        heading_over_m=size if sparse else certain,
        travel_m=travel[index],
        heading_share=LONG_MATCH_STEP_M / np.maximum(step_m, LONG_MATCH_STEP_M),
        bent_m=BENT_SHARE * np.maximum((nowhere if sparse else back_m) - LONG_MATCH_STEP_M, 0.0),
    )


def _chosen(bundle: Bundle, travel_m: Floats) -> Ints:
    """Return the numbers of the points that begin a new `SAMPLE_M`, and of both ends of every gap."""
    begins = np.diff(np.floor(travel_m / SAMPLE_M), prepend=-1.0) != 0
    begins |= bundle.gap_before
    ends = np.append(bundle.gap_before[1:], True)
    return np.flatnonzero(begins | ends)


def _ordinary(step_m: Floats) -> Bools:
    return (step_m > SAMPLE_M / 6.0) & (step_m < 1.5 * SAMPLE_M)
