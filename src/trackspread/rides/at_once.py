"""Which recordings were made at once, side by side: a sweep over times, then places at the same moments."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from trackspread.geometry.sphere import places_m
from trackspread.model import Bools, Floats, Ints, Trace
from trackspread.readers.clean import EARLIEST_S

Pair = tuple[int, int]
Span = tuple[float, float]

NEAR_TRACE_M = 150.0  # m between two that are carried by one rider, with the worst error of a fix
SAME_M = 0.5  # m, below which two are copies of one recording
CLOCK_S, SHIFTS = 120.0, 25
"""Clocks may differ by two minutes; they are tried every ten seconds."""
LEAST_OVERLAP = 0.3  # share of the shorter recording
LONGEST_BREAK_S = 3600.0  # s of a pause within one ride
MOMENTS, MOMENTS_SAME = 15, 99  # moments that are compared, and for copies, where more are needed
MOST_BESIDE = 16
"""A recording is held against so many that began before it, those of the most alike ground: nobody carries
more watches."""
STEPS_AT_ONCE = 2000  # pairs in one table, bounds memory


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Timed:
    """Times and places of ``T`` traces in one piece, so that many are looked up at once.

    ``span_s``, shape (T, 2), is first and last known time, minus infinity where a trace has none; ``low_m``
    and ``high_m``, shape (T, 3), are corners of the box that holds it. ``key``, shape (P,), grows through all
    points: the time since a trace's first, from its ``base``, shape (T,), on. ``place_m``, shape (P, 3), and
    the way travelled ``travel_m``, shape (P,), are those of the points.
    """

    span_s: Floats
    low_m: Floats
    high_m: Floats
    base: Floats
    key: Floats
    place_m: Floats
    travel_m: Floats

    def overlap_s(self, first: Ints, second: Ints) -> Floats:
        """Return for how long both traces of each pair recorded, below zero where never, shape (N,)."""
        (start_a, end_a), (start_b, end_b) = self.span_s[first].T, self.span_s[second].T
        return np.asarray(np.minimum(end_a, end_b) - np.maximum(start_a, start_b))

    def moments_s(self, first: Ints, second: Ints, count: int) -> Floats:
        """Return moments at which both traces of each pair recorded, evenly, shape (N, count)."""
        start = np.maximum(self.span_s[first, 0], self.span_s[second, 0])
        end = np.minimum(self.span_s[first, 1], self.span_s[second, 1])
        return np.linspace(start, end, count, axis=1)

    def at(self, trace: Ints, at_s: Floats, values: Floats) -> Floats:
        """Return values of the points at moments of each trace, held at its ends; axes of ``at_s`` first."""
        number = trace.reshape(-1, *[1] * (at_s.ndim - 1))
        start_s, end_s = self.span_s[number, 0], self.span_s[number, 1]
        key = self.base[number] + np.clip(at_s - start_s, 0.0, end_s - start_s)
        right = np.clip(np.searchsorted(self.key, key), 1, len(self.key) - 1)
        before, after = self.key[right - 1], self.key[right]
        share = np.where(after > before, (key - before) / np.where(after > before, after - before, 1.0), 1.0)
        share = share.reshape(share.shape + (1,) * (values.ndim - 1))
        return np.asarray(values[right - 1] + share * (values[right] - values[right - 1]))


def timed(traces: Sequence[Trace]) -> Timed:
    """Return times and places of traces, of their points with a time.

    Parameters
    ----------
    traces : sequence of Trace, length T
        Points without a time do not count.

    Returns
    -------
    Timed
    """
    span = np.full((len(traces), 2), -np.inf)
    low, high = np.full((len(traces), 3), np.inf), np.full((len(traces), 3), -np.inf)
    base = np.zeros(len(traces))
    keys, places, travels, used = [np.zeros(0)], [np.zeros((0, 3))], [np.zeros(0)], 0.0
    for i, trace in enumerate(traces):
        known = np.isfinite(trace.time_s)
        base[i] = used
        if known.sum() < 2:
            continue
        time_s = np.maximum.accumulate(trace.time_s[known])
        place = places_m(trace.lon_deg[known], trace.lat_deg[known])
        span[i], low[i], high[i] = time_s[[0, -1]], place.min(axis=0), place.max(axis=0)
        keys.append(used + time_s - time_s[0])
        places.append(place)
        travels.append(np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(place, axis=0), axis=1))]))
        used += float(time_s[-1] - time_s[0]) + 1.0
    return Timed(
        span_s=span, low_m=low, high_m=high, base=base, key=np.concatenate(keys),
        place_m=np.concatenate(places), travel_m=np.concatenate(travels),
    )  # fmt: skip


def made_at_once(recorded: Timed) -> list[Pair]:
    """Return the pairs of traces that were recorded at once and side by side, the smaller number first.

    They overlap by `LEAST_OVERLAP` of the shorter one, both clocks were set, and at half of `MOMENTS` within
    the overlap one was within `NEAR_TRACE_M` of where the other was up to `CLOCK_S` before or after.

    Parameters
    ----------
    recorded : Timed
        Times and places of the traces.

    Returns
    -------
    list of (int, int)
        Numbers of traces.
    """
    pairs = np.array(list(_overlapping(recorded)), dtype=np.int64).reshape(-1, 2)
    near = [
        _side_by_side(recorded, *pairs[k : k + STEPS_AT_ONCE].T) for k in range(0, len(pairs), STEPS_AT_ONCE)
    ]
    chosen = pairs[np.concatenate(near)] if near else pairs
    return [(a, b) for a, b in chosen.tolist()]


def _overlapping(recorded: Timed) -> Iterator[Pair]:
    """Yield the pairs that overlap for long enough and whose boxes lie near each other: a sweep in time."""
    order = np.lexsort((recorded.span_s[:, 1], recorded.span_s[:, 0]))
    order = order[recorded.span_s[order, 0] >= EARLIEST_S]
    start, end = recorded.span_s[order].T.copy()
    low, high = recorded.low_m[order].T.copy(), recorded.high_m[order].T.copy()
    ended = np.maximum.accumulate(end)
    for k, i in enumerate(order.tolist()):
        running = slice(int(np.searchsorted(ended[:k], start[k], side="right")), k)
        shorter = np.minimum(end[running] - start[running], end[k] - start[k])
        good = np.minimum(end[running], end[k]) - start[k] >= np.maximum(LEAST_OVERLAP * shorter, 1e-9)
        for below, above in zip(low, high, strict=True):
            good &= (below[running] - NEAR_TRACE_M <= above[k]) & (above[running] + NEAR_TRACE_M >= below[k])
        beside = running.start + np.flatnonzero(good)
        if len(beside) > MOST_BESIDE:
            corners = np.concatenate([low[:, beside] - low[:, [k]], high[:, beside] - high[:, [k]]])
            beside = beside[np.argpartition(np.abs(corners).sum(axis=0), MOST_BESIDE)[:MOST_BESIDE]]
        yield from ((min(i, j), max(i, j)) for j in order[beside].tolist())


def _side_by_side(recorded: Timed, first: Ints, second: Ints) -> Bools:
    """Return which of the pairs ran side by side, shape (N,).

    Those that do by their clocks as they are do; those that are farther apart than the second can have come
    in `CLOCK_S` do not; for the others all shifts of the clock are tried.
    """
    at_s = recorded.moments_s(first, second, MOMENTS)
    here = recorded.at(first, at_s, recorded.place_m)
    apart = np.linalg.norm(here - recorded.at(second, at_s, recorded.place_m), axis=2)
    out = np.median(apart, axis=1) < NEAR_TRACE_M
    made = recorded.at(second, at_s, recorded.travel_m)
    most = np.maximum(
        recorded.at(second, at_s + CLOCK_S, recorded.travel_m) - made,
        made - recorded.at(second, at_s - CLOCK_S, recorded.travel_m),
    )
    open_ = np.flatnonzero(~out & (np.median(apart - most, axis=1) < NEAR_TRACE_M))
    if len(open_):
        shifted = at_s[open_, :, None] + np.linspace(-CLOCK_S, CLOCK_S, SHIFTS)
        there = recorded.at(second[open_], shifted, recorded.place_m)
        nearest = np.linalg.norm(here[open_, :, None] - there, axis=3).min(axis=2)
        out[open_] = np.median(nearest, axis=1) < NEAR_TRACE_M
    return np.asarray(out)


def of_two_watches(recorded: Timed, together: Sequence[Pair]) -> list[Pair]:
    """Return the pairs that are not one recording exported twice: they are apart while both recorded.

    Parameters
    ----------
    recorded : Timed
        Times and places of the traces.
    together : sequence of (int, int)
        Pairs of traces that were recorded at once.

    Returns
    -------
    list of (int, int)
        Those whose median distance over `MOMENTS_SAME` moments is at least `SAME_M`.
    """
    out: list[Pair] = []
    for k in range(0, len(together), STEPS_AT_ONCE):
        part = np.array(together[k : k + STEPS_AT_ONCE], dtype=np.int64)
        at_s = recorded.moments_s(part[:, 0], part[:, 1], MOMENTS_SAME)
        a, b = (recorded.at(trace, at_s, recorded.place_m) for trace in part.T)
        two = np.median(np.linalg.norm(a - b, axis=2), axis=1) >= SAME_M
        out += [(i, j) for i, j in part[two].tolist()]
    return out


@dataclass(slots=True)
class _Group:
    """Traces of one ride: the name it was given, and when each of its receivers recorded, in order."""

    members: list[int]
    named: str
    spans: dict[str, list[Span]]


def joined_rides(
    recorded: Timed, together: Sequence[Pair], receivers: Sequence[str], said: Sequence[str]
) -> list[list[int]]:
    """Return groups of traces recorded at once, joined where they overlap most.

    One group never holds two different names, nor two recordings of one receiver more than an hour apart
    (a receiver left running all day does not make one ride of two).

    Parameters
    ----------
    recorded : Timed
        Times and places of the T traces.
    together : sequence of (int, int)
        Pairs of traces (see `made_at_once`).
    receivers, said : sequence of str, length T
        Receiver and ride of each trace, ``""`` where it is not known.

    Returns
    -------
    list of list of int
        Numbers of the traces of each ride; every trace is in one.
    """
    group = [
        _Group(members=[i], named=said[i], spans={name: [_span(recorded, i)]} if name else {})
        for i, name in enumerate(receivers)
    ]
    pairs = np.array(together, dtype=np.int64).reshape(-1, 2)
    overlap = recorded.overlap_s(*pairs.T)
    for i, j in pairs[np.lexsort((pairs[:, 1], pairs[:, 0], -overlap))].tolist():
        large, small = group[i], group[j]
        if large is small or (large.named and small.named and large.named != small.named):
            continue
        if len(large.members) < len(small.members):
            large, small = small, large
        if any(
            _breaks(large.spans[name], spans) for name, spans in small.spans.items() if name in large.spans
        ):
            continue
        large.members += small.members
        large.named = large.named or small.named
        for name, spans in small.spans.items():
            large.spans[name] = sorted(large.spans.get(name, []) + spans)
        for k in small.members:
            group[k] = large
    return [sorted(own.members) for i, own in enumerate(group) if min(own.members) == i]


def _span(recorded: Timed, trace: int) -> Span:
    start_s, end_s = recorded.span_s[trace].tolist()
    return start_s, end_s


def _breaks(known: Sequence[Span], added: Sequence[Span]) -> bool:
    """Return whether a receiver would pause for more than an hour between two recordings, were both joined.

    Both are in order and have no such pause themselves, so only the neighbours of what is added can make one.
    """
    at = [bisect_left(known, span) for span in added]
    for place in sorted(set(at)):
        here = [span for span, own in zip(added, at, strict=True) if own == place]
        around = [*known[max(place - 1, 0) : place], *here, *known[place : place + 1]]
        if any(after[0] - before[1] > LONGEST_BREAK_S for before, after in pairwise(around)):
            return True
    return False
