"""The phases of an analysis, in order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from trackspread import __version__
from trackspread.geometry.consensus.lines import NoLine
from trackspread.model import (
    NOTHING,
    Analysis,
    Floats,
    Reason,
    ReferenceResult,
    RouteResult,
    Segment,
    Stretch,
    Witness,
)
from trackspread.options import Options
from trackspread.pipeline import figures
from trackspread.pipeline.claims import claimed_at
from trackspread.pipeline.comparison import comparison
from trackspread.pipeline.inputs import input_record, notes_on_inputs
from trackspread.pipeline.pairs_told import pairs_told
from trackspread.pipeline.remembered import first_line, judged_line
from trackspread.pipeline.route import Judged
from trackspread.pipeline.route_notes import notes_of
from trackspread.pipeline.shared_ways import with_shared_ways
from trackspread.pipeline.titles import given_title, name_of_route, titled
from trackspread.pipeline.trace_figures import trace_figures
from trackspread.pipeline.tracks import on_grid, with_rides_of
from trackspread.rides.clocks import with_companions
from trackspread.rides.duplicates import doubles_of
from trackspread.rides.routes import LEAST_LENGTH_M, order_of_routes
from trackspread.rides.sorting import sorted_into_routes
from trackspread.statistics.astray.events import events_of, is_elsewhere
from trackspread.statistics.film_list import film_entries
from trackspread.statistics.reference import NOT_BESIDE, NoReference, reference_offset, reference_results
from trackspread.statistics.spread import percentile_95, running
from trackspread.system.progress import Progress
from trackspread.system.workers import in_order

MANY_POINTS = 200_000
"""Below this, routes are done sooner than a worker has loaded what that needs."""
ONE_RECORDING = Reason("one_recording")


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class RouteWork:
    """What came of one route: its witnesses by number (with rides found on the way), doubles, result.

    Without a result, ``reason`` says why.
    """

    used: dict[int, Witness]
    doubles: dict[int, Reason]
    result: RouteResult | None
    reason: Reason = NOTHING


def analyse(
    witnesses: Sequence[Witness],
    options: Options,
    *,
    reference: tuple[tuple[Floats, Floats], ...] = (),
    created_s: float = 0.0,
    problems: tuple[str, ...] = (),
    progress: Progress | None = None,
    executor: Executor | None = None,
    cache: bool = False,
) -> Analysis:
    """Analyse witnesses: every route that at least two of them share.

    Parameters
    ----------
    witnesses : sequence of Witness
        Traces with who, when and which, in the order in which inputs are told.
    options : Options
        All thresholds.
    reference : tuple of (ndarray, ndarray), shape (V,) each
        Pieces of a surveyed or drawn line: longitude and latitude, degrees.
    created_s : float
        When the analysis is made, seconds UTC.
    problems : tuple of str
        What could not be read, to be told with the result.
    progress : callable, optional
        Hears a phase and the share of it that is done; what it raises stops the analysis.
    executor : Executor, optional
        Several large routes are analysed on it.
    cache : bool
        Whether what steps gave before is reused, and kept.

    Returns
    -------
    Analysis
        Without a route where no two traces share one; the inputs say why.

    Raises
    ------
    Cancelled
        If ``progress`` raises it.
    """
    tell = progress or (lambda phase, share: None)
    tell("Grouping", 0.0)
    every, groups = sorted_into_routes(witnesses, options.corridor_m, options.laps)
    tell("Grouping", 1.0)
    found: list[RouteWork] = []
    doubles: dict[int, Reason] = {}
    dissolved: dict[int, RouteWork] = {}
    chosen = [{i: every[i] for i in members} for members in groups.routes]
    for number, work in enumerate(_works(chosen, reference, options, tell, executor, cache)):
        doubles.update(work.doubles)
        if work.result is None:
            dissolved[number] = work
            continue
        for i, witness in work.used.items():
            every[i] = witness
        found.append(work)
    tell("Routes", 1.0)
    strays = groups.without({number: work.reason for number, work in dissolved.items()}) | doubles
    for work in dissolved.values():
        strays.update(dict.fromkeys(work.used, work.reason))
    routes, route_of = _named(found, every)
    routes = with_shared_ways(titled(routes, options.corridor_m), options.corridor_m)
    compared = comparison(routes, options)
    routes = pairs_told(routes, compared)
    inputs = tuple(input_record(w, route_of.get(i, ""), strays.get(i, NOTHING)) for i, w in enumerate(every))
    return Analysis(
        version=__version__,
        created_s=created_s,
        settings=options.as_dict(),
        inputs=inputs,
        routes=routes,
        problems=problems,
        notes=notes_on_inputs(inputs, bool(groups.routes)),
        comparison=compared,
    )


def _works(
    routes: Sequence[dict[int, Witness]], reference: tuple[tuple[Floats, Floats], ...], options: Options,
    tell: Progress, executor: Executor | None, cache: bool,
) -> Iterator[RouteWork]:  # fmt: skip
    """Yield what comes of each route, in order, and tell the share of all that is done."""

    def told(number: int, share: float) -> None:
        tell("Routes", (number + share) / len(routes))

    points = sum(len(witness.trace.lon_deg) for members in routes for witness in members.values())
    if executor is None or len(routes) < 2 or points < MANY_POINTS:
        for number, members in enumerate(routes):
            yield _work(members, reference, options, partial(told, number), cache)
        return
    told(0, 0.0)
    jobs = [partial(_work, members, reference, options, _untold, cache) for members in routes]
    for number, work in enumerate(in_order(executor, jobs, ahead=8, each=1)):
        told(number, 1.0)
        yield work


def _untold(share: float) -> None:
    """Tell nobody."""


def _work(
    members: dict[int, Witness], reference: tuple[tuple[Floats, Floats], ...], options: Options,
    tell: Callable[[float], None], cache: bool,
) -> RouteWork:  # fmt: skip
    """Return what comes of one route, also where it has no line to work with."""
    tell(0.0)
    try:
        return analyse_route(members, reference, options, tell, cache)
    except NoLine as error:
        return RouteWork(used=members, doubles={}, result=None, reason=error.reason)


def analyse_route(
    members: dict[int, Witness],
    reference: tuple[tuple[Floats, Floats], ...],
    options: Options,
    tell: Callable[[float], None],
    cache: bool = False,
) -> RouteWork:
    """Analyse one route.

    Parameters
    ----------
    members : dict of int to Witness
        The traces sorted into the route, by their number among all.
    reference : tuple of (ndarray, ndarray), shape (V,) each
        Pieces of a reference line: longitude and latitude, degrees.
    options : Options
        All thresholds.
    tell : callable
        Hears the share of the route's time that is gone, and may raise to stop.
    cache : bool
        Whether what steps gave before is reused, and kept.

    Returns
    -------
    RouteWork

    Raises
    ------
    NoLine
        The traces have no line in common.
    """
    tracks = on_grid(tuple(members.values()), options)
    tell(0.02)
    line, station, found = first_line(tracks, options, cache)
    tell(0.6)
    doubles = doubles_of(members, line, found)
    used = {i: w for i, w in members.items() if i not in doubles}
    if len(used) < 2:
        return RouteWork(used=used, doubles=doubles, result=None, reason=ONE_RECORDING)
    if line.length_m < LEAST_LENGTH_M:
        short = Reason.of("too_short", length_m=line.length_m, least_m=LEAST_LENGTH_M)
        return RouteWork(used=used, doubles=doubles, result=None, reason=short)
    if doubles:
        tracks = on_grid(tuple(used.values()), options)
        line, station, found = first_line(tracks, options, cache)
    used, doubts = with_companions(used, line, found, tracks.ride)
    tracks = with_rides_of(tracks, tuple(used.values()))
    judged = judged_line(tracks, line, station, found, options, cache)
    tell(0.93)
    result = route_result(judged, reference, options)
    return RouteWork(used=used, doubles=doubles, result=replace(result, notes=(*result.notes, *doubts)))


def route_result(
    judged: Judged, reference: tuple[tuple[Floats, Floats], ...], options: Options
) -> RouteResult:
    """Gather all figures of a judged route.

    Parameters
    ----------
    judged : Judged
        See `judge`.
    reference : tuple of (ndarray, ndarray), shape (V,) each
        Pieces of a reference line: longitude and latitude, degrees.
    options : Options
        All thresholds.

    Returns
    -------
    RouteResult
        Without a name and a title: the other routes decide on these.
    """
    line, tracks, found = judged.line, judged.tracks, judged.found
    lon, lat = tracks.grid.inverse(line.x, line.y)
    shown = figures.every_offset_m(judged)
    spread, low, high = running(judged.variance, options.segment_m, options.confidence)
    segments = figures.segments(judged, options)
    stretches, variants = figures.stretches(judged), figures.variants(judged)
    correlation_m = judged.variance.correlation.length_m()
    of_all = figures.spreads(judged, np.arange(len(tracks.witnesses)), options)
    traces = trace_figures(judged)
    return RouteResult(
        name="",
        length_m=line.length_m,
        proj4=tracks.grid.proj4,
        scale_error_ppm=tracks.grid.scale_error_ppm(lon, lat),
        station_step_m=judged.variance.correlation.step_m,
        station_m=line.station_m,
        lon_deg=lon,
        lat_deg=lat,
        offset_m=shown,
        deviation_m=judged.deviation.deviation_m,
        crossing_s=found.time_s,
        in_stretch=judged.left_out,
        station_spread_m=spread,
        station_low_m=low,
        station_high_m=high,
        spread=of_all[0],
        spread_all=of_all[1],
        p95_m=percentile_95(figures.residual_m(judged), judged.variance.count),
        correlation_length_m=correlation_m,
        traces=traces,
        segments=segments,
        stretches=stretches,
        receivers=figures.receivers(judged, options, of_all),
        pairs=figures.pairs(judged, options),
        references=_references(judged, stretches, segments, reference, options),
        film=film_entries(segments, line.station_m, lon, lat, stretches, variants),
        notes=notes_of(judged),
        variants=variants,
        events=events_of(stretches),
        variant=judged.ways.taken,
        claim_m=claimed_at(traces, tracks.witnesses, line.station_m, shown),
    )


def _references(
    judged: Judged,
    stretches: Sequence[Stretch],
    segments: Sequence[Segment],
    reference: tuple[tuple[Floats, Floats], ...],
    options: Options,
) -> tuple[ReferenceResult, ...]:
    """Return the accuracy of every receiver, where a reference line runs beside the route."""
    if not reference:
        return ()
    on_line = [judged.tracks.grid.forward(lon, lat) for lon, lat in reference]
    why_not = NOT_BESIDE
    try:
        offset = reference_offset(judged.line, on_line, options)
    except NoReference as error:
        offset, why_not = np.full(len(judged.line.station_m), np.nan), error.reason
    elsewhere = judged.ways.aside
    for stretch in stretches:
        if is_elsewhere(stretch.cause, stretch.peak_m):
            part = (judged.line.station_m >= stretch.from_m) & (judged.line.station_m <= stretch.to_m)
            elsewhere[stretch.number] |= part
    edges = np.array([segments[0].from_m, *(segment.to_m for segment in segments)])
    return reference_results(
        judged.line.station_m,
        judged.found.offset_m,
        elsewhere,
        [w.receiver for w in judged.tracks.witnesses],
        offset,
        edges,
        options,
        judged.variance.correlation.heading_rad,
        why_not,
    )


def _named(
    found: list[RouteWork], every: Sequence[Witness]
) -> tuple[tuple[RouteResult, ...], dict[int, str]]:
    """Name the routes, that with most traces first, then that ridden first; say which trace is on which."""
    traces = [w.trace for w in every]
    ordered = sorted(found, key=lambda work: order_of_routes(traces, tuple(work.used)))
    routes, route_of = list[RouteResult](), dict[int, str]()
    for work in ordered:
        if work.result is not None:
            routes.append(
                replace(work.result, name=name_of_route(len(routes)), title=given_title(work.used.values()))
            )
            route_of.update(dict.fromkeys(work.used, routes[-1].name))
    return tuple(routes), route_of
