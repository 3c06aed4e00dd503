"""Rests of ten minutes and more: what a watch logs there wanders, and is no way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trackspread.geometry.sphere import places_m
from trackspread.model import Floats, Trace, Witness
from trackspread.readers.notes import noticed
from trackspread.rides.pieces import span_s

LEAST_REST_S = 600.0  # s, shorter stops are left to matching
REST_STEP_S = 30.0  # s between the places that are looked at
REST_STEP_M = 15.0  # m that a fix at rest wanders in that time at most, in half of it: a walk makes 40 m
REST_WITHIN_M = 60.0  # m from the mean place of a rest
LEAST_WANDER_M = 300.0  # m from place to place in a rest; less is left to matching
JOINED_STEPS = 2  # steps of a leap away and back, amid a rest
MOST_STEPS = 20_000  # bounds the work: seven days
RESTED = "rest"


def without_rests(witnesses: Sequence[Witness]) -> tuple[Witness, ...]:
    """Return the witnesses without what their recordings logged inside rests; others stay as they are.

    A watch that nobody stopped goes on for hours, and its fix wanders for kilometres in one place. The first
    and the last moment of a rest stay, of one at the end the first; of one at the start the first
    `LEAST_REST_S`, in which a fix gets right.

    Parameters
    ----------
    witnesses : sequence of Witness

    Returns
    -------
    tuple of Witness
    """
    return tuple(replace(w, trace=_without_rests(w.trace)) for w in witnesses)


def _without_rests(trace: Trace) -> Trace:
    rests = rests_s(trace)
    if not len(rests):
        return trace
    begins_s, ends_s = span_s(trace)
    inside = np.zeros(len(trace.time_s), dtype=bool)
    for first_s, last_s in rests.tolist():
        kept_s = LEAST_REST_S if first_s <= begins_s + REST_STEP_S else 0.0
        to_the_end = last_s >= ends_s - REST_STEP_S
        inside |= (trace.time_s > first_s + kept_s) & ((trace.time_s < last_s) | to_the_end)
    if not inside.any():
        return trace
    count = int(inside.sum())
    kept = replace(trace.at(~inside), points_set_aside=trace.points_set_aside + count)
    return noticed(kept, RESTED, count)


def rests_s(trace: Trace) -> Floats:
    """Return when each rest begins and ends, shape (R, 2), seconds UTC.

    In a rest every place, looked at every `REST_STEP_S`, lies within `REST_WITHIN_M` of the mean of those
    before, half of the steps are below `REST_STEP_M`, and all of them make `LEAST_WANDER_M` or more.

    Parameters
    ----------
    trace : Trace

    Returns
    -------
    ndarray, shape (R, 2)
    """
    known = np.flatnonzero(np.isfinite(trace.time_s))
    none: Floats = np.empty((0, 2))
    if len(known) < 2 or trace.time_s[known[-1]] - trace.time_s[known[0]] < LEAST_REST_S:
        return none
    time_s = trace.time_s[known]
    at = np.arange(time_s[0], time_s[-1], REST_STEP_S)[:MOST_STEPS]
    logged = places_m(trace.lon_deg[known], trace.lat_deg[known])
    place = np.stack([np.interp(at, time_s, column) for column in logged.T], axis=1)
    step_m = np.linalg.norm(np.diff(place, axis=0), axis=1)
    slow = step_m <= REST_STEP_M
    least, first, found = round(LEAST_REST_S / REST_STEP_S), 0, list[tuple[int, int]]()
    while first + least <= len(slow):
        stays = _stays(place[first:], least) if slow[first] else 0
        steps = np.flatnonzero(slow[first : first + stays])
        last = int(steps[-1]) + 1 if len(steps) else 0
        if last >= least and 2 * len(steps) >= last:
            goes_on = found and first - found[-1][1] <= JOINED_STEPS
            near = goes_on and np.linalg.norm(place[first] - place[found[-1][1]]) <= REST_WITHIN_M
            found.append((found.pop()[0] if near else first, first + last))
            first += last
        first += 1
    wandered = np.append(0.0, np.cumsum(step_m))
    far = [(first, last) for first, last in found if wandered[last] - wandered[first] >= LEAST_WANDER_M]
    return np.asarray(at[np.array(far)]) if far else none


def _stays(place: Floats, least: int) -> int:
    """Return over how many steps every place lies near the mean of those before, 0 below ``least``."""
    for steps in (least, len(place) - 1):
        before = np.cumsum(place[:steps], axis=0) / np.arange(1, steps + 1)[:, None]
        far = np.linalg.norm(place[1 : steps + 1] - before, axis=1) > REST_WITHIN_M
        if far.any():
            return int(np.argmax(far)) if steps > least else 0
    return len(place) - 1
