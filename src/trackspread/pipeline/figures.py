"""From a judged route to the records that reports show."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from trackspread.model import (
    Bools,
    Estimate,
    Floats,
    Ints,
    PairResult,
    ReceiverResult,
    Segment,
    SegmentReceiver,
    Stretch,
    Variant,
)
from trackspread.model.arrays import kept
from trackspread.numeric.means import about_mean
from trackspread.options import Options
from trackspread.pairs.compare import pair_results
from trackspread.pipeline.claims import claim_code, claim_of, claim_over
from trackspread.pipeline.route import Judged
from trackspread.rides.colours import UNKNOWN
from trackspread.statistics.astray.events import is_elsewhere
from trackspread.statistics.astray.stretches import as_mask
from trackspread.statistics.first_fix import approached_to_m, median_fix
from trackspread.statistics.segments import astray_masks, astray_of, edges_of, present, widest_m
from trackspread.statistics.spread import Variance, of_route, percentile_95, pooled, variance
from trackspread.statistics.verdicts import verdict_of

Spreads = tuple[Estimate, Estimate]
"""Of what is kept, and of all errors."""


def residual_m(judged: Judged) -> Floats:
    """Return the residuals: offsets less their mean across traces, NaN where they are left out.

    Parameters
    ----------
    judged : Judged
        See `judge`.

    Returns
    -------
    ndarray, shape (T, S)
        Metres.
    """
    return about_mean(kept(judged.found.offset_m, judged.left_out))


def every_offset_m(judged: Judged) -> Floats:
    """Return all offsets, of ways out of reach too.

    Parameters
    ----------
    judged : Judged
        See `judge`.

    Returns
    -------
    ndarray, shape (T, S)
        Metres, NaN where nothing was logged.
    """
    return np.where(judged.found.away, judged.found.away_m, judged.found.offset_m)


def _went_elsewhere(judged: Judged) -> Bools:
    """Return where the rider took another way, which is no error, shape (T, S).

    By a variant, by a stretch (`is_elsewhere`), and before an approach met the route (`approached_to_m`).
    """
    met_m = np.array([approached_to_m(first) for first, _ in judged.fixes])
    away_m = np.abs(judged.deviation.deviation_m)
    peak_m = [float(np.nanmax(away_m[run.trace, run.first : run.last + 1])) for run in judged.runs]
    elsewhere = [run for run, peak in zip(judged.runs, peak_m, strict=True) if is_elsewhere(run.cause, peak)]
    before = judged.line.station_m < met_m[:, None]
    return as_mask(elsewhere, judged.found.offset_m.shape) | judged.ways.aside | before


def spreads(judged: Judged, rows: Ints, options: Options) -> Spreads:
    """Return the spread of what is kept and that of all errors, of some of the traces.

    Of all errors nothing is left out but where the rider went elsewhere.

    Parameters
    ----------
    judged : Judged
        See `judge`.
    rows : ndarray of int, shape (R,)
        Numbers of the traces.
    options : Options
        For the confidence of the intervals.

    Returns
    -------
    kept, every : Estimate
        Metres.
    """
    every = _variance(judged, rows, every_offset_m(judged), _went_elsewhere(judged))
    kept_only = of_route(_kept_variance(judged, rows), options.confidence)
    return kept_only, of_route(every, options.confidence, bursts=True)


def _kept_variance(judged: Judged, rows: Ints) -> Variance:
    if len(rows) == len(judged.tracks.witnesses):
        return judged.variance
    return _variance(judged, rows, judged.found.offset_m, judged.left_out)


def _variance(judged: Judged, rows: Ints, offset_m: Floats, left_out: Bools) -> Variance:
    tracks, along = judged.tracks, judged.variance.correlation
    return variance(
        offset_m[rows], judged.found.span_m[rows], left_out[rows], tracks.ride[rows], tracks.receiver[rows],
        along.heading_rad, along.step_m,
    )  # fmt: skip


def segments(judged: Judged, options: Options) -> tuple[Segment, ...]:
    """Return figures and verdict of every segment, for all traces and for those of each receiver.

    Parameters
    ----------
    judged : Judged
        See `judge`.
    options : Options
        For the length of segments and the thresholds of verdicts.

    Returns
    -------
    tuple of Segment
        In order of station.
    """
    station, left = judged.line.station_m, residual_m(judged)
    bounds, edges = edges_of(station, options.segment_m)
    masks = astray_masks(stretches(judged), station, len(left), options)
    shown = np.where(judged.ways.taken > 0, np.nan, every_offset_m(judged))
    spreads = _pooled(judged.variance, edges, options.confidence)
    own = {
        number: spreads if its is judged.variance else _pooled(its, edges, options.confidence)
        for number, its in _of_receivers(judged).items()
    }
    return tuple(
        _segment(
            judged, left, shown, masks, (spreads[n], {number: each[n] for number, each in own.items()}),
            (float(bounds[n]), float(bounds[n + 1])), slice(a, b), options,
        )
        for n, (a, b) in enumerate(pairwise(edges.tolist()))
    )  # fmt: skip


def _segment(
    judged: Judged, left: Floats, shown: Floats, masks: tuple[Bools, Bools],
    spreads: tuple[Estimate, dict[int, Estimate]], span_m: tuple[float, float], part: slice, options: Options,
) -> Segment:  # fmt: skip
    """Return a segment; ``spreads`` are that of all traces and those of each receiver by its number."""
    spread, own = spreads
    every = shown[:, part]
    known = np.isfinite(every)
    some, far = (mask[:, part] for mask in masks)
    names = [w.trace.file for w in judged.tracks.witnesses]
    verdict, reasons = verdict_of(
        present(known), spread, astray_of(some, far, known, judged.tracks.ride, names), options
    )
    receivers = []
    for number, its in own.items():
        mine = judged.tracks.receiver == number
        if not known[mine].any():
            continue
        astray = astray_of(
            some[mine], far[mine], known[mine], judged.tracks.ride[mine], [""] * int(mine.sum())
        )
        said, _ = verdict_of(present(known[mine]), its, astray, options)
        name = judged.tracks.witnesses[int(np.flatnonzero(mine)[0])].receiver
        receivers.append(SegmentReceiver(receiver=name, spread=its, verdict=said))
    return Segment(
        from_m=span_m[0],
        to_m=span_m[1],
        traces=present(known),
        spread=spread,
        p95_m=percentile_95(left[:, part], judged.variance.count[part]),
        widest_m=widest_m(every),
        coverage=float(known.mean()),
        verdict=verdict,
        reasons=reasons,
        receivers=tuple(receivers),
    )


def _pooled(spread: Variance, edges: Ints, confidence: float) -> list[Estimate]:
    """Return the spread of every segment between two edges (stations)."""
    shared = spread.correlation.mean_squares(edges[:-1], edges[1:]).tolist()
    return [
        pooled(spread, first, end, confidence, worth)
        for (first, end), worth in zip(pairwise(edges.tolist()), shared, strict=True)
    ]


def _of_receivers(judged: Judged) -> dict[int, Variance]:
    """Return the variance across the traces of each receiver, by its number."""
    receiver = judged.tracks.receiver
    return {int(k): _kept_variance(judged, np.flatnonzero(receiver == k)) for k in np.unique(receiver)}


def stretches(judged: Judged) -> tuple[Stretch, ...]:
    """Return the stretches as records.

    Parameters
    ----------
    judged : Judged
        See `judge`.

    Returns
    -------
    tuple of Stretch
        In order of trace and station.
    """
    out = []
    for run in sorted(judged.runs, key=lambda r: (r.trace, r.first)):
        part = slice(run.first, run.last + 1)
        off = judged.deviation.deviation_m[run.trace, part]
        time = judged.found.time_s[run.trace, part]
        time = time[np.isfinite(time)]
        trace = judged.tracks.witnesses[run.trace]
        out.append(
            Stretch(
                number=run.trace,
                file=trace.trace.file,
                receiver=trace.receiver,
                ride=trace.ride,
                from_m=float(judged.line.station_m[run.first]),
                to_m=float(judged.line.station_m[run.last]),
                peak_m=float(np.nanmax(np.abs(off))),
                mean_m=float(np.nanmean(np.abs(off))),
                side="right" if run.side > 0 else "left",
                seconds=float(time[-1] - time[0]) if len(time) else float("nan"),
                start_time_s=float(time[0]) if len(time) else float("nan"),
                cause=run.cause,
            )
        )
    return tuple(out)


def variants(judged: Judged) -> tuple[Variant, ...]:
    """Return the variants as records.

    Parameters
    ----------
    judged : Judged
        See `judge`.

    Returns
    -------
    tuple of Variant
        In order of station.
    """
    aboard, station = judged.tracks.witnesses, judged.line.station_m
    return tuple(
        Variant(
            name=f"Variant {number}",
            from_m=float(station[way.first]),
            to_m=float(station[way.last]),
            files=tuple(dict.fromkeys(aboard[trace].trace.file for trace in way.traces)),
            rides=tuple(dict.fromkeys(aboard[trace].ride for trace in way.traces)),
            aside_m=way.aside_m,
        )
        for number, way in enumerate(judged.ways.found, 1)
    )


def pairs(judged: Judged, options: Options) -> tuple[PairResult, ...]:
    """Return the figures of every two receivers that were ridden together.

    Parameters
    ----------
    judged : Judged
        See `judge`.
    options : Options
        For the confidence of the intervals.

    Returns
    -------
    tuple of PairResult
    """
    witnesses, found, correlation = judged.tracks.witnesses, judged.found, judged.variance.correlation
    names = ["" if witness.receiver == UNKNOWN else witness.receiver for witness in witnesses]
    rides = [witness.ride for witness in witnesses]
    return pair_results(
        judged.line.station_m, found.offset_m, kept(judged.deviation.deviation_m, _went_elsewhere(judged)),
        found.time_s, judged.left_out, names, rides, options, correlation.length_m(), correlation.heading_rad,
    )  # fmt: skip


def receivers(judged: Judged, options: Options, of_all: Spreads | None = None) -> tuple[ReceiverResult, ...]:
    """Return the figures of each receiver over its rides; unknown ones are never pooled into one.

    Parameters
    ----------
    judged : Judged
        See `judge`.
    options : Options
    of_all : (Estimate, Estimate), optional
        `spreads` of all traces, where they are known: those of a receiver that is alone.

    Returns
    -------
    tuple of ReceiverResult
        By name.
    """
    told = (_receiver(judged, number, options, of_all) for number in np.unique(judged.tracks.receiver))
    return tuple(receiver for receiver in told if receiver.receiver != UNKNOWN)


def _receiver(judged: Judged, number: int, options: Options, of_all: Spreads | None) -> ReceiverResult:
    mine = np.flatnonzero(judged.tracks.receiver == number)
    found, ride = judged.found, judged.tracks.ride[mine]
    alone = len(mine) == len(judged.tracks.witnesses)
    spread, spread_all = of_all if of_all and alone else spreads(judged, mine, options)
    first = [judged.fixes[i][0] for i in mine]
    settled = [judged.fixes[i][1] for i in mine]
    known = np.isfinite(found.offset_m[mine]) | found.away[mine]
    torn = [r for r in judged.runs if r.trace in mine and r.cause != "settling"]
    share = sum(r.last - r.first + 1 for r in torn) / max(int(known.sum()), 1)
    held_together = bool(np.isfinite(judged.deviation.scale_m).any())
    never = sum(1 for s, f in zip(settled, first, strict=True) if s.censored and np.isfinite(f.value_s))
    claims = claim_over([claim_of(judged.tracks.witnesses[i].trace.claims.accuracy_m) for i in mine])
    return ReceiverResult(
        receiver=judged.tracks.witnesses[mine[0]].receiver,
        rides=len(np.unique(ride)),
        spread=spread,
        spread_all=spread_all,
        first_fix_s=median_fix([f.value_s for f in first], 0, options.confidence, first[0].reason),
        settled_fix_s=median_fix([s.value_s for s in settled], never, options.confidence, settled[0].reason),
        stretch_share=share if held_together else float("nan"),
        claimed_m=claims,
        claim=claim_code(claims, spread_all),
    )
