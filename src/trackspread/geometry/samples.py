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
    """Points of the bundle chosen for matching, padded: shape (T, M); ``index`` is -1 where padded.

    ``heading_over_m`` is the way that a heading is taken over, infinite where it is not in doubt: points of
    sparse traces scatter each by itself. Where a trace among closer ones logs seldom, the straight line
    between two of its points says little: ``heading_share`` is how much of a heading counts, and ``bent_m``
    by how much the way to a sample may be longer than that line.
    """

    index: Ints
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
    travel = bundle.travel_m()
    bin_number = np.floor(travel / SAMPLE_M)
    chosen = np.flatnonzero(np.diff(bin_number, prepend=-1.0) != 0)
    resumed = np.flatnonzero(bundle.gap_before)
    chosen = np.unique(np.concatenate([chosen, resumed, resumed[1:] - 1, bundle.start[1:] - 1]))
    owner = bundle.owner[chosen]
    counts = np.bincount(owner, minlength=bundle.traces)
    column = np.arange(len(chosen)) - np.concatenate([[0], np.cumsum(counts)])[owner]
    index = np.full((bundle.traces, int(counts.max())), -1, dtype=np.int64)
    index[owner, column] = chosen
    safe = np.maximum(index, 0)
    x, y = bundle.x[safe], bundle.y[safe]
    before = index[:, np.maximum(np.arange(index.shape[1]) - 1, 0)]
    after = np.where(np.roll(index, -1, axis=1) >= 0, np.roll(index, -1, axis=1), index)
    after[:, -1] = index[:, -1]
    back, ahead = travel[safe] - travel[before], travel[after] - travel[safe]
    before = np.where((back > LONG_MATCH_STEP_M) & _short(ahead), safe, before)
    after = np.where((ahead > LONG_MATCH_STEP_M) & _short(back), safe, after)
    hx, hy = bundle.x[after] - bundle.x[before], bundle.y[after] - bundle.y[before]
    norm = np.hypot(hx, hy)
    span = norm.copy() if sparse else np.full(norm.shape, np.inf)
    norm[norm == 0.0] = np.inf
    step = (travel[after] - travel[before]) / np.maximum((before != safe) * 1.0 + (after != safe), 1.0)
    step, back = (np.zeros(norm.shape),) * 2 if sparse else (step, back)
    return Samples(
        index=index, x=x, y=y, heading_x=hx / norm, heading_y=hy / norm, heading_over_m=span,
        travel_m=travel[safe],
        heading_share=LONG_MATCH_STEP_M / np.maximum(step, LONG_MATCH_STEP_M),
        bent_m=BENT_SHARE * np.maximum(back - LONG_MATCH_STEP_M, 0.0),
    )  # fmt: skip


def _short(step_m: Floats) -> Bools:
    return (step_m > SAMPLE_M / 6.0) & (step_m < 1.5 * SAMPLE_M)
