"""What is cut leaves no mark: records that differ only in what is hidden give the same publication.

This is non-interference (Goguen & Meseguer 1982, IEEE Symposium on Security and Privacy): whoever sees only
the publication cannot tell which of the two records it was made from.
"""

from __future__ import annotations

import dataclasses
import random
from typing import Any

import numpy as np
import pytest

from records import STEP_M, make_analysis
from trackspread import model as m
from trackspread.options import Options
from trackspread.publish.cut import cut_for_publishing
from trackspread.publish.routes import Cover, cut_route

MORE_M = 40.0
MORE = round(MORE_M / STEP_M)
AT = 20


def same(first: Any, second: Any, where: str = "") -> None:
    """Compare records of records, arrays by value with NaN alike."""
    if dataclasses.is_dataclass(first):
        for field in dataclasses.fields(first):
            same(getattr(first, field.name), getattr(second, field.name), f"{where}.{field.name}")
    elif isinstance(first, tuple):
        assert len(first) == len(second), where
        for number, (a, b) in enumerate(zip(first, second, strict=True)):
            same(a, b, f"{where}[{number}]")
    elif isinstance(first, np.ndarray):
        np.testing.assert_allclose(second, first, rtol=1e-12, atol=1e-9, err_msg=where)
    elif isinstance(first, float):
        assert second == pytest.approx(first, rel=1e-12, abs=1e-9, nan_ok=True), where
    else:
        assert first == second, where


def later(spans: tuple[Any, ...]) -> tuple[Any, ...]:
    """Stretches, gaps, segments, farther along by what was put in before them."""
    return tuple(dataclasses.replace(s, from_m=s.from_m + MORE_M, to_m=s.to_m + MORE_M) for s in spans)


def wiggled(route: m.RouteResult) -> m.RouteResult:
    """The same route with 40 m more of it 100 m from its start, and all before it ten seconds earlier."""

    def longer(array: np.ndarray, fill: Any, at: int = AT) -> np.ndarray:
        new = np.broadcast_to(fill, (*array.shape[:-1], MORE))
        return np.concatenate([array[..., :at], new, array[..., at:]], -1)

    def trace_of(trace: m.TraceResult) -> m.TraceResult:
        at = int(np.searchsorted(trace.station_m, AT * STEP_M))
        past = np.arange(len(trace.station_m) + MORE) >= at + MORE
        station = longer(trace.station_m, np.linspace(AT * STEP_M + 1, AT * STEP_M + MORE_M, MORE), at)
        return dataclasses.replace(
            trace,
            recorded_length_m=trace.recorded_length_m + MORE_M,
            coverage=0.5,
            first_fix=dataclasses.replace(trace.first_fix, at_station_m=17.0, missing_m=3.0),
            lon_deg=longer(trace.lon_deg, trace.lon_deg[at] + np.linspace(0, 1e-4, MORE), at),
            lat_deg=longer(trace.lat_deg, trace.lat_deg[at], at),
            time_s=longer(trace.time_s, trace.time_s[at], at) - np.where(past, 0.0, 10.0),
            station_m=np.where(past, station + MORE_M, station),
            break_before=longer(trace.break_before, False, at),
            gaps=later(trace.gaps),
        )

    fills = {
        "offset_m": 7.0, "deviation_m": -7.0, "crossing_s": 1e9, "in_stretch": True,
        "station_spread_m": 9.0, "station_low_m": 8.0, "station_high_m": 99.0,
    }  # fmt: skip
    return dataclasses.replace(
        route,
        length_m=route.length_m + MORE_M,
        station_m=np.arange(len(route.station_m) + MORE) * STEP_M,
        lon_deg=longer(route.lon_deg, route.lon_deg[AT] + np.linspace(0.0, 1e-4, MORE)),
        lat_deg=longer(route.lat_deg, route.lat_deg[AT]),
        **{name: longer(getattr(route, name), fill) for name, fill in fills.items()},
        traces=tuple(map(trace_of, route.traces)),
        segments=later(route.segments),
        stretches=tuple(s if s.from_m == 0.0 else later((s,))[0] for s in route.stretches),
        receivers=tuple(dataclasses.replace(r, stretch_share=r.stretch_share * 0.9) for r in route.receivers),
        film=later(route.film),
        pairs=tuple(
            dataclasses.replace(
                p,
                separation_across_m=longer(p.separation_across_m, 3.0),
                separation_along_m=longer(p.separation_along_m, 3.0),
            )
            for p in route.pairs
        ),
    )


