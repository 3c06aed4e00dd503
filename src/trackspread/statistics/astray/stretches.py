"""Stretches: where one trace leaves the others by more than chance allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trackspread.model import Bools, Cause, Floats, Ints
from trackspread.numeric.robust import nan_median
from trackspread.numeric.runs import joined, runs
from trackspread.options import Options
from trackspread.statistics.astray.chance import CHANCE_A_KM, Span, chance_a_km

OWN_LEVEL_M = 1500.0  # m to both sides over which a trace has a level
LEVEL_EVERY_M = 50.0  # m between places at which its level is told
LEVEL_SCALES = 1.0  # scales that a level counts for at most: farther aside for long is no chance
EDGE_LEVEL = 3.0  # scales above outside at which a stretch ends, at most
MIRROR_TIMES = 1.5  # times as far as its shadow lies a run on the other side
MIRROR_SHARE = 0.5  # share of a shadow that lies beside it


@dataclass(frozen=True, kw_only=True, slots=True)
class Run:
    """Stations ``first`` to ``last`` of trace ``trace``, where it lies on one side (1 right, -1 left)."""

    trace: int
    first: int
    last: int
    side: int
    cause: Cause = "unknown"


def find_runs(
    deviation_m: Floats, scale_m: Floats, step_m: float, options: Options, receiver: Ints | None = None
) -> list[Run]:
    """Find the runs of stations where a trace leaves the others by more than chance lets expect.

    Errors change slowly and fast. A trace has a level, the median of its deviation over 1.5 km to both sides,
    at most one scale, and is judged by how far it leaves that.
    A run opens where this passes ``stretch_enter`` scales, and reaches as far as it stays above
    ``stretch_leave`` (hysteresis), or above 0.45 of the peak up to one and a half times that; its ends are
    then put on the steepest change nearby. Short breaks are closed, and runs shorter than ``stretch_min_m``
    dropped. Whether such a run is more than chance the rides themselves say: it is kept where they make fewer
    than `CHANCE_A_KM` a trace-km by chance (`chance_a_km`).

    Parameters
    ----------
    deviation_m, scale_m : ndarray, shape (T, S)
    step_m : float
        Distance between stations, metres.
    options : Options
        Thresholds.
    receiver : ndarray of int, shape (T,), optional
        Number of the receiver of each trace; without it they are all of one.

    Returns
    -------
    list of Run
        By trace, and along each.
    """
    known, away = np.isfinite(deviation_m), deviation_m / scale_m
    z = np.nan_to_num(away - _own_level(away, step_m))
    opened = sorted(
        Span(trace, first, last)
        for trace in range(len(z))
        for first, last in _opened(z[trace], step_m, options)
    )
    rate = chance_a_km(z, known, opened, step_m, receiver)
    return [
        Run(
            trace=trace, first=first, last=last, side=1 if z[trace, first : last + 1].sum() >= 0.0 else -1
        )
        for (trace, first, last), a_km in zip(opened, rate, strict=True)
        if a_km < CHANCE_A_KM
    ]  # fmt: skip


def _own_level(z: Floats, step_m: float) -> Floats:
    """Return how many scales each trace lies aside for long, `LEVEL_SCALES` at most, shape (T, S)."""
    every, half = max(1, round(LEVEL_EVERY_M / step_m)), round(OWN_LEVEL_M / LEVEL_EVERY_M)
    sampled = np.pad(z[:, ::every], ((0, 0), (half, half)), constant_values=np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(sampled, 2 * half + 1, axis=1)
    level = np.nan_to_num(nan_median(windows.transpose(2, 0, 1)))
    station = np.arange(z.shape[1])
    rows = [np.interp(station, station[::every], row) for row in level]
    return np.asarray(np.clip(np.array(rows).reshape(z.shape), -LEVEL_SCALES, LEVEL_SCALES))


def _opened(z: Floats, step_m: float, options: Options) -> list[tuple[int, int]]:
    """Return first and last station of every run of one trace, chance or not."""
    apart = round(options.stretch_merge_m / step_m)
    size, opened = np.abs(z), []
    for first, last in joined(runs(size > options.stretch_leave), apart):
        if size[first : last + 1].max() >= options.stretch_enter:
            opened += _bounded(size, first, last, options, apart)
    ended = [_on_edges(np.copysign(1.0, z[a : b + 1].sum()) * z, a, b, step_m) for a, b in opened]
    return [(a, b) for a, b in ended if (b - a + 1) * step_m >= options.stretch_min_m]


def _bounded(z: Floats, first: int, last: int, options: Options, apart: int) -> list[tuple[int, int]]:
    """Return the parts of a run above the level that separates them from a slow wander."""
    part = z[first : last + 1]
    level = float(np.clip(0.45 * part.max(), options.stretch_leave, 1.5 * options.stretch_leave))
    enough = min(options.stretch_enter, float(part.max()))
    pieces = joined(runs(part >= level), apart) + first
    return [(int(a), int(b)) for a, b in pieces if z[a : b + 1].max() >= enough]


def _on_edges(z: Floats, first: int, last: int, step_m: float) -> tuple[int, int]:
    """Move both ends to where ``z`` rises from outside to inside, see `_edge_level`.

    The crossing nearest to the end is taken, at most 40 m or half the run's length away.
    """
    reach, shoulder = max(round(40.0 / step_m), (last - first) // 2), round(80.0 / step_m)
    inside = float(np.median(z[first : last + 1]))
    before, after = (
        z[max(0, first - shoulder) : max(0, first - shoulder // 4)],
        z[last + shoulder // 4 : last + shoulder],
    )
    if len(before):
        first = _crossing(z, first, _edge_level(inside, float(np.median(before))), reach, last, 1)
    if len(after):
        last = _crossing(z, last, _edge_level(inside, float(np.median(after))), reach, first, -1)
    return first, last


def _edge_level(inside: float, outside: float) -> float:
    """Return the level at which a run ends: half way between inside and outside, at most 3 scales up."""
    return min((inside + outside) / 2.0, outside + EDGE_LEVEL)


def _crossing(z: Floats, start: int, level: float, reach: int, other: int, inward: int) -> int:
    """Return the station nearest to ``start`` where ``z`` rises through ``level`` going inward."""
    low = max(1, min(start - reach, len(z) - 2)) if inward == 1 else max(start - reach, other + 1)
    high = min(start + reach, other - 1) if inward == 1 else min(start + reach, len(z) - 2)
    at = np.arange(low, high + 1)
    if len(at) == 0:
        return start
    up = (z[at] >= level) & (z[at - inward] < level)
    return int(at[up][np.argmin(np.abs(at[up] - start))]) if up.any() else start


def mirrored(found: Sequence[Run], deviation_m: Floats, ride: Ints) -> list[Run]:
    """Return the runs that are the shadow of another: one of few traces far aside pulls what judges the rest.

    Half of such a run or more lies beside a run of another ride on the other side that deviates by
    `MIRROR_TIMES` as much. With two rides of two receivers the middle of one that strays and its companion
    lies half way between them, and both receivers of the other ride seem to leave it.

    Parameters
    ----------
    found : sequence of Run
        Runs of stations.
    deviation_m : ndarray, shape (T, S)
        Deviation from the other rides, metres, NaN unknown.
    ride : ndarray of int, shape (T,)
        Ride of each trace.

    Returns
    -------
    list of Run
    """
    first, last, side, trace = (
        np.array([(r.first, r.last, r.side, r.trace) for r in found], dtype=int).reshape(-1, 4).T
    )
    size = np.array([mean_of(np.abs(deviation_m[r.trace, r.first : r.last + 1])) for r in found])
    shadows = []
    for one, run in enumerate(found):
        shared = np.minimum(last[one], last) - np.maximum(first[one], first) + 1
        beside = shared >= MIRROR_SHARE * (last[one] - first[one] + 1)
        opposed = (ride[trace] != ride[run.trace]) & (side != run.side)
        if np.any(beside & opposed & (size >= MIRROR_TIMES * size[one])):
            shadows.append(run)
    return shadows


def together(found: Sequence[Run]) -> list[Run]:
    """Return runs of which no two of one trace share a station: those that do become one.

    The longer one says the side and the cause; a phase of settling stays one.

    Parameters
    ----------
    found : sequence of Run
        Runs of stations.

    Returns
    -------
    list of Run
        By trace, and along each.
    """
    out: list[Run] = []
    for run in sorted(found, key=lambda run: (run.trace, run.first, run.last)):
        last = out[-1] if out else None
        if last is None or last.trace != run.trace or run.first > last.last:
            out.append(run)
            continue
        longer = last if last.cause == "settling" or last.last - last.first >= run.last - run.first else run
        out[-1] = replace(longer, first=last.first, last=max(last.last, run.last))
    return out


def mean_of(values: Floats) -> float:
    """Return the mean of what is known, 0 where nothing is.

    Parameters
    ----------
    values : ndarray

    Returns
    -------
    float
    """
    return float(np.nanmean(values)) if np.isfinite(values).any() else 0.0


def as_mask(found: Sequence[Run], shape: tuple[int, int], margin: int = 0) -> Bools:
    """Return which stations of which traces lie in a run, widened by ``margin`` stations, shape (T, S).

    Parameters
    ----------
    found : sequence of Run
        Runs of stations.
    shape : tuple of int
        (T, S).
    margin : int
        Stations on each side.

    Returns
    -------
    ndarray of bool, shape (T, S)
    """
    mask = np.zeros(shape, dtype=bool)
    for run in found:
        mask[run.trace, max(0, run.first - margin) : run.last + margin + 1] = True
    return mask
