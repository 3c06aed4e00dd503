"""Variants: other ways over part of a route that two or more rides took alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from trackspread.model import Bools, Floats, Ints
from trackspread.numeric.robust import mad_scale, nan_median
from trackspread.numeric.runs import joined, runs
from trackspread.statistics.astray.roughness import roughness, unrest

PARTED_SCALES = 4.5
"""Ways part where a gap between neighbouring traces is wider than this many scales of the route: 3.2 standard
deviations of the difference of two."""
ASIDE_SCALES = 4.0
"""A variant lies so many scales aside: of the route, and of the scatter on both ways, whichever is larger."""
LEAST_ASIDE_M = 6.0
"""No variant lies less aside: the two sides of a street are one way."""
RISE_SCALES, RISE_M = 2.5, 100.0
"""Ways part and meet by so many scales over this length; errors that wander come and go more slowly."""
ALIKE_SHARE, ALIKE_OF_ASIDE = 0.5, 0.1
"""Two traces take one variant that share so much of its stations and lie within the parting gap of each
other there, or within this share of the distance aside."""
LEAVE_SCALES = 2.0
"""A trace is on its way aside from where it lies farther than this from the main way."""
LEAST_RIDES = 2  # rides: one that goes alone is a stretch
LEAST_LOGGED = 2  # points that a trace logs on a variant
MOST_SPLITS = 6  # bounds the work: groups are split at most so often


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Way:
    """One variant: stations ``first`` to ``last`` of the line, the ``traces`` that took it, how far aside."""

    first: int
    last: int
    traces: tuple[int, ...]
    aside_m: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ways:
    """The variants of a route in order of station, and which of them each trace takes where.

    ``taken``, shape (T, S), is 0 on the main way and 1 + its place in ``found`` on a variant.
    """

    found: tuple[Way, ...]
    taken: Ints

    @property
    def aside(self) -> Bools:
        """Where a trace takes a variant, shape (T, S)."""
        return np.asarray(self.taken > 0)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Piece:
    """One trace aside with others over stations ``first`` to ``last``."""

    trace: int
    first: int
    last: int


def find_ways(
    shown_m: Floats, ride: Ints, step_m: float, least_m: float, merge_m: float,
    receiver: Ints | None = None, span_m: Floats | None = None,
) -> Ways:  # fmt: skip
    """Find the ways that two or more rides took alike beside the way that most rides took.

    At each station the offsets fall into groups wherever a gap between neighbours is wider than
    `PARTED_SCALES` scales (single linkage; Sibson 1973, Comput. J. 16:30). The scale is the median along the
    route of the MAD scale across rides, so what holds for less than half of the way does not widen it. The
    group with most rides is the main way; where two are equal, the one nearer to the line. Traces of another
    group with two rides or more take a variant together if they are aside over the same stations, alike, and
    part from the main way and meet it again as sharply as ways do and errors do not. They must stand out of
    what they do thereabouts (`unrest`), as bursts do not, and be long enough for two logged points.

    Parameters
    ----------
    shown_m : ndarray, shape (T, S)
        Offsets, those of ways out of reach included; NaN = no data.
    ride : ndarray of int, shape (T,)
        Companions on one ride count once.
    step_m : float
        Distance of stations.
    least_m, merge_m : float
        Shortest variant, and longest break inside one.
    receiver : ndarray of int, shape (T,), optional
        Number of the receiver of each trace; without it they are all of one.
    span_m : ndarray, shape (T, S), optional
        Distance between the points around each station, metres; without it they are close.

    Returns
    -------
    Ways
    """
    taken = np.zeros(shown_m.shape, dtype=np.int64)
    scale = _scale(shown_m, ride)
    if not np.isfinite(scale):
        return Ways(found=(), taken=taken)
    label, main = _groups(shown_m, ride, PARTED_SCALES * max(scale, LEAST_ASIDE_M / ASIDE_SCALES), step_m)
    middle = nan_median(np.where(label == main, shown_m, np.nan))
    apart = shown_m - middle
    aside = (label >= 0) & (label != main)
    aside = _with_others(aside, shown_m, apart, ride, PARTED_SCALES * scale)
    logged_m = np.zeros(shown_m.shape) if span_m is None else span_m
    pieces = list(_pieces(aside, logged_m, step_m, least_m, max(merge_m, RISE_M)))
    scales_m = np.full(shown_m.shape, scale)
    rough = roughness(shown_m, scales_m, step_m, receiver, span_m) if pieces else scales_m
    found = []
    for group in _alike(pieces, shown_m, apart, PARTED_SCALES * scale):
        restless = float(np.median([unrest(rough[p.trace], p.first, p.last, step_m) for p in group]))
        way = _way(group, shown_m, apart, label == main, ride, scale, step_m, restless)
        if way is not None:
            found.append((way, group))
    found.sort(key=lambda entry: (entry[0].first, entry[0].last))
    for number, (_, group) in enumerate(found, 1):
        for piece in group:
            beyond = np.abs(apart[piece.trace]) > LEAVE_SCALES * scale
            first, last = _whole(beyond, piece, round(RISE_M / step_m))
            taken[piece.trace, first : last + 1] = number
    return Ways(found=tuple(way for way, _ in found), taken=taken)


def _scale(shown_m: Floats, ride: Ints) -> float:
    """Return the scale of the route: the median along it of the MAD scale across rides; NaN below three."""
    numbers = np.unique(ride)
    if len(numbers) < 2 * LEAST_RIDES:
        return float("nan")
    every = mad_scale(by_ride(shown_m, ride))
    known = every[np.isfinite(every)]
    return float(np.median(known)) if len(known) else float("nan")


def by_ride(values: Floats, ride: Ints) -> Floats:
    """Return the median over the traces of each ride, shape (R, S), rides in order of number.

    Parameters
    ----------
    values : ndarray, shape (T, S)
        NaN = unknown.
    ride : ndarray of int, shape (T,)
        Ride of each trace.

    Returns
    -------
    ndarray, shape (R, S)
    """
    return np.array([nan_median(values[ride == number]) for number in np.unique(ride)])


def _groups(shown_m: Floats, ride: Ints, parted_m: float, step_m: float) -> tuple[Ints, Ints]:
    """Return the group of each trace at each station, (T, S), -1 without data, and the main one, (S,)."""
    order = np.argsort(shown_m, axis=0, kind="stable")
    ordered = np.take_along_axis(shown_m, order, axis=0)
    new = np.vstack([np.zeros((1, shown_m.shape[1]), bool), np.diff(ordered, axis=0) > parted_m])
    for _ in range(MOST_SPLITS):
        split = _split(ordered, new, ASIDE_SCALES / PARTED_SCALES * parted_m)
        if not split.any():
            break
        new |= split
    label = np.empty(shown_m.shape, dtype=np.int64)
    np.put_along_axis(label, order, np.cumsum(new, axis=0), axis=0)
    label = np.where(np.isfinite(shown_m), label, -1)
    rides = _rides_of(label, ride)
    distance = np.abs(_smooth_level(shown_m, rides, step_m))
    nearest = np.full(rides.shape, np.inf)
    for number in range(len(rides)):
        here = label == number
        some = here.any(axis=0)
        nearest[number, some] = nan_median(np.where(here[:, some], distance[:, some], np.nan))
    best = (rides == rides.max(axis=0)) & (rides > 0)
    return label, np.asarray(np.argmin(np.where(best, nearest, np.inf), axis=0))


def _split(ordered_m: Floats, new: Bools, least_m: float) -> Bools:
    """Return where groups of many traces fall into two, marked as ``new`` is, one place a station at most.

    Two heaps of many traces have no wide gap between them. A group is split where that takes most of its
    variance away (Otsu 1979, IEEE Trans. SMC 9:62), if the two means lie ``least_m`` apart, and
    `ASIDE_SCALES` standard deviations within the parts: the two halves of one normal heap lie 2.65 apart.
    """
    known = np.isfinite(ordered_m)
    at = np.arange(len(ordered_m))[:, None]
    first = np.maximum.accumulate(np.where(new, at, 0), axis=0)
    end = np.where(new[1:], at[1:], len(ordered_m))
    end = np.vstack([np.minimum.accumulate(end[::-1], axis=0)[::-1], np.full((1, new.shape[1]), len(at))])
    sums = [
        np.vstack([np.zeros((1, new.shape[1])), np.cumsum(np.where(known, ordered_m, 0.0) ** power, axis=0)])
        for power in (1, 2)
    ]
    counts = np.vstack([np.zeros((1, new.shape[1])), np.cumsum(known, axis=0)])

    def between(cumulative: Floats, low: Ints, high: Ints) -> Floats:
        upper = np.take_along_axis(cumulative, np.broadcast_to(high, low.shape), axis=0)
        return np.asarray(upper - np.take_along_axis(cumulative, low, axis=0))

    here = np.broadcast_to(at, first.shape)
    parts = []
    for low, high in ((first, here), (here, end)):
        n = np.maximum(between(counts, low, high), 1e-9)
        mean = between(sums[0], low, high) / n
        parts.append((n, mean, np.maximum(between(sums[1], low, high) - n * mean**2, 0.0)))
    (n1, mean1, within1), (n2, mean2, within2) = parts
    gain = np.where((n1 > LEAST_RIDES - 0.5) & (n2 > LEAST_RIDES - 0.5), n1 * n2 / (n1 + n2), 0.0)
    gain *= (mean2 - mean1) ** 2
    apart = mean2 - mean1
    wide = ASIDE_SCALES * np.sqrt((within1 + within2) / np.maximum(n1 + n2 - 2.0, 1.0))
    best = np.argmax(gain, axis=0)
    columns = np.arange(new.shape[1])
    good = (gain[best, columns] > 0) & (apart[best, columns] > np.maximum(least_m, wide[best, columns]))
    out = np.zeros(new.shape, dtype=bool)
    out[best[good], columns[good]] = True
    return out & ~new


def _smooth_level(shown_m: Floats, rides: Ints, step_m: float) -> Floats:
    """Return how far each trace lies from the line on the whole while ways are parted, shape (T, S).

    Taken over every run of stations with two ways or more, it does not change from station to station, and
    neither does which of two equal ways is the main one.
    """
    out = np.abs(shown_m)
    parted = (rides >= LEAST_RIDES).sum(axis=0) > 1
    for first, last in joined(runs(parted), round(RISE_M / step_m)):
        part = slice(first, last + 1)
        known = np.isfinite(shown_m[:, part])
        total = np.where(known, np.abs(shown_m[:, part]), 0.0).sum(axis=1)
        out[:, part] = (total / np.maximum(known.sum(axis=1), 1))[:, None]
    return out


def _rides_of(label: Ints, ride: Ints) -> Ints:
    """Return the number of rides in each group at each station, shape (G, S)."""
    size, stations = int(label.max(initial=0)) + 1, label.shape[1]
    counts = np.zeros((size, stations), dtype=np.int64)
    columns = np.arange(stations)
    for number in np.unique(ride):
        here = np.zeros((size, stations), dtype=bool)
        for row in label[ride == number]:
            known = row >= 0
            here[row[known], columns[known]] = True
        counts += here
    return counts


def _with_others(aside: Bools, shown_m: Floats, apart_m: Floats, ride: Ints, near_m: float) -> Bools:
    """Return where a trace is aside together with one of another ride, shape (T, S)."""
    out = np.zeros(aside.shape, dtype=bool)
    columns = np.flatnonzero(aside.any(axis=0))
    here, shown, apart = aside[:, columns], shown_m[:, columns], apart_m[:, columns]
    allowed = np.maximum(near_m, ALIKE_OF_ASIDE * np.abs(apart))
    found = np.zeros(here.shape, dtype=bool)
    for other in np.flatnonzero(here.any(axis=1)):
        near = here & here[other] & (np.abs(shown - shown[other]) <= allowed)
        near[ride == ride[other]] = False
        found |= near
    out[:, columns] = found
    return out


def _pieces(aside: Bools, span_m: Floats, step_m: float, least_m: float, merge_m: float) -> Iterator[_Piece]:
    """Yield the runs of stations over which a trace is aside with others."""
    for trace, there in enumerate(aside):
        for first, last in joined(runs(there), round(merge_m / step_m)).tolist():
            apart_m = float(np.median(np.nan_to_num(span_m[trace, first : last + 1])))
            if (last - first + 1) * step_m >= max(least_m, LEAST_LOGGED * apart_m):
                yield _Piece(trace=trace, first=first, last=last)


def _alike(pieces: Sequence[_Piece], shown_m: Floats, apart_m: Floats, near_m: float) -> list[list[_Piece]]:
    """Return the pieces in groups that share their stations and their way (connected components)."""
    group = list(range(len(pieces)))
    for a, one in enumerate(pieces):
        for b in range(a + 1, len(pieces)):
            if group[a] != group[b] and _one_way(one, pieces[b], shown_m, apart_m, near_m):
                old, new = group[b], group[a]
                group = [new if number == old else number for number in group]
    return [[p for p, number in zip(pieces, group, strict=True) if number == g] for g in sorted(set(group))]


def _one_way(a: _Piece, b: _Piece, shown_m: Floats, apart_m: Floats, near_m: float) -> bool:
    """Return whether two pieces are the same way over the same stations."""
    part = slice(max(a.first, b.first), min(a.last, b.last) + 1)
    whole = max(a.last, b.last) - min(a.first, b.first) + 1
    if part.stop - part.start < ALIKE_SHARE * whole:
        return False
    between = np.abs(shown_m[a.trace, part] - shown_m[b.trace, part])
    allowed = np.maximum(near_m, ALIKE_OF_ASIDE * np.abs(apart_m[a.trace, part]))
    known = np.isfinite(between)
    return bool(known.any() and np.median((between - allowed)[known]) <= 0.0)


def _way(
    group: Sequence[_Piece], shown_m: Floats, apart_m: Floats, main: Bools, ride: Ints, scale: float,
    step_m: float, restless: float,
) -> Way | None:  # fmt: skip
    """Return the variant that a group of pieces makes, None where chance may have made it."""
    traces = sorted({piece.trace for piece in group})
    if len(np.unique(ride[traces])) < LEAST_RIDES:
        return None
    first = int(np.median([piece.first for piece in group]))
    last = int(np.median([piece.last for piece in group]))
    level = nan_median(by_ride(apart_m[traces], ride[traces]))
    inside = level[first : last + 1]
    if not np.isfinite(inside).any():
        return None
    peak = float(np.nanmax(np.abs(inside)))
    own = np.where(np.isin(np.arange(len(ride)), traces)[:, None] | main, shown_m, np.nan)[
        :, first : last + 1
    ]
    own -= np.where(main[:, first : last + 1], 0.0, inside)
    scatter = mad_scale(by_ride(own, ride))
    scatter = scatter[np.isfinite(scatter)]
    width = restless * max(scale, float(np.median(scatter)) if len(scatter) else 0.0)
    if float(np.sqrt(np.nanmean(inside**2))) < max(ASIDE_SCALES * width, LEAST_ASIDE_M):
        return None
    if not _parts_and_meets(level, first, last, RISE_SCALES * width, round(RISE_M / step_m)):
        return None
    return Way(first=first, last=last, traces=tuple(traces), aside_m=peak)


def _parts_and_meets(level_m: Floats, first: int, last: int, rise_m: float, reach: int) -> bool:
    """Return whether a way leaves and comes back within ``reach`` stations, where it is seen to do so."""
    size, half = np.abs(level_m), max(1, reach // 2)
    for outside, inside in (
        (size[max(0, first - half) : first], size[first : min(first + half, last) + 1]),
        (size[last + 1 : last + 1 + half], size[max(last - half, first) : last + 1]),
    ):
        if len(outside) < half or np.isnan(outside).all():
            continue
        if not np.nanmax(inside) - np.nanmin(outside) >= rise_m:
            return False
    return True


def _whole(beyond: Bools, piece: _Piece, most: int) -> tuple[int, int]:
    """Return first and last station of a piece with its ends: where it is aside, ``most`` stations each."""
    before, after = beyond[: piece.first][::-1][:most], beyond[piece.last + 1 :][:most]
    return piece.first - _leading(before), piece.last + _leading(after)


def _leading(mask: Bools) -> int:
    """Return how many are True before the first that is not."""
    return int(np.argmin(np.append(mask, False)))
