"""Whole `Analysis` records for tests of reports, command line and pages, made without the pipeline.

The ground is an uninhabited southern island, the receivers and their errors are invented: a correlated
walk around a curved line with one torn part, one stretch, one gap, one fix that never settles, one trace
without a known start, and (from two routes on) a last route without any times.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from reasons import told
from trackspread import model as m
from trackspread.options import Options
from trackspread.statistics.astray.events import events_of

CREATED_S = 1_767_225_600.0
DEPARTURE_S = 1_764_576_000.0
SPEED_M_S = 5.5
STEP_M = 5.0
NAN = float("nan")

PAYLOADS = (
    "{{7*7}}",
    "{% for x in y %}",
    "`back` ${7*7}",
    "</script><img src=x onerror=\"document.title='owned'\">",
    "'\"><svg/onload=alert(1)>",
    "two\nlines\r\ttab",
    "=cmd|' /C calc'!A0",
    "+1+1",
    "@SUM(A1)",
    "-2+3",
    "\u202eright to left\u200f",
    "\u2028line\u2029paragraph",
    "<!--<script>",
    "]]>&amp;&lt;",
    "$\\frac{1}{2}$ $x",
    "javascript:alert(1)",
    "a" * 300,
)
"""Texts that do harm where they are not treated as text."""


@dataclass
class Words:
    """Gives the plain word, or in a hostile record the plain word with the next payload behind it."""

    hostile: bool

    def __post_init__(self) -> None:
        self._turn = itertools.cycle(PAYLOADS)

    def __call__(self, plain: str) -> str:
        return f"{next(self._turn)} {plain}" if self.hostile else plain


def make_analysis(
    seed: int = 1,
    traces: int = 6,
    routes: int = 2,
    pairs: bool = True,
    hostile: bool = False,
    place: tuple[float, float] = (69.4, -48.9),
    published: bool = False,
    length_m: float = 3200.0,
) -> m.Analysis:
    """Return a plausible record of ``routes`` routes with ``traces`` traces each.

    With ``pairs`` two receivers are ridden together; without, every trace is a ride of its own.
    ``place`` is the longitude and latitude of the first station (try 179.99 for the antimeridian).
    """
    random = np.random.default_rng(seed)
    words = Words(hostile)
    made = [
        _route(
            random,
            words,
            number,
            traces,
            pairs,
            place,
            timed=number == 0 or number < routes - 1,
            length=length_m if number == 0 else 2100.0,
        )
        for number in range(routes)
    ]
    inputs = tuple(record for _, records in made for record in records)
    astray = m.InputRecord(
        file=words("other_valley.gpx"),
        format="GPX 1.1",
        name=words("detour"),
        points=412,
        points_set_aside=0,
        receiver=words("Alder"),
        ride="9",
        receiver_from="folder",
        ride_from="overlap",
        route="",
        status="set aside",
        reason=told(words("runs along no other trace for more than 300 m")),
    )
    return m.Analysis(
        version="0.1.0",
        created_s=CREATED_S,
        settings=Options().as_dict(),
        inputs=(*inputs, astray),
        routes=tuple(route for route, _ in made),
        comparison=_comparison(tuple(route for route, _ in made)),
        problems=(words("broken.gpx, line 12: a number from -90 to 90 is needed for lat (found '95.2')"),),
        published=published,
        notes=(told(words("Receivers were taken from the folders' names.")),),
    )


def fuller(analysis: m.Analysis) -> m.Analysis:
    """Return an analysis with every kind of record in it: events, variants, references, a comparison."""
    median = m.MedianEstimate(median=11.0, low=8.0, high=17.0, n=6, confidence=0.97)
    names = tuple(receiver.receiver for receiver in analysis.routes[0].receivers)
    watches = tuple(
        m.ReceiverSummary(
            receiver=name,
            rides=6,
            routes=tuple(route.name for route in analysis.routes),
            spread=_estimate(1.5 + i),
            first_fix_s=median,
            settled_fix_s=m.MedianEstimate(reason=told("the traces have no times")),
            stray_share=m.Estimate(value=0.04, low=0.01, high=0.09),
            claimed_m=m.Claim(median=3.0, p95=7.5),
            claim="less",
            fix_seen_s=median,
            group="ab"[i],
        )
        for i, name in enumerate(names)
    )
    difference = m.Difference(
        a=names[0],
        b=names[-1],
        rides=6,
        basis="both",
        ratio=m.Estimate(value=0.6, low=0.4, high=0.9),
        difference=m.Estimate(value=-1.0, low=-1.8, high=-0.2),
        told_apart=True,
        p_adjusted=0.012,
    )
    return replace(
        analysis,
        routes=tuple(_fuller_route(route) for route in analysis.routes),
        comparison=m.Comparison(receivers=watches, differences=(difference,), confidence=0.95),
    )


def _fuller_route(route: m.RouteResult) -> m.RouteResult:
    stretch, names = route.stretches[0], tuple(receiver.receiver for receiver in route.receivers)
    event = m.Event(
        from_m=stretch.from_m,
        to_m=stretch.to_m,
        receivers=names,
        rides=(stretch.ride,),
        peak_m=stretch.peak_m,
        side=stretch.side,
        cause="line",
    )
    variant = m.Variant(
        name="by the quay",
        from_m=400.0,
        to_m=600.0,
        files=(stretch.file,),
        rides=("1", "2"),
        aside_m=38.0,
    )
    own = tuple(m.SegmentReceiver(receiver=n, spread=_estimate(2.0), verdict="steady") for n in names)
    count = len(route.segments)
    reference = m.ReferenceResult(
        receiver=names[0],
        bias_m=m.Estimate(value=0.4, low=-0.6, high=1.4),
        rmse_m=m.Estimate(value=2.1, low=1.7, high=2.9),
        accuracy_95_m=m.Estimate(reason=told("the check points are too few")),
        segment_bias_m=np.full(count, 0.4),
        segment_rmse_m=np.full(count, 2.1),
    )
    return replace(
        route,
        title="Outward",
        spread_all=_estimate(3.4),
        events=(event,),
        variants=(variant,),
        references=(reference,),
        segments=tuple(replace(segment, receivers=own) for segment in route.segments),
        traces=tuple(
            replace(trace, claimed_m=m.Claim(median=3.0, p95=7.5), firmware="4.2") for trace in route.traces
        ),
        claim_m=np.where(np.isfinite(route.offset_m), 3.0, np.nan),
        receivers=tuple(
            replace(one, spread_all=one.spread, claimed_m=m.Claim(median=0.5, p95=7.5), claim="less")
            for one in route.receivers
        ),
    )


# --- arrays ------------------------------------------------------------------------------------------


def _walk(random: np.random.Generator, count: int, sd: float, length_m: float = 80.0) -> m.Floats:
    keep = np.exp(-STEP_M / length_m)
    shocks = random.normal(0.0, sd * np.sqrt(1 - keep**2), count)
    out = np.empty(count)
    out[0] = random.normal(0.0, sd)
    for i in range(1, count):
        out[i] = keep * out[i - 1] + shocks[i]
    return out


def _line(number: int, length_m: float) -> tuple[m.Floats, m.Floats, m.Floats, m.Floats]:
    """Station, easting, northing and heading (clockwise from north, radians) of a curved line."""
    station = np.arange(0.0, length_m + STEP_M / 2, STEP_M)
    heading = 0.9 + 0.8 * np.sin(station / 420.0) + 0.5 * np.sin(station / 170.0 + number)
    if number % 2:
        heading = heading + np.pi
    east = np.concatenate([[0.0], np.cumsum(STEP_M * np.sin(heading[1:]))])
    north = np.concatenate([[0.0], np.cumsum(STEP_M * np.cos(heading[1:]))])
    return station, east, north, heading


def _to_degrees(east: m.Floats, north: m.Floats, place: tuple[float, float]) -> tuple[m.Floats, m.Floats]:
    lat = place[1] + north / 111_200.0
    return place[0] + east / (111_320.0 * np.cos(np.radians(place[1]))), lat


def _wrap(lon_deg: m.Floats) -> m.Floats:
    return (lon_deg + 180.0) % 360.0 - 180.0


def _estimate(value: float, spare: float = 1.0) -> m.Estimate:
    if not np.isfinite(value):
        return m.Estimate(reason=told("no two traces run here"))
    return m.Estimate(value=value, low=value * (1 - 0.3 * spare), high=value * (1 + 0.75 * spare))


def _pooled(values: m.Floats) -> float:
    """Root of the mean variance over the stations where at least two traces have an offset."""
    enough = np.isfinite(values).sum(axis=0) >= 2
    if not enough.any():
        return NAN
    return float(np.sqrt(np.nanvar(values[:, enough], axis=0, ddof=1).mean()))


def _comparison(routes: tuple[m.RouteResult, ...]) -> m.Comparison:
    """All receivers over all routes, each with the spread of its first route and letters that tell it apart."""
    names = dict.fromkeys(r.receiver for route in routes for r in route.receivers)
    spreads = {
        name: next(r.spread for t in routes for r in t.receivers if r.receiver == name) for name in names
    }
    ordered = sorted(names, key=lambda name: (not np.isfinite(spreads[name].value), spreads[name].value))
    summaries = [
        m.ReceiverSummary(
            receiver=name,
            rides=len({t.ride for route in routes for t in route.traces if t.receiver == name}),
            routes=tuple(r.name for r in routes if any(t.receiver == name for t in r.traces)),
            spread=spreads[name],
            first_fix_s=m.MedianEstimate(median=11.0, low=8.0, high=17.0, n=6, confidence=0.96),
            settled_fix_s=m.MedianEstimate(median=24.0, low=19.0, high=NAN, n=6, censored=1, confidence=0.96),
            stray_share=m.Estimate(value=0.03 + 0.02 * i, low=0.01, high=0.09),
            group="ab"[min(i, 1)],
        )
        for i, name in enumerate(ordered)
    ]
    differences = [
        m.Difference(
            a=a.receiver, b=b.receiver, rides=a.rides, basis="together",
            ratio=m.Estimate(value=0.6, low=0.4, high=0.8),
            difference=m.Estimate(value=-1.1, low=-1.9, high=-0.4), told_apart=True, p_adjusted=0.004,
        )
        for i, a in enumerate(summaries) for b in summaries[i + 1 :]
    ]  # fmt: skip
    return m.Comparison(receivers=tuple(summaries), differences=tuple(differences), confidence=0.95)


# --- one route ---------------------------------------------------------------------------------------


def _route(
    random: np.random.Generator,
    words: Words,
    number: int,
    count: int,
    pairs: bool,
    place: tuple[float, float],
    timed: bool,
    length: float,
) -> tuple[m.RouteResult, list[m.InputRecord]]:
    station, east, north, heading = _line(number, length)
    lon, lat = _to_degrees(east, north, place)
    names = ("Alder", "Birch")
    who = [names[i % 2] for i in range(count)]
    ride = [str(i // 2 + 1 if pairs else i + 1) for i in range(count)]
    torn = (station > 0.5 * length) & (station < 0.6 * length)
    offset = np.array([_walk(random, len(station), 1.4 if w == "Alder" else 2.4) for w in who])
    offset *= np.where(torn, 4.0, 1.0)
    detour = (station >= 900) & (station <= 1080)
    offset[2 % count, detour] += 17.0
    offset[0, station < 140] += np.linspace(25, 0, int((station < 140).sum()))
    offset[-1, (station >= 1300) & (station <= 1560)] = NAN
    offset[1 % count, : 12 + number] = NAN
    away = np.zeros(offset.shape, dtype=bool)
    away[2 % count, detour] = True
    away[0, station < 140] = True
    start = DEPARTURE_S + 86_400.0 * np.array([int(r) for r in ride]) + (36_000.0 if number else 0.0)
    crossing = start[:, None] + 8.0 + station / SPEED_M_S
    crossing = np.where(np.isfinite(offset) & timed, crossing, NAN)
    steady = np.where(away, NAN, offset)
    spread = np.array([_pooled(steady[:, max(0, i - 10) : i + 10]) for i in range(len(station))])

    files = [words(f"{w.lower()}_ride{r}_route{number + 1}.gpx") for w, r in zip(who, ride, strict=True)]
    receiver = {name: words(name) for name in names}
    ride_name = {r: words(r) for r in dict.fromkeys(ride)}
    route_name = words("out" if number == 0 else "back" if number == 1 else f"way {number + 1}")
    tags = [(files[i], receiver[who[i]], ride_name[ride[i]]) for i in range(count)]
    results = []
    for i, (file, device, trip) in enumerate(tags):
        along = np.arange(0.0, length, SPEED_M_S)
        across = np.interp(along, station, np.where(np.isfinite(offset[i]), offset[i], 0.0))
        turn = np.interp(along, station, heading)
        x = np.interp(along, station, east) + across * np.cos(turn)
        y = np.interp(along, station, north) - across * np.sin(turn)
        logged = np.interp(along, station, np.isfinite(offset[i]).astype(float)) > 0.5
        x_deg, y_deg = _to_degrees(x[logged], y[logged], place)
        broken = np.diff(along[logged], prepend=0.0) > 3 * SPEED_M_S
        broken[0] = False
        results.append(
            m.TraceResult(
                number=i,
                file=file,
                part=0,
                name=words("morning ride"),
                receiver=device,
                ride=trip,
                first_fix=_first_fix(words, i, timed, offset[i]),
                settled_fix=_settled_fix(words, i, timed, count),
                spread_m=float(np.nanstd(steady[i])),
                bias_m=float(np.nanmean(steady[i])),
                p95_m=float(np.nanpercentile(np.abs(steady[i]), 95)),
                coverage=float(np.isfinite(offset[i]).mean()),
                recorded_length_m=float(length * np.isfinite(offset[i]).mean() * 1.01),
                gaps=(m.Gap(from_m=1300.0, to_m=1560.0, seconds=47.0 if timed else NAN),)
                if i == count - 1
                else (),
                lon_deg=_wrap(x_deg),
                lat_deg=y_deg,
                time_s=start[i] + 8.0 + along[logged] / SPEED_M_S if timed else np.full(logged.sum(), NAN),
                station_m=along[logged],
                break_before=broken,
            )
        )
    segments = _segments(words, station, steady, length, count)
    stretch = tags[2 % count]
    stretches = (
        m.Stretch(
            number=2 % count,
            file=stretch[0],
            receiver=stretch[1],
            ride=stretch[2],
            from_m=900.0,
            to_m=1080.0,
            peak_m=21.4,
            mean_m=17.2,
            side="right",
            seconds=33.0 if timed else NAN,
            start_time_s=start[2 % count] + 171.0 if timed else NAN,
            cause="receiver" if pairs else "unknown",
        ),
        m.Stretch(
            number=0,
            file=tags[0][0],
            receiver=tags[0][1],
            ride=tags[0][2],
            from_m=0.0,
            to_m=140.0,
            peak_m=25.3,
            mean_m=12.9,
            side="right",
            seconds=25.0 if timed else NAN,
            start_time_s=start[0] + 8.0 if timed else NAN,
            cause="settling",
        ),
    )
    route = m.RouteResult(
        name=route_name,
        length_m=length,
        proj4=f"+proj=tmerc +lat_0={place[1]} +lon_0={place[0]} +k=1 +datum=WGS84 +units=m",
        scale_error_ppm=0.4,
        station_step_m=STEP_M,
        station_m=station,
        lon_deg=lon,
        lat_deg=lat,
        offset_m=offset,
        deviation_m=offset - np.nanmedian(offset, axis=0),
        crossing_s=crossing,
        in_stretch=away,
        station_spread_m=spread,
        station_low_m=spread * 0.7,
        station_high_m=spread * 1.75,
        spread=_estimate(_pooled(steady), 0.4),
        p95_m=float(np.nanpercentile(np.abs(steady), 95)),
        correlation_length_m=80.0,
        traces=tuple(results),
        segments=segments,
        stretches=stretches,
        events=events_of(stretches),
        receivers=tuple(_receiver(receiver[w], w, who, steady, timed) for w in names if w in who),
        pairs=_pairs(random, words, receiver, ride_name, offset, timed) if pairs and count > 1 else (),
        film=_film(segments, lon, lat, station),
        notes=()
        if timed
        else (told(words("These traces carry no times: nothing that needs a clock is measurable.")),),
    )
    inputs = [
        m.InputRecord(
            file=file,
            format="GPX 1.1",
            name=words("morning ride"),
            points=len(results[i].lon_deg) + 3 * (i == 1),
            points_set_aside=3 * (i == 1),
            receiver=device,
            ride=trip,
            receiver_from="folder",
            ride_from="sheet" if i % 3 == 0 else "overlap",
            route=route_name,
            status="used",
            reason=m.NOTHING,
            findings=(
                m.Finding(
                    code="duplicate-time",
                    count=3,
                    text=words("3 points repeat the time before"),
                    first_place="track 1, segment 1, point 17",
                ),
            )
            if i == 1
            else (),
            start_time_s=start[i] + 8.0 if timed else NAN,
            note=words("low cloud") if i == 0 else "",
        )
        for i, (file, device, trip) in enumerate(tags)
    ]
    return route, inputs


def _first_fix(words: Words, i: int, timed: bool, offset: m.Floats) -> m.FirstFix:
    first_m = float(STEP_M * np.flatnonzero(np.isfinite(offset))[0])
    if not timed:
        return m.FirstFix(
            value_s=NAN, source="none", at_station_m=first_m, reason=told(words("the trace has no times"))
        )
    if i == 1:
        return m.FirstFix(
            value_s=NAN,
            source="none",
            at_station_m=first_m,
            reason=told(words("no start is known")),
            missing_m=first_m,
            lower_bound_s=first_m / SPEED_M_S,
        )
    return m.FirstFix(
        value_s=8.0 + 3.0 * (i % 4), source="declared" if i % 3 == 0 else "file", at_station_m=first_m
    )


def _settled_fix(words: Words, i: int, timed: bool, count: int) -> m.SettledFix:
    if not timed:
        return m.SettledFix(
            value_s=NAN,
            at_station_m=NAN,
            censored=False,
            band_m=5.1,
            hold_s=30.0,
            reason=told(words("the trace has no times")),
        )
    if i == count - 1:
        return m.SettledFix(
            value_s=NAN,
            at_station_m=NAN,
            censored=True,
            band_m=5.1,
            hold_s=30.0,
            reason=told(words("not settled before the trace ends")),
        )
    at = 140.0 if i == 0 else 20.0 + 10.0 * i
    return m.SettledFix(
        value_s=8.0 + 3.0 * (i % 4) + at / SPEED_M_S, at_station_m=at, censored=False, band_m=5.1, hold_s=30.0
    )


def _segments(
    words: Words, station: m.Floats, steady: m.Floats, length: float, count: int
) -> tuple[m.Segment, ...]:
    out = []
    for k, start in enumerate(np.arange(0.0, length, 100.0)):
        part = steady[:, (station >= start) & (station < start + 100.0)]
        spread = _pooled(part)
        present = int((np.isfinite(part).mean(axis=1) > 0.5).sum())
        thin = present < 3 or k == 7
        verdict = "thin" if thin else "steady" if spread <= 3 else "wavering" if spread <= 6 else "torn"
        reason = {
            "thin": "fewer than 3 traces",
            "steady": "spread at most 3 m",
            "wavering": "spread from 3 m to 6 m",
            "torn": "spread above 6 m",
        }[verdict]
        nothing = thin and k == 7
        out.append(
            m.Segment(
                from_m=float(start),
                to_m=float(min(start + 100.0, length)),
                traces=1 if nothing else present,
                spread=m.Estimate(reason=told(words("fewer than two traces")))
                if nothing
                else _estimate(spread),
                p95_m=NAN if nothing else float(np.nanpercentile(np.abs(part), 95)),
                widest_m=NAN if nothing else float(np.nanmax(part) - np.nanmin(part)),
                coverage=1 / count if nothing else float(np.isfinite(part).mean()),
                verdict=verdict,
                reasons=(told(words(reason)),),
            )
        )
    return tuple(out)


def _receiver(name: str, plain: str, who: list[str], steady: m.Floats, timed: bool) -> m.ReceiverResult:
    rows = [i for i, w in enumerate(who) if w == plain]
    if not timed:
        none = m.MedianEstimate(reason=told("the traces have no times"))
        first = settled = none
    else:
        first = m.MedianEstimate(median=11.0, low=8.0, high=17.0, n=len(rows), confidence=0.75)
        late = int(len(who) - 1 in rows)
        settled = m.MedianEstimate(
            median=24.0, low=19.0, high=NAN, n=len(rows), censored=late, confidence=0.75
        )
    return m.ReceiverResult(
        receiver=name,
        rides=len(rows),
        spread=_estimate(_pooled(steady[rows]) if len(rows) > 1 else NAN, 0.6),
        first_fix_s=first,
        settled_fix_s=settled,
        stretch_share=0.056 if plain == "Alder" else 0.0,
    )


def _pairs(
    random: np.random.Generator,
    words: Words,
    receiver: dict[str, str],
    ride_name: dict[str, str],
    offset: m.Floats,
    timed: bool,
) -> tuple[m.PairResult, ...]:
    rides = len(offset) // 2
    across = offset[0 : 2 * rides : 2] - offset[1 : 2 * rides : 2]
    along = np.where(np.isfinite(across), random.normal(0.4, 1.0, across.shape), NAN)
    size = np.hypot(across, along)
    bias, sd = float(np.nanmean(across)), float(np.nanstd(across))
    clock = (
        m.Estimate(value=-0.8, low=-1.1, high=-0.5)
        if timed
        else m.Estimate(reason=told("no times to compare"))
    )
    return (
        m.PairResult(
            a=receiver["Alder"],
            b=receiver["Birch"],
            rides=rides,
            ride_names=tuple(ride_name.values())[:rides],
            clock_offset_s=clock,
            separation_median_m=float(np.nanmedian(size)),
            separation_p95_m=float(np.nanpercentile(size, 95)),
            sd_a=_estimate(1.5, 0.6),
            sd_b=_estimate(2.6, 0.6),
            common_sd_m=m.Estimate(
                reason=told("not separable: the estimate of the common variance is negative")
            ),
            bias_m=m.Estimate(value=bias, low=bias - 0.6, high=bias + 0.6),
            limits_m=(bias - 1.96 * sd, bias + 1.96 * sd),
            difference=m.Estimate(value=-1.1, low=-2.3, high=0.2),
            told_apart=False,
            outcome=told(words(f"{rides} rides together cannot tell the two receivers apart.")),
            separation_across_m=across,
            separation_along_m=along,
        ),
    )


def _film(
    segments: tuple[m.Segment, ...], lon: m.Floats, lat: m.Floats, station: m.Floats
) -> tuple[m.FilmEntry, ...]:
    why = {
        "steady": "fit to show as it is",
        "wavering": "show it with its spread",
        "torn": "show it only as an example of disagreement",
        "thin": "too few traces to say",
    }
    out = []
    for verdict, run in itertools.groupby(segments, key=lambda s: s.verdict):
        part = list(run)
        here = (station >= part[0].from_m) & (station <= part[-1].to_m)
        x, y = _wrap(lon[here]), lat[here]
        bounds = (float(x.min()), float(y.min()), float(x.max()), float(y.max()))
        out.append(
            m.FilmEntry(
                from_m=part[0].from_m,
                to_m=part[-1].to_m,
                verdict=verdict,
                why=told(why[verdict]),
                bounds=bounds,
            )
        )
    return tuple(out)
