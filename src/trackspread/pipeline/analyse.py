"""The phases of an analysis, in order."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from trackspread import __version__
from trackspread.core.intervals import sd_factors
from trackspread.model import Analysis, Floats, InputRecord, RouteResult, Witness
from trackspread.options import Options
from trackspread.pipeline import figures
from trackspread.pipeline.grouping import Grouping, grouped
from trackspread.pipeline.route import Judged, first_centreline, judge, on_grid
from trackspread.statistics.film_list import film_entries
from trackspread.statistics.pairs import pair_results
from trackspread.statistics.spread import percentile_95, pooled, running
from trackspread.statistics.witnesses import same_recording

Progress = Callable[[str, float], None]


def analyse(
    witnesses: Sequence[Witness],
    options: Options,
    *,
    created_s: float = 0.0,
    problems: tuple[str, ...] = (),
    progress: Progress | None = None,
) -> Analysis:
    """Analyse witnesses: every route that at least two of them share."""
    tell = progress or (lambda phase, share: None)
    tell("Grouping", 0.0)
    groups = grouped([w.trace for w in witnesses], options.corridor_m)
    routes: list[RouteResult] = []
    route_of: dict[int, str] = {}
    strays = dict(groups.strays)
    for number, members in enumerate(groups.routes):
        tell("Routes", number / len(groups.routes))
        name = _name(number)
        kept, doubles, route = analyse_route(members, witnesses, name, options)
        strays.update(doubles)
        if route is None:
            strays.update(dict.fromkeys(kept, "its only companion on this route is the same recording"))
            continue
        routes.append(route)
        route_of.update(dict.fromkeys(kept, name))
    tell("Routes", 1.0)
    return Analysis(
        version=__version__,
        created_s=created_s,
        settings=options.as_dict(),
        inputs=tuple(_input(w, route_of.get(i, ""), strays.get(i, "")) for i, w in enumerate(witnesses)),
        routes=tuple(routes),
        problems=problems,
        notes=_notes(groups),
    )


def analyse_route(
    members: tuple[int, ...], witnesses: Sequence[Witness], name: str, options: Options
) -> tuple[list[int], dict[int, str], RouteResult | None]:
    """Analyse one route; return who was used, who was set aside and why, and the result."""
    tracks = on_grid(tuple(witnesses[i] for i in members), options)
    line, station, found = first_centreline(tracks, options)
    points = [np.column_stack([w.trace.lon_deg, w.trace.lat_deg]) for w in tracks.witnesses]
    label = same_recording(line.station_m, found.offset_m, found.time_s, points)
    first_of: dict[int, int] = {}
    for place, number in enumerate(label):
        first_of.setdefault(int(number), place)
    kept = [members[place] for place in sorted(first_of.values())]
    doubles = {
        members[place]: f"the same recording as {witnesses[members[first_of[int(number)]]].trace.file}"
        for place, number in enumerate(label)
        if first_of[int(number)] != place
    }
    if len(kept) < 2:
        return kept, doubles, None
    if doubles:
        tracks = on_grid(tuple(witnesses[i] for i in kept), options)
        line, station, found = first_centreline(tracks, options)
    return kept, doubles, route_result(judge(tracks, line, station, found, options), name, options)


def route_result(judged: Judged, name: str, options: Options) -> RouteResult:
    """Gather all figures of a judged route."""
    line, tracks, found = judged.line, judged.tracks, judged.found
    lon, lat = tracks.grid.inverse(line.x, line.y)
    shown = np.where(found.away, found.away_m, found.offset_m)
    spread, low, high = running(judged.variance, options.segment_m, options.confidence)
    segments = figures.segments(judged, options)
    stretches = figures.stretches(judged)
    correlation_m = judged.variance.correlation.length_m()
    return RouteResult(
        name=name,
        length_m=line.length_m,
        proj4=tracks.grid.proj4,
        scale_error_ppm=tracks.grid.scale_error_ppm(*_all_points(judged)),
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
        spread=pooled(judged.variance, 0, len(line.station_m), options.confidence),
        p95_m=percentile_95(figures.residual_m(judged), judged.variance.count),
        correlation_length_m=correlation_m,
        traces=figures.traces(judged),
        segments=segments,
        stretches=stretches,
        receivers=figures.receivers(judged, options),
        pairs=pair_results(
            line.station_m,
            found.offset_m,
            found.time_s,
            judged.left_out,
            [w.receiver for w in tracks.witnesses],
            [w.ride for w in tracks.witnesses],
            options,
            correlation_m,
            judged.variance.correlation.heading_rad,
        ),
        film=film_entries(segments, line.station_m, lon, lat, stretches),
        notes=_route_notes(judged, options),
    )


def _all_points(judged: Judged) -> tuple[Floats, Floats]:
    lon = np.concatenate([w.trace.lon_deg for w in judged.tracks.witnesses])
    lat = np.concatenate([w.trace.lat_deg for w in judged.tracks.witnesses])
    return lon, lat


def _route_notes(judged: Judged, options: Options) -> tuple[str, ...]:
    """Return what a reader must know beside the figures."""
    rides = len(np.unique(judged.tracks.ride))
    low, high = sd_factors(float(max(rides - 1, 1)), options.confidence)
    words = [f"{rides} rides know the spread at one place only to within a factor of {low:.2f} to {high:.2f}"]
    if not np.isfinite(judged.tracks.bundle.time_s).any():
        words.append("the traces have no times: first fix, clocks and speeds are not measurable")
    return tuple(words)


def _name(number: int) -> str:
    """Return A, B, …, Z, AA, AB, …"""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return f"Route {letters}"


def _input(witness: Witness, route: str, reason: str) -> InputRecord:
    trace = witness.trace
    times = trace.time_s[np.isfinite(trace.time_s)]
    return InputRecord(
        file=trace.file,
        format=trace.format,
        name=trace.name,
        points=len(trace.lon_deg),
        points_set_aside=trace.points_set_aside,
        receiver=witness.receiver,
        ride=witness.ride,
        receiver_from=witness.receiver_from,
        ride_from=witness.ride_from,
        route=route,
        status="used" if route else "set aside",
        reason=reason,
        findings=trace.findings,
        start_time_s=float(times[0]) if len(times) else float("nan"),
        note=witness.note,
    )


def _notes(groups: Grouping) -> tuple[str, ...]:
    return () if groups.routes else ("no two traces run the same way",)
