"""Cut an analysis for publishing, so that it does not tell where rides start and end.

What is cut, what stays and what remains a risk stands in docs/privacy.md.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from trackspread import model as m
from trackspread.errors import BadOption, NothingToAnalyse
from trackspread.geometry.discs import Draw, Draws, discs_around
from trackspread.model.arrays import first_known
from trackspread.options import Options
from trackspread.publish.kept import kept_cuts
from trackspread.publish.routes import Cover, cut_route, on_line
from trackspread.publish.texts import Wording, reworded

NAN = float("nan")
LONGEST_CUT_M = 20_000.0  # m, more leaves nothing of a ride
AMID_M = 60.0
"""Less is the wander of a fix (`geometry.circuits.LEAST_HEAD_M`)."""
PUBLISH_ONCE = m.Reason("publish_once")


def cut_for_publishing(
    analysis: m.Analysis,
    *,
    rng: random.Random | None = None,
    least_m: float = 200.0,
    most_m: float = 500.0,
    hide_dates: bool = False,
    keep_file_names: bool = False,
) -> m.Analysis:
    """Return the analysis without anything near the places where rides start and end.

    Around every such place a disc is drawn whose edge is ``least_m`` to ``most_m`` from the place and whose
    centre is not the place. Everything within is cut on every route, whichever route the place belongs
    to, and so is everything beyond it: the line's first and last metres, and the points of a trace before
    it joins and after it leaves what is left of the line. Every trace, and so one that starts or ends on
    the way, is cut by the same length from its own first point on the line as the route from its start:
    another length would tell, with the seconds of the first fix. Where a place lies midway, the route
    becomes two.

    What stays is not moved. Stations are counted and segments laid from the new start, so that their
    numbers do not tell the length of the cut. Figures over a whole route, receiver or pair stay those of
    the whole analysis.

    Parameters
    ----------
    analysis : Analysis
    rng : random.Random, optional
        Source of the cuts. By default one secret cut a place, which this machine keeps (`publish.kept`).
    least_m, most_m : float
        Bounds of the cut, metres, measured from the place.
    hide_dates : bool
        Count times from the first point that is left of each ride, and take dates out of texts and the
        time of the analysis out of the result.
    keep_file_names : bool
        Keep the names of files; they often carry the time of the start.

    Returns
    -------
    Analysis
        With ``published`` set, and a note for each thing that was taken out.

    Raises
    ------
    BadOption
        Where 0 < ``least_m`` < ``most_m`` does not hold.
    NothingToAnalyse
        Where no route is longer than its cuts.
    """
    if not 0.0 < least_m < most_m <= LONGEST_CUT_M:
        rule = f"0 m < least < most, at most {LONGEST_CUT_M:,.0f} m, is needed"
        raise BadOption("cut", rule, f"{least_m:g} m and {most_m:g} m")
    options = _options(analysis.settings)
    with kept_cuts() as kept:
        draws = kept if rng is None and kept else _drawn_anew(rng or random.SystemRandom())
        covers = _covers(analysis.routes, options, least_m, most_m, draws)
    cut = [cut_route(route, cover, options) for route, cover in zip(analysis.routes, covers, strict=True)]
    routes = [piece for pieces in cut for piece in pieces]
    if not routes:
        raise NothingToAnalyse(
            "nothing is left to publish: no route is longer than the cuts at its ends "
            f"(up to {most_m:g} m each); cut less"
        )
    if hide_dates:
        zero = _ride_zeros(routes)
        routes = [_without_dates(route, zero) for route in routes]
    names = {
        route.name: (pieces[0].name if pieces else "")
        for route, pieces in zip(analysis.routes, cut, strict=True)
    }
    inputs = [_input(record, names, routes, hide_dates) for record in analysis.inputs]
    once = () if kept or rng else (PUBLISH_ONCE,)
    published = replace(
        analysis,
        created_s=NAN if hide_dates else analysis.created_s,
        inputs=tuple(inputs),
        routes=tuple(routes),
        problems=analysis.problems if keep_file_names else _counted(analysis.problems),
        published=True,
        notes=(*_notes(hide_dates, keep_file_names, names), *once, *analysis.notes),
    )
    files = [record.file for record in analysis.inputs]
    files += [trace.file for route in analysis.routes for trace in route.traces]
    return reworded(published, Wording(files=files, keep_file_names=keep_file_names, hide_dates=hide_dates))


def _options(settings: Mapping[str, float | int | str | bool]) -> Options:
    known = {field.name for field in fields(Options)}
    return Options(**{name: value for name, value in settings.items() if name in known})  # type: ignore[arg-type]


# --- places ------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class _Place:
    """A place where a route (``trace`` is -1) or one of its traces starts or ends."""

    lon_deg: float
    lat_deg: float
    route: int
    trace: int
    on_line: bool


def _covers(
    routes: Sequence[m.RouteResult], options: Options, least_m: float, most_m: float, draws: Draws
) -> list[Cover]:
    """Draw the discs around all places that must not be told, and the lengths to cut along each route."""
    places = _places(routes, options.reach_m)
    lon = np.array([place.lon_deg for place in places])
    lat = np.array([place.lat_deg for place in places])
    discs = discs_around(lon, lat, least_m, most_m, draws)
    everything = [disc for disc in discs if any(_bears_on_all(places[i]) for i in disc.members)]
    along = {int(i): disc.along_m for disc in discs for i in disc.members}
    return [
        Cover(discs=everything, start_m=along[start], end_m=along[start + 1])
        for start in range(0, 2 * len(routes), 2)
    ]


def _drawn_anew(source: random.Random) -> Draws:
    """Return draws at the places themselves, one after another out of a source."""
    return lambda lon_deg, lat_deg: Draw(lon_deg=lon_deg, lat_deg=lat_deg, source=source)


def _bears_on_all(place: _Place) -> bool:
    """A trace that starts on the line had a late fix there; the others show that place, it alone is cut."""
    return place.trace < 0 or not place.on_line


def _places(routes: Sequence[m.RouteResult], reach_m: float) -> list[_Place]:
    """Return the ends of all routes, two each, and then those of all traces."""
    ends = [
        _Place(
            lon_deg=float(route.lon_deg[i]), lat_deg=float(route.lat_deg[i]), route=n, trace=-1, on_line=True
        )
        for n, route in enumerate(routes)
        for i in (0, -1)
    ]
    for n, route in enumerate(routes):
        for trace in route.traces:
            near = on_line(route, trace, reach_m) & ~_amid(trace)
            ends += [
                _Place(
                    lon_deg=float(trace.lon_deg[i]),
                    lat_deg=float(trace.lat_deg[i]),
                    route=n,
                    trace=trace.number,
                    on_line=bool(near[i]),
                )
                for i in ((0, -1) if len(near) else ())
            ]
    return ends


def _amid(trace: m.TraceResult) -> m.Bools:
    """Return which points are an end of a trace amid the way that it rode itself, shape (P,).

    Who starts elsewhere on a circuit had no late fix there: the trace comes by the stations before, too.
    """
    out = np.zeros(len(trace.station_m), dtype=bool)
    known = np.flatnonzero(np.isfinite(trace.station_m))
    if len(known):
        at = trace.station_m[known]
        out[0] = at[0] - at.min() > AMID_M
        out[-1] = at.max() - at[-1] > AMID_M
    return out


# --- times and words ---------------------------------------------------------------------------------


def _ride_zeros(routes: Sequence[m.RouteResult]) -> dict[str, float]:
    """Return the time of the first point left of each ride."""
    zero: dict[str, float] = {}
    for trace in (trace for route in routes for trace in route.traces):
        first_s = first_known(trace.time_s)
        if math.isfinite(first_s):
            zero[trace.ride] = min(zero.get(trace.ride, math.inf), first_s)
    return zero


def _without_dates(route: m.RouteResult, zero: Mapping[str, float]) -> m.RouteResult:
    start = np.array([zero.get(trace.ride, NAN) for trace in route.traces])
    return replace(
        route,
        crossing_s=route.crossing_s - start[:, None],
        traces=tuple(replace(trace, time_s=trace.time_s - start[trace.number]) for trace in route.traces),
        stretches=tuple(replace(stretch, start_time_s=NAN) for stretch in route.stretches),
    )


def _input(
    record: m.InputRecord, names: Mapping[str, str], routes: Sequence[m.RouteResult], hide_dates: bool
) -> m.InputRecord:
    """Count what is left of a trace, and let its time be that of its first point left."""
    record = replace(record, findings=tuple(replace(found, first_place="") for found in record.findings))
    if record.status != "used":
        return replace(record, start_time_s=NAN)
    mine = [
        trace
        for route in routes
        for trace in route.traces
        if (trace.file, trace.receiver, trace.ride, trace.name)
        == (record.file, record.receiver, record.ride, record.name)
    ]
    times = [float(trace.time_s[0]) for trace in mine if len(trace.time_s)]
    return replace(
        record,
        points=sum(len(trace.lon_deg) for trace in mine),
        route=names.get(record.route, ""),
        reason=record.reason if mine else m.Reason("cut_away"),
        start_time_s=NAN if hide_dates or not times else min(times),
    )


def _counted(problems: tuple[str, ...]) -> tuple[str, ...]:
    if not problems:
        return ()
    return (f"{len(problems)} of the inputs had problems; the report for your own use names them",)


def _notes(hide_dates: bool, keep_file_names: bool, names: Mapping[str, str]) -> list[m.Reason]:
    gone = [name for name, left in names.items() if not left]
    return [
        m.Reason("cut_for_publishing"),
        m.Reason("dates_out" if hide_dates else "dates_in"),
        m.Reason("file_names_in" if keep_file_names else "file_names_out"),
        m.Reason("other_names_in"),
        *(m.Reason.of("route_cut_away", name=name) for name in gone),
    ]
