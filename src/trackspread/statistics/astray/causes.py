"""Why a trace left the others, as far as evidence goes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from trackspread.model import Bools, Cause, Floats, Ints
from trackspread.statistics.astray.stretches import Run, mean_of

COMPANION_SHARE = 0.5  # share of the deviation that makes a companion agree
AFTER_GAP_M = 60.0  # m after a gap
WITH_M = 60.0  # m before and after over which companions run together


def with_causes(
    found: list[Run], deviation_m: Floats, ride: Ints, broken: Bools, step_m: float,
    was_ridden: Callable[[Run], bool] = lambda run: False,
) -> list[Run]:  # fmt: skip
    """Say why, as far as evidence goes.

    ``line``: every companion with data deviates to the same side by at least half as much, and runs with the
    trace just before and after: the rider went there; or there is no companion, and the trace took the time
    that its way takes (see `way_ridden`). ``receiver``: a companion was there and did not.
    ``after a gap``: no companion, and the trace logged nothing just before. Otherwise ``unknown``, also
    where companions that tear apart nearby (a canyon) happen to lie on one side here.

    Parameters
    ----------
    ride : ndarray of int, shape (T,)
    broken : ndarray of bool, shape (T, S)
        Stations over which a trace logged nothing.
    found : sequence of Run
        Runs of stations.
    deviation_m : ndarray, shape (T, S)
        Deviation from the other rides, metres, NaN unknown.
    step_m : float
        Distance between stations, metres.
    was_ridden : callable, optional
        Says of a run whether its rider went where the trace went, by length and time.

    Returns
    -------
    list of Run
        With their causes.
    """
    return [
        replace(run, cause=_cause_of(run, deviation_m, ride, broken, step_m, was_ridden)) for run in found
    ]


def _cause_of(
    run: Run, deviation_m: Floats, ride: Ints, broken: Bools, step_m: float,
    was_ridden: Callable[[Run], bool],
) -> Cause:  # fmt: skip
    part = slice(run.first, run.last + 1)
    own = run.side * float(np.nanmean(deviation_m[run.trace, part]))
    shares, together = [], True
    for companion in np.flatnonzero(ride == ride[run.trace]):
        there = deviation_m[companion, part]
        if companion != run.trace and np.isfinite(there).mean() >= 0.5:
            shares.append(run.side * float(np.nanmean(there)) / own)
            apart = np.abs(deviation_m[companion] - deviation_m[run.trace])
            together &= all(mean_of(apart[near]) <= COMPANION_SHARE * own for near in _beside(run, step_m))
    if shares:
        return "receiver" if min(shares) < COMPANION_SHARE else "line" if together else "unknown"
    if was_ridden(run):
        return "line"
    before = slice(max(0, run.first - round(AFTER_GAP_M / step_m)), run.first + 1)
    return "after a gap" if broken[run.trace, before].any() else "unknown"


def _beside(run: Run, step_m: float) -> tuple[slice, slice]:
    """Return the stations over `WITH_M` before and after a run."""
    wide = max(1, round(WITH_M / step_m))
    return slice(max(0, run.first - wide), run.first), slice(run.last + 1, run.last + 1 + wide)


def witnessed(found: Sequence[Run], others: Ints) -> list[Run]:
    """Return the runs of which two other rides bear witness, or a companion that did not go there.

    ``others``, shape (T, S), is how many other rides were beside a trace. Where two rides part, nobody can
    say which of them left.

    Parameters
    ----------
    found : sequence of Run
        Runs of stations.
    others : ndarray of int, shape (T, S)
        Other rides beside each trace.

    Returns
    -------
    list of Run
    """
    return [
        run
        for run in found
        if run.cause == "receiver" or np.mean(others[run.trace, run.first : run.last + 1] >= 2) >= 0.5
    ]
