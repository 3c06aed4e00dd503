"""Cut one route: stations, points, segments, stretches and fixes near the places that must not be told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trackspread import model as m
from trackspread.geometry.discs import Disc, geocentric
from trackspread.numeric.means import about_mean
from trackspread.numeric.runs import runs
from trackspread.options import Options
from trackspread.pipeline.tracks import ride_numbers
from trackspread.publish.recomputed import pairs_of_the_rest, receivers_of_the_rest, spread_of_the_rest
from trackspread.statistics.astray.events import events_of
from trackspread.statistics.film_list import film_entries
from trackspread.statistics.segments import astray_masks, astray_of, edges_of, present, widest_m
from trackspread.statistics.spread import percentile_95
from trackspread.statistics.verdicts import verdict_of

NAN = float("nan")
WITHHELD = m.Reason("withheld_start")
TELL_A_PLACE = ("came_another_way", "met_the_others")
"""Reasons whose values are stations from the start of the route."""
NOTES_OF_PLACES = ("cover_little", "shared_way", "went_aside")  # they tell lengths of the uncut route
NO_GRID = "withheld: its centre would tell where the route lies"


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Cover:
    """The discs that bear on one route, and the least lengths to cut along the line."""

    discs: Sequence[Disc]
    start_m: float
    end_m: float


def on_line(route: m.RouteResult, trace: m.TraceResult, reach_m: float) -> m.Bools:
    """Return which points lie within reach of the centreline at their own station, shape (P,).

    Parameters
    ----------
    route : RouteResult
    trace : TraceResult
        P points.
    reach_m : float
        Metres, in space.

    Returns
    -------
    ndarray of bool, shape (P,)
        False where a point has no station.
    """
    known = np.isfinite(trace.station_m)
    line = geocentric(route.lon_deg, route.lat_deg)
    at = np.where(known, trace.station_m, 0.0)
    foot = np.stack([np.interp(at, route.station_m, axis) for axis in line.T], axis=1)
    apart = np.linalg.norm(geocentric(trace.lon_deg, trace.lat_deg) - foot, axis=1)
    return np.asarray(known & (apart <= reach_m))


def cut_route(route: m.RouteResult, cover: Cover, options: Options) -> list[m.RouteResult]:
    """Return what is left of a route, one record for each piece of centreline, in order of travel.

    Pieces shorter than a segment are left out.

    Parameters
    ----------
    route : RouteResult
    cover : Cover
    options : Options
        Those of the analysis; segments are laid and rated anew by them.

    Returns
    -------
    list of RouteResult
        Named ``…, part 1``, ``…, part 2`` where there are several; empty where nothing is left.
    """
    line = geocentric(route.lon_deg, route.lat_deg)
    kept = (route.station_m >= cover.start_m) & (route.station_m <= route.station_m[-1] - cover.end_m)
    for disc in cover.discs:
        kept &= ~disc.holds(line)
    station_m = route.station_m
    spans = [(a, b) for a, b in runs(kept) if station_m[b] - station_m[a] >= options.segment_m]
    if not spans:
        return []
    (first, _), (_, last) = spans[0], spans[-1]
    start_m, end_m = float(station_m[first]), float(station_m[-1] - station_m[last])
    hidden = _hidden_stations(route, options.reach_m, start_m, end_m)
    made = [_piece(route, cover, hidden, int(a), int(b), options) for a, b in spans]
    pieces = [piece for piece in made if piece is not None]
    if len(pieces) < 2:
        return pieces
    return [replace(piece, name=f"{route.name}, part {n}") for n, piece in enumerate(pieces, 1)]


def _piece(
    route: m.RouteResult, cover: Cover, every: m.Bools, first: int, last: int, options: Options
) -> m.RouteResult | None:
    """Return the stations ``first`` to ``last`` as a route of its own, or None where nothing is shared."""
    part = slice(first, last + 1)
    zero_m = float(route.station_m[first])
    hidden = every[:, part]
    cut = [
        _cut_trace(route, trace, cover, first, last, hidden[trace.number], options) for trace in route.traces
    ]
    rows = [trace.number for trace in cut if trace is not None]
    if len(rows) < 2:
        return None
    number = {old: new for new, old in enumerate(rows)}
    blank = hidden[rows]

    def columns(array: m.Floats) -> m.Floats:
        return np.where(blank, np.nan, array[rows][:, part])

    offset = columns(route.offset_m)
    stretches = [
        replace(s, number=number[s.number], from_m=s.from_m - zero_m, to_m=s.to_m - zero_m)
        for s in route.stretches
        if s.number in number
        and _inside(route, s, first, last)
        and not _meets(route, s, hidden[s.number], part)
    ]
    variants = _variants(route, every, rows, first, last)
    traces = [
        replace(
            trace,
            number=number[trace.number],
            coverage=float(np.isfinite(offset[number[trace.number]]).mean()),
        )
        for trace in cut
        if trace is not None
    ]
    seen = np.zeros(every.shape[1], dtype=bool)
    seen[part] = True
    spread, low, high = spread_of_the_rest(route, every & seen, options.segment_m)
    piece = replace(
        route,
        length_m=float(route.station_m[last]) - zero_m,
        proj4=NO_GRID,
        scale_error_ppm=NAN,
        station_m=route.station_m[part] - zero_m,
        lon_deg=route.lon_deg[part],
        lat_deg=route.lat_deg[part],
        offset_m=offset,
        deviation_m=columns(route.deviation_m),
        crossing_s=columns(route.crossing_s),
        claim_m=columns(route.claim_m) if route.claim_m.shape == route.offset_m.shape else route.claim_m,
        in_stretch=route.in_stretch[rows][:, part] & ~blank,
        station_spread_m=spread[part],
        station_low_m=low[part],
        station_high_m=high[part],
        traces=tuple(traces),
        stretches=tuple(stretches),
        events=events_of(stretches),
        variants=tuple(variants.values()),
        variant=_taken(route, rows, part, list(variants)),
        pairs=pairs_of_the_rest(route, every, part),
        notes=tuple(note for note in route.notes if note.code not in NOTES_OF_PLACES),
    )
    return _with_figures(piece, options)


def _variants(
    route: m.RouteResult, every: m.Bools, rows: list[int], first: int, last: int
) -> dict[int, m.Variant]:
    """Return the variants, by number, that lie in a piece whole, with the files that are left of them."""
    if route.variant.shape != route.offset_m.shape:
        return {}
    zero_m = float(route.station_m[first])
    kept = {}
    for number, variant in enumerate(route.variants, 1):
        taken = route.variant == number
        whole = _inside(route, variant, first, last) and not (taken & every).any()
        if not whole or not taken[rows].any():
            continue
        aboard = [trace for trace in route.traces if trace.number in rows and taken[trace.number].any()]
        kept[number] = replace(
            variant,
            from_m=variant.from_m - zero_m,
            to_m=variant.to_m - zero_m,
            files=tuple(dict.fromkeys(trace.file for trace in aboard)),
            rides=tuple(dict.fromkeys(trace.ride for trace in aboard)),
        )
    return kept


def _taken(route: m.RouteResult, rows: list[int], part: slice, kept: list[int]) -> m.Ints:
    """Return which of the ``kept`` variants each trace of a piece takes where."""
    if route.variant.shape != route.offset_m.shape:
        return route.variant
    new = np.zeros(len(route.variants) + 1, dtype=np.int64)
    new[kept] = np.arange(1, len(kept) + 1)
    return np.asarray(new[route.variant[rows][:, part]])


def _with_figures(piece: m.RouteResult, options: Options) -> m.RouteResult:
    """Return a piece with the figures of its segments and receivers, found anew from what it still holds."""
    segments = _segments(piece, options)
    blank_figures = np.full(len(segments), np.nan)
    return replace(
        piece,
        segments=segments,
        receivers=receivers_of_the_rest(piece),
        film=film_entries(
            segments, piece.station_m, piece.lon_deg, piece.lat_deg, piece.stretches, piece.variants
        ),
        references=tuple(
            replace(reference, segment_bias_m=blank_figures, segment_rmse_m=blank_figures)
            for reference in piece.references
        ),
    )


def _hidden_stations(route: m.RouteResult, reach_m: float, start_m: float, end_m: float) -> m.Bools:
    """Return which stations are hidden for single traces, shape (T, S).

    Each begins as far from its own first point on the line as the route from its own, and ends likewise.
    Any other length would tell, with the seconds of the first fix, how far the door is from what is shown.
    """
    station = route.station_m
    hidden = np.zeros(route.offset_m.shape, dtype=bool)
    for trace in route.traces:
        at = trace.station_m[on_line(route, trace, reach_m)]
        if len(at):
            hidden[trace.number] = (station < at.min() + start_m) | (station > at.max() - end_m)
    return hidden


def _inside(route: m.RouteResult, span: m.Stretch | m.Gap | m.Variant, first: int, last: int) -> bool:
    return bool(span.from_m >= route.station_m[first] and span.to_m <= route.station_m[last])


def _meets(route: m.RouteResult, span: m.Stretch | m.Gap, hidden: m.Bools, part: slice) -> bool:
    station = route.station_m[part]
    return bool(hidden[(station >= span.from_m) & (station <= span.to_m)].any())


# --- one trace ---------------------------------------------------------------------------------------


def _cut_trace(
    route: m.RouteResult, trace: m.TraceResult, cover: Cover, first: int, last: int, hidden: m.Bools,
    options: Options,
) -> m.TraceResult | None:  # fmt: skip
    """Return what is left of a trace, its number unchanged, or None where fewer than two points are."""
    from_m = float(route.station_m[first])
    part = slice(first, last + 1)
    near = on_line(route, trace, options.reach_m)
    shown = route.station_m[part][~hidden]
    if not len(shown):
        return None
    within = near & (trace.station_m >= shown[0]) & (trace.station_m <= shown[-1])
    if not within.any():
        return None
    between = np.zeros(len(near), dtype=bool)
    between[np.flatnonzero(within)[0] : np.flatnonzero(within)[-1] + 1] = True
    keep = between & (within | ~near)
    places = geocentric(trace.lon_deg, trace.lat_deg)
    for disc in cover.discs:
        keep &= ~disc.holds(places)
    offset_left = route.offset_m[trace.number, part][~hidden]
    if keep.sum() < 2 or not np.isfinite(offset_left).any():
        return None
    broken = trace.break_before[keep] | (np.diff(np.flatnonzero(keep), prepend=-2) > 1)
    steps = np.linalg.norm(np.diff(places[keep], axis=0), axis=1)
    return replace(
        trace,
        first_fix=_cut_first(trace.first_fix),
        settled_fix=_cut_settled(trace.settled_fix, float(shown[0])),
        recorded_length_m=float(steps[~broken[1:]].sum()),
        gaps=tuple(
            replace(gap, from_m=gap.from_m - from_m, to_m=gap.to_m - from_m)
            for gap in trace.gaps
            if _inside(route, gap, first, last) and not _meets(route, gap, hidden, part)
        ),
        lon_deg=trace.lon_deg[keep],
        lat_deg=trace.lat_deg[keep],
        time_s=trace.time_s[keep],
        station_m=np.where(near, trace.station_m - from_m, np.nan)[keep],
        break_before=broken,
    )


def _withheld(reason: m.Reason) -> m.Reason:
    """Return why a fix has no place; where a trace met the route counts from the start, and is left out."""
    kept = [m.Reason(one.code) if one.code in TELL_A_PLACE else one for one in reason]
    return sum([*kept, WITHHELD], start=m.NOTHING)


def _cut_first(fix: m.FirstFix) -> m.FirstFix:
    reason = _withheld(fix.reason)
    return replace(fix, at_station_m=NAN, missing_m=NAN, lower_bound_s=NAN, reason=reason)


def _cut_settled(fix: m.SettledFix, seen_from_m: float) -> m.SettledFix:
    """Take the place away, and the seconds too where the place is in view: they tell how far the start is."""
    in_view = math.isfinite(fix.at_station_m) and fix.at_station_m >= seen_from_m
    value_s = NAN if in_view else fix.value_s
    return replace(fix, at_station_m=NAN, value_s=value_s, reason=_withheld(fix.reason))


# --- segments laid anew ------------------------------------------------------------------------------


def _segments(piece: m.RouteResult, options: Options) -> tuple[m.Segment, ...]:
    """Lay segments from the new first station on: kept where they were, their ends would tell the cut.

    Spread and interval are those that the whole analysis has in a window of one segment around the middle.
    """
    station = piece.station_m
    bounds, edges = edges_of(station, options.segment_m)
    masks = astray_masks(piece.stretches, station, len(piece.offset_m), options)
    used = piece.kept_offset_m()
    several = np.isfinite(used).sum(axis=0)
    residual = about_mean(used)
    ends_m, ends = bounds.tolist(), edges.tolist()
    spans = zip(ends_m, ends_m[1:], ends, ends[1:], strict=False)
    return tuple(_segment(piece, residual, several, masks, *span, options) for span in spans)


def _segment(
    piece: m.RouteResult, residual_m: m.Floats, several: m.Ints, masks: tuple[m.Bools, m.Bools],
    from_m: float, to_m: float, first: int, end: int, options: Options,
) -> m.Segment:  # fmt: skip
    part, middle = slice(first, end), (first + end) // 2
    known = np.isfinite(piece.offset_m[:, part])
    across = (piece.station_spread_m, piece.station_low_m, piece.station_high_m)
    value, low, high = (float(values[middle]) for values in across)
    reason = m.NOTHING if math.isfinite(value) else m.Reason("one_ride_here")
    spread = m.Estimate(value=value, low=low, high=high, reason=reason)
    traces = present(known)
    ride = ride_numbers(trace.ride for trace in piece.traces)
    some, far = (mask[:, part] for mask in masks)
    astray = astray_of(some, far, known, ride, [trace.file for trace in piece.traces])
    verdict, reasons = verdict_of(traces, spread, astray, options)
    return m.Segment(
        from_m=from_m,
        to_m=to_m,
        traces=traces,
        spread=spread,
        p95_m=percentile_95(residual_m[:, part], several[part]),
        widest_m=widest_m(piece.offset_m[:, part]),
        coverage=float(known.mean()),
        verdict=verdict,
        reasons=reasons,
    )
