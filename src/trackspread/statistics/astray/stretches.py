"""Stretches: where one trace leaves the others by more than chance allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import percentile_filter

from trackspread.model import Bools, Cause, Floats, Ints
from trackspread.noise.correlation import Correlation
from trackspread.numeric.distributions import normal_above, t_quantile
from trackspread.numeric.robust import mad_scale
from trackspread.numeric.runs import joined, runs
from trackspread.options import Options
from trackspread.statistics.astray.roughness import roughness, unrest

ENTER_WITH_EDGE = 2.8  # level that opens a stretch with an edge
EDGE_SIGMAS = 5.0  # height of an edge, in changes by chance
LEAST_EDGE = 3.2  # scales, the least height of an edge
EDGE_M = 60.0  # m over which an edge rises
NEARBY_M = 200.0  # m to both sides in which changes of the traces are weighed
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


def chance_level(scales: float, dof: float, most: float) -> float:
    """Return the threshold that a scale known with ``dof`` degrees of freedom makes of one of ``scales``.

    Student's t quantile with the tail of the normal at ``scales``; at most ``most`` times ``scales``.
    With four rides whose errors wander slowly, even the scale is known to a factor of two only.

    Parameters
    ----------
    scales : float
        Threshold in scales, were the scale known.
    dof : float
        Degrees of freedom of the scale.
    most : float
        Largest threshold.

    Returns
    -------
    float
        In scales.
    """
    tail = float(normal_above(scales))
    return float(min(float(-t_quantile(tail, max(dof, 1.0))), most * scales))


def find_runs(
    deviation_m: Floats,
    scale_m: Floats,
    correlation: Correlation,
    step_m: float,
    enter: float,
    options: Options,
    receiver: Ints | None = None,
    span_m: Floats | None = None,
) -> list[Run]:
    """Find the runs of stations where a trace leaves the others.

    A run opens where the deviation passes ``enter`` scales, or `ENTER_WITH_EDGE` scales with an
    edge: a change over 60 m of more than `EDGE_SIGMAS` times what errors so correlated change by chance,
    sqrt(2 - 2 rho(60 m) cos(turn)) scales, ``turn`` being that of the line. Receivers wander off slowly;
    only a fault or another way has edges. An edge is at least `LEAST_EDGE` scales high.
    It reaches as far as the deviation stays above ``stretch_leave`` (hysteresis), or above
    0.45 of the peak up to one and a half times that, and its ends are then put on the steepest
    change nearby. Runs shorter than ``stretch_min_m`` are dropped, short breaks are closed. What is left must
    stand out of what the trace does thereabouts (`unrest`): a receiver in a burst or on a bad day leaves the
    others often, and is rough while it does; one that follows another way is as smooth as ever.

    Parameters
    ----------
    deviation_m, scale_m : ndarray, shape (T, S)
    correlation : Correlation
        Of residuals along the route.
    enter : float
        ``stretch_enter``, or what `chance_level` makes of it.
    step_m : float
        Distance between stations, metres.
    options : Options
        Thresholds.
    receiver : ndarray of int, shape (T,), optional
        Number of the receiver of each trace; without it they are all of one.
    span_m : ndarray, shape (T, S), optional
        Distance between the points around each station, metres; without it they are close.

    Returns
    -------
    list of Run
        By trace, and along each.
    """
    z = np.nan_to_num(deviation_m / scale_m)
    edge = np.abs(edges(z, np.isfinite(deviation_m), correlation, step_m))
    rough = roughness(deviation_m, scale_m, step_m, receiver, span_m)
    out = []
    for trace in range(len(z)):
        for first, last in _opened(z[trace], edge[trace], step_m, enter, options):
            least = unrest(rough[trace], first, last, step_m)
            if not _opens(np.abs(z[trace]), edge[trace], first, last, step_m, enter * least, least, options):
                continue
            side = 1 if z[trace, first : last + 1].sum() >= 0.0 else -1
            out.append(Run(trace=trace, first=first, last=last, side=side))
    return sorted(out, key=lambda run: (run.trace, run.first))


def _opened(z: Floats, edge: Floats, step_m: float, enter: float, options: Options) -> list[tuple[int, int]]:
    """Return first and last station of every accepted run of one trace."""
    apart = round(options.stretch_merge_m / step_m)
    size, accepted = np.abs(z), []
    for first, last in joined(runs(size > options.stretch_leave), apart):
        if _opens(size, edge, first, last, step_m, enter, 1.0, options):
            accepted += _bounded(size, first, last, options, apart)
    ended = [_on_edges(np.copysign(1.0, z[a : b + 1].sum()) * z, a, b, step_m) for a, b in accepted]
    return [(a, b) for a, b in ended if (b - a + 1) * step_m >= options.stretch_min_m]


def _opens(
    size: Floats, edge: Floats, first: int, last: int, step_m: float, enter: float, times: float,
    options: Options,
) -> bool:  # fmt: skip
    """Return whether a run reaches the level to enter, or has an edge ``times`` as sharp as one needs."""
    margin = round(EDGE_M / step_m / 2)
    peak = float(size[first : last + 1].max())
    sharp = float(np.max(edge[max(0, first - margin) : last + margin + 1])) >= times * EDGE_SIGMAS
    return peak >= enter or (sharp and peak >= times * min(ENTER_WITH_EDGE, options.stretch_enter))


def edges(z: Floats, known: Bools, correlation: Correlation, step_m: float) -> Floats:
    """Return the change of ``z`` over `EDGE_M`, in units of what chance makes of it, shape (T, S).

    The unit is the larger of what the correlation lets expect and of what the traces show nearby: their MAD
    scale, its lower quartile over 400 m, so that the two edges of one fault do not hide each other. Where
    all traces are restless, as in a canyon, a change means little.

    Parameters
    ----------
    z : ndarray, shape (T, S)
        Deviations in scales.
    known : ndarray of bool, shape (T, S)
        Where there is data.
    correlation : Correlation
        How errors are alike along the way.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    ndarray, shape (T, S)
    """
    size = z.shape[1]
    half = max(1, round(EDGE_M / step_m / 2))
    ahead, behind = np.minimum(np.arange(size) + half, size - 1), np.maximum(np.arange(size) - half, 0)
    change = z[:, ahead] - z[:, behind]
    turn = correlation.heading_rad[ahead] - correlation.heading_rad[behind]
    expected = np.sqrt(np.maximum(2.0 - 2.0 * correlation.at(EDGE_M) * np.cos(turn), 0.0))
    shown = mad_scale(np.where(known[:, ahead] & known[:, behind], change, np.nan))
    width = 2 * max(1, round(NEARBY_M / step_m)) + 1
    shown = percentile_filter(np.nan_to_num(shown), 25, width, mode="nearest")
    return np.asarray(change / np.maximum(np.maximum(expected, shown), LEAST_EDGE / EDGE_SIGMAS))


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
