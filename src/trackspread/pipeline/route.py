"""One route: its traces on a grid, the consensus line, deviations, stretches and the line once more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from trackspread.geometry.consensus.centreline import centreline, consensus
from trackspread.geometry.crossings import Crossings, crossings
from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import headings
from trackspread.geometry.ways_beside import with_ways_beside
from trackspread.model import Bools, FirstFix, Floats, Ints, SettledFix
from trackspread.model.arrays import kept
from trackspread.numeric.runs import widened
from trackspread.options import Options
from trackspread.pipeline.fixes import Beside, fixes
from trackspread.pipeline.tracks import Tracks
from trackspread.statistics.astray.causes import with_causes, witnessed
from trackspread.statistics.astray.settling import chance_level
from trackspread.statistics.astray.stretches import (
    Run,
    as_mask,
    find_runs,
    mirrored,
    together,
)
from trackspread.statistics.astray.variants import Ways, find_ways
from trackspread.statistics.astray.way_ridden import way_was_ridden
from trackspread.statistics.deviation import Deviation, deviation, other_rides, receiver_scale
from trackspread.statistics.spread import Variance, variance

MARGIN_M = 15.0  # m left out on both sides of a stretch
AWAY_SCALES = 4.0  # scales that a start lies aside before it may be an approach, the scale being known


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Judged:
    """A route with its line and everything measured against it."""

    tracks: Tracks
    line: Line
    point_station_m: Floats
    found: Crossings
    ways: Ways
    deviation: Deviation
    fixes: tuple[tuple[FirstFix, SettledFix], ...]
    runs: tuple[Run, ...]
    settling: Ints
    left_out: Bools
    variance: Variance


def first_centreline(tracks: Tracks, options: Options) -> tuple[Line, Floats, Crossings]:
    """Return the consensus of all points, and where each trace crosses it.

    Parameters
    ----------
    tracks : Tracks
        The traces on their grid, (P,) points in all.
    options : Options
        For step, reach and gap.

    Returns
    -------
    line : Line
    station_m : ndarray, shape (P,)
        Station of each point, metres; NaN away.
    found : Crossings

    Raises
    ------
    NoLine
        The traces have no line in common.
    """
    line, station = centreline(
        tracks.bundle,
        step_m=options.station_step_m,
        reach_m=options.reach_m,
        gap_m=tracks.gap_m,
        ride=tracks.ride,
    )
    return line, station, crossings(tracks.bundle, station, line, tracks.gap_m, options.reach_m)


def judge(tracks: Tracks, line: Line, station: Floats, found: Crossings, options: Options) -> Judged:
    """Find variants, settling phases and stretches, refine the line without them, and measure again.

    Parameters
    ----------
    tracks : Tracks
        The traces on their grid, (P,) points in all.
    line : Line
        The consensus of all points.
    station : ndarray, shape (P,)
        Station of each point on it, metres; NaN away.
    found : Crossings
        Where and when each trace crosses it.
    options : Options
        All thresholds.

    Returns
    -------
    Judged
        With the refined line, not the one given.
    """
    found = with_ways_beside(found, tracks.bundle, station, line)
    nothing = np.zeros(found.offset_m.shape, bool)
    rough = _measured(tracks, line, station, found, nothing, options)
    rough = _measured(tracks, line, station, found, _without_shadows(rough), options, rough.ways)
    silent = _silent_points(tracks.bundle, station, line, rough.left_out)
    line, station = consensus(
        tracks.bundle,
        line,
        station,
        step_m=options.station_step_m,
        reach_m=options.reach_m,
        gap_m=tracks.gap_m,
        left_out=silent,
        ride=tracks.ride,
    )
    found = crossings(tracks.bundle, station, line, tracks.gap_m, options.reach_m)
    found = with_ways_beside(found, tracks.bundle, station, line)
    last = _measured(tracks, line, station, found, _carried(rough, line), options)
    return replace(last, variance=_variance(tracks, line, found, last.left_out))


def _measured(
    tracks: Tracks, line: Line, station: Floats, found: Crossings, left_out: Bools, options: Options,
    ways: Ways | None = None,
) -> Judged:  # fmt: skip
    """Measure deviations, fixes and stretches, with the stations ``left_out`` having no say.

    ``ways`` are the variants where they are known. The variance is that by which was measured.
    """
    step = line.length_m / (len(line.station_m) - 1)
    shown = np.where(found.away, found.away_m, found.offset_m)
    if ways is None:
        least_m, merge_m = options.stretch_min_m, options.stretch_merge_m
        ways = find_ways(shown, tracks.ride, step, least_m, merge_m, tracks.receiver, found.span_m)
    left_out = left_out | ways.aside
    spread = _variance(tracks, line, found, left_out)
    kept_m = kept(found.offset_m, left_out)
    own = deviation(kept_m, shown, tracks.ride, step, spread.correlation)
    scale = receiver_scale(own, tracks.ride, tracks.receiver, spread.correlation)
    others = other_rides(np.isfinite(kept_m), tracks.ride)
    enter = chance_level(AWAY_SCALES, scale_dof(tracks, spread), 2.0)
    band = chance_level(options.settle_band, scale_dof(tracks, spread), 1.5)
    beside = Beside(
        deviation_m=own.deviation_m,
        scale_m=scale,
        allowed_m=np.where(others < 2, np.nan, band * scale),
        enter=enter,
        elsewhere=ways.aside,
        correlation=spread.correlation,
        reach_m=options.reach_m,
    )
    fixed, settling = fixes(
        tracks.witnesses, tracks.bundle, tracks.ride, line, station, found, beside, options
    )
    free = np.where(ways.aside, np.nan, own.deviation_m)
    for trace, stations in enumerate(settling):
        free[trace, :stations] = np.nan
    runs = find_runs(free, scale, step, options, tracks.receiver)
    went = partial(_was_ridden, tracks.bundle, line, found)
    runs = with_causes(runs, own.deviation_m, tracks.ride, _nothing_logged(found), step, went)
    runs = witnessed(runs, others)
    runs = _with_settling(runs, _settling_runs(settling, own, options, step), settling, options, step)
    runs = together(runs)
    mask = _left_out(runs, settling, ways, step)
    return Judged(
        tracks=tracks,
        line=line,
        point_station_m=station,
        found=found,
        ways=ways,
        deviation=own,
        fixes=tuple(fixed),
        runs=tuple(runs),
        settling=np.array(settling),
        left_out=mask,
        variance=spread,
    )


def _variance(tracks: Tracks, line: Line, found: Crossings, left_out: Bools) -> Variance:
    step, heading = line.length_m / (len(line.station_m) - 1), headings(line.x, line.y)
    return variance(found.offset_m, found.span_m, left_out, tracks.ride, tracks.receiver, heading, step)


def _was_ridden(bundle: Bundle, line: Line, found: Crossings, run: Run) -> bool:
    """Return whether the rider went where the trace went, by the way logged and the time it took."""
    way = bundle.way_xyt(run.trace)
    line_xy = np.column_stack([line.x, line.y])
    return way_was_ridden(run.first, run.last, line_xy, line.station_m, found.time_s[run.trace], way)


def _left_out(runs: Sequence[Run], settling: Sequence[int], ways: Ways, step_m: float) -> Bools:
    """Return which stations have no say: runs and variants with a margin, and settling phases; (T, S)."""
    margin = round(MARGIN_M / step_m)
    mask = as_mask(runs, ways.taken.shape, margin) | widened(ways.aside, margin)
    for trace, stations in enumerate(settling):
        mask[trace, :stations] = True
    return mask


def _without_shadows(rough: Judged) -> Bools:
    """Return what is left out after a first look: runs that only mirror a farther one keep their say."""
    shadows = set(mirrored(rough.runs, rough.deviation.deviation_m, rough.tracks.ride))
    runs = [run for run in rough.runs if run not in shadows]
    step = rough.line.length_m / (len(rough.line.station_m) - 1)
    return _left_out(runs, rough.settling.tolist(), rough.ways, step)


def scale_dof(tracks: Tracks, spread: Variance) -> float:
    """Return the degrees of freedom of the scale by which one ride is judged by the others (MAD: half).

    Parameters
    ----------
    tracks : Tracks
        For how many rides there are.
    spread : Variance
        For the correlation of errors along the route.

    Returns
    -------
    float
    """
    others = len(np.unique(tracks.ride)) - 2
    return 0.5 * max(others, 1) / spread.correlation.mean_square(0, len(spread.count))


def _settling_runs(settling: list[int], own: Deviation, options: Options, step_m: float) -> list[Run]:
    """Return the settling phases that are long enough to be seen as stretches of their own."""
    out = []
    for trace, stations in enumerate(settling):
        there = np.flatnonzero(np.isfinite(own.deviation_m[trace, :stations]))
        if len(there) * step_m >= options.stretch_min_m:
            side = 1 if np.nanmean(own.deviation_m[trace, there]) >= 0 else -1
            out.append(
                Run(trace=trace, first=int(there[0]), last=int(there[-1]), side=side, cause="settling")
            )
    return out


def _with_settling(
    runs: list[Run], phases: list[Run], settling: list[int], options: Options, step_m: float
) -> list[Run]:
    """Return phases of settling and runs; a run that follows a phase at once is its tail and joins it."""
    apart = round(options.stretch_merge_m / step_m)
    phase = {run.trace: run for run in phases}
    rest = []
    for run in runs:
        if settling[run.trace] == 0 or run.first - settling[run.trace] > apart:
            rest.append(run)
        else:
            phase[run.trace] = replace(phase.get(run.trace, run), last=run.last, cause="settling")
    return [phase[trace] for trace in sorted(phase)] + rest


def _nothing_logged(found: Crossings) -> Bools:
    """Return the stations between a trace's first and last crossing over which it logged nothing."""
    seen = np.isfinite(found.offset_m) | found.away
    before = np.maximum.accumulate(seen, axis=1)
    after = np.maximum.accumulate(seen[:, ::-1], axis=1)[:, ::-1]
    return ~seen & before & after


def _silent_points(bundle: Bundle, station_m: Floats, line: Line, left_out: Bools) -> Bools:
    """Return which points lie at stations that are left out, shape (P,)."""
    near = np.clip(np.searchsorted(line.station_m, np.nan_to_num(station_m)), 0, len(line.station_m) - 1)
    return np.isfinite(station_m) & left_out[bundle.owner, near]


def _carried(rough: Judged, line: Line) -> Bools:
    """Carry what was left out to the stations of a line that moved a little."""
    at = line.station_m * (rough.line.length_m / line.length_m)
    near = np.clip(np.searchsorted(rough.line.station_m, at), 0, rough.left_out.shape[1] - 1)
    return rough.left_out[:, near]
