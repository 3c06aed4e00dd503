"""Cut a recording of several rides: after a long stop it came over its own way again, or it turned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from trackspread.geometry.sphere import places_m
from trackspread.model import Floats, Ints, Trace, Witness
from trackspread.numeric.runs import evenly
from trackspread.readers.notes import noticed
from trackspread.rides.laps import share_near
from trackspread.rides.pieces import piece, span_s, with_pieces
from trackspread.rides.routes import LEAST_LENGTH_M, SAME_WAY
from trackspread.rides.turned_back import THERE_AND_BACK, turning_point

LEAST_PAUSE_S = 600.0  # longer than a stop at lights or a tunnel
LEAST_LEAP_M = 300.0
"""A ferry or a tunnel leaps too, but goes on to new ground; a stop for coffee does not leap."""
MOST_BESIDE_WAY = 5000  # bounds the work, places of a way
RESUMED = "resumed"
ELSEWHERE = "went on elsewhere"
LATER_RIDE = "later_ride"
"""Code of the reason why such a ride has no start: the recording had begun with the ride before."""


def with_rides_apart(witnesses: Sequence[Witness], corridor_m: float) -> tuple[Witness, ...]:
    """Return the witnesses with recordings of several rides cut into them; others stay as they are.

    Parameters
    ----------
    witnesses : sequence of Witness
    corridor_m : float
        Half width of the corridor in which ways are one, metres.

    Returns
    -------
    tuple of Witness
    """
    cuts: dict[int, dict[int, str]] = {}
    for number, witness in enumerate(witnesses):
        again = resumptions(witness.trace, corridor_m)
        cuts[number] = dict.fromkeys(again.tolist(), RESUMED)
        cuts[number] |= dict.fromkeys(_turns(witness.trace, again, corridor_m), THERE_AND_BACK)
    return cut_at(witnesses, cuts)


def cut_at(witnesses: Sequence[Witness], cuts: Mapping[int, Mapping[int, str]]) -> tuple[Witness, ...]:
    """Return the witnesses with some of them cut; companions get the ride of the piece that they go with.

    Parameters
    ----------
    witnesses : sequence of Witness
    cuts : mapping of int to (mapping of int to str)
        By the number of a witness: the points at which its rides begin, and the code of why.

    Returns
    -------
    tuple of Witness
        In the same order, the pieces of a recording in order of time.
    """
    out: list[Witness] = []
    pieces: dict[str, list[Witness]] = {}
    for number, witness in enumerate(witnesses):
        parts = _pieces(witness, cuts[number]) if cuts.get(number) else [witness]
        out += parts
        if len(parts) > 1 and witness.ride:
            pieces.setdefault(witness.ride, []).extend(parts)
    return tuple(_aboard(w, pieces[w.ride]) if w.ride in pieces else w for w in out)


def _aboard(witness: Witness, pieces: Sequence[Witness]) -> Witness:
    """Return a witness with the ride of that piece of a companion which it shares most time with."""
    begins_s, ends_s = span_s(witness.trace)
    spans = [span_s(other.trace) for other in pieces]
    shared = [min(ends_s, end) - max(begins_s, begin) for begin, end in spans]
    most = max(range(len(pieces)), key=lambda k: shared[k])
    return replace(witness, ride=pieces[most].ride) if shared[most] > 0.0 else witness


def _turns(trace: Trace, again: Ints, corridor_m: float) -> list[int]:
    """Return the points at which the rides of a recording, which begin at ``again``, turn and come back."""
    rides = pairwise([0, *again.tolist(), len(trace.lon_deg)])
    found = [(first, turning_point(piece(trace, first, end, 0), corridor_m)) for first, end in rides]
    return [first + turn for first, turn in found if turn]


def resumptions(trace: Trace, corridor_m: float) -> Ints:
    """Return the points at which another ride begins, shape (N,).

    Nothing was logged for `LEAST_PAUSE_S` and over `LEAST_LEAP_M` before such a point, and what follows runs
    over the way before, or the other way about, for a share `SAME_WAY`.

    Parameters
    ----------
    trace : Trace
    corridor_m : float
        Half width of the corridor in which ways are one, metres.

    Returns
    -------
    ndarray of int, shape (N,)
    """
    jumps = leaps(trace)
    if not len(jumps):
        return jumps
    xyz = places_m(trace.lon_deg, trace.lat_deg)
    step = np.linalg.norm(np.diff(xyz, axis=0), axis=1)
    cuts: list[int] = []
    for at, end in pairwise([*jumps.tolist(), len(xyz)]):
        start = cuts[-1] if cuts else 0
        before, after = xyz[start:at], xyz[at:end]
        long_enough = all(step[a : b - 1].sum() >= LEAST_LENGTH_M for a, b in ((start, at), (at, end)))
        if (
            long_enough
            and max(_share(after, before, corridor_m), _share(before, after, corridor_m)) >= SAME_WAY
        ):
            cuts.append(at)
    return np.array(cuts, dtype=np.int64)


def leaps(trace: Trace) -> Ints:
    """Return the points before which nothing was logged for `LEAST_PAUSE_S` and over `LEAST_LEAP_M`.

    Parameters
    ----------
    trace : Trace

    Returns
    -------
    ndarray of int, shape (N,)
    """
    pause = np.diff(trace.time_s)
    step = np.linalg.norm(np.diff(places_m(trace.lon_deg, trace.lat_deg), axis=0), axis=1)
    unknown = np.isnan(pause) & trace.break_before[1:]
    return 1 + np.flatnonzero((step > LEAST_LEAP_M) & ((pause > LEAST_PAUSE_S) | unknown))


def _share(way: Floats, other: Floats, near_m: float) -> float:
    """Return the share of the places of a way, (N, 3), some of them asked, that lie near those of another."""
    return share_near(way[evenly(len(way), MOST_BESIDE_WAY)], other, near_m)


def _pieces(witness: Witness, cuts: Mapping[int, str]) -> list[Witness]:
    """Return one witness a ride; the first one says how many there are, and why."""
    trace = witness.trace
    edges = [0, *sorted(cuts), len(trace.lon_deg)]
    parts = [piece(trace, first, end, number) for number, (first, end) in enumerate(pairwise(edges))]
    for code in sorted(set(cuts.values())):
        parts[0] = noticed(parts[0], code, len(parts))
    name = witness.ride or trace.file
    return with_pieces(witness, parts, [f"{name} ride {n}" for n in range(1, len(parts) + 1)], LATER_RIDE)