@pytest.mark.parametrize("seed", [1, 2, 3, 11])  # where the disc is cut, not the length along the line
@pytest.mark.parametrize("hide_dates", [False, True])
def test_what_lies_within_the_cut_changes_nothing(seed: int, hide_dates: bool) -> None:
    whole = make_analysis(routes=1)
    other = dataclasses.replace(
        whole,
        routes=(wiggled(whole.routes[0]),),
        inputs=tuple(
            dataclasses.replace(
                r, points=r.points + MORE, start_time_s=r.start_time_s - 10.0, file=f"x{r.file}"
            )
            if r.status == "used"
            else r
            for r in whole.inputs
        ),
    )
    other = dataclasses.replace(
        other,
        routes=tuple(
            dataclasses.replace(
                route,
                traces=tuple(dataclasses.replace(t, file=f"x{t.file}") for t in route.traces),
                stretches=tuple(dataclasses.replace(s, file=f"x{s.file}") for s in route.stretches),
            )
            for route in other.routes
        ),
    )
    first = cut_for_publishing(whole, rng=random.Random(seed), hide_dates=hide_dates)
    second = cut_for_publishing(other, rng=random.Random(seed), hide_dates=hide_dates)
    assert first.routes[0].length_m < whole.routes[0].length_m - 400
    same(first, second)


def started_at(route: m.RouteResult, row: int, at_m: float, seed: int) -> m.RouteResult:
    """The same route with one trace that starts on the way; what the analysis says near there is arbitrary."""
    noise = np.random.default_rng(seed)
    station = route.station_m
    trace = route.traces[row]
    keep = trace.station_m >= at_m
    cut = dataclasses.replace(
        trace,
        **{n: getattr(trace, n)[keep] for n in ("lon_deg", "lat_deg", "time_s", "station_m", "break_before")},
        first_fix=dataclasses.replace(trace.first_fix, at_station_m=at_m, value_s=at_m / 5.5),
        settled_fix=dataclasses.replace(trace.settled_fix, at_station_m=at_m, value_s=at_m / 5.5),
    )

    def gone(array: np.ndarray) -> np.ndarray:
        out = array.copy()
        out[row, station < at_m] = np.nan
        return out

    settling = route.in_stretch.copy()
    settling[row, (station >= at_m) & (station < at_m + 60)] = True
    near = np.abs(station - at_m) < 60.0
    wider = np.where(near, noise.uniform(1.0, 2.0, len(station)), 1.0)
    pairs = []
    for pair in route.pairs:
        across = pair.separation_across_m.copy()
        across[pair.ride_names.index(trace.ride), station < at_m] = np.nan
        pairs.append(dataclasses.replace(pair, separation_across_m=across, separation_along_m=across))
    return dataclasses.replace(
        route,
        offset_m=gone(route.offset_m), deviation_m=gone(route.deviation_m), crossing_s=gone(route.crossing_s),
        in_stretch=settling,
        station_spread_m=route.station_spread_m * wider,
        station_low_m=route.station_low_m / wider,
        station_high_m=route.station_high_m * wider,
        traces=tuple(cut if t.number == row else t for t in route.traces),
        pairs=tuple(pairs),
    )  # fmt: skip


def test_where_a_trace_starts_on_the_way_is_told_by_no_figure() -> None:
    """What is shown begins at one length from the start, whatever the figures of the hidden part were."""
    route = make_analysis(routes=1).routes[0]
    row, cover = 3, Cover(discs=[], start_m=300.0, end_m=350.0)
    variants = [started_at(route, row, 1500.0, seed=number) for number in range(2)]
    (first,), (second,) = (cut_route(v, cover, Options()) for v in variants)
    same(first, second)
    hidden = np.isnan(first.offset_m[row])
    assert 1500.0 <= first.station_m[np.flatnonzero(~hidden)[0]] <= 1510.0
    assert np.nanmin(first.traces[row].station_m) >= 1500.0
    assert not first.in_stretch[row][hidden].any()
    assert np.isnan(first.pairs[0].separation_across_m[1][hidden]).all()
    middle = (first.station_m > 1600.0) & (first.station_m < first.length_m - 100.0)
    part = slice(60, 60 + len(hidden))
    np.testing.assert_array_equal(first.station_spread_m[middle], route.station_spread_m[part][middle])
    assert np.isfinite(first.station_spread_m).mean() > 0.9


def test_traces_tell_their_starts_only_from_each_other() -> None:
    """The published start of a trace is its distance from the route's start, and so holds for any cut."""
    route = started_at(make_analysis(routes=1).routes[0], 3, 900.0, seed=1)
    for start_m in (200.0, 300.0, 475.0):
        (piece,) = cut_route(route, Cover(discs=[], start_m=start_m, end_m=250.0), Options())
        shown = [piece.station_m[np.flatnonzero(np.isfinite(row))[0]] for row in piece.offset_m]
        assert shown[3] == pytest.approx(900.0, abs=6.0)
        assert shown[0] == pytest.approx(0.0, abs=6.0)
