"""Where a trace starts or ends on the way, figures taken anew tell nothing of what is hidden there."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from alike import same
from records import make_analysis
from trackspread import model as m
from trackspread.options import Options
from trackspread.publish.recomputed import receivers_of_the_rest, spread_of_the_rest
from trackspread.publish.routes import Cover, cut_route


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


def test_the_spread_is_as_it_was_away_from_what_is_hidden_and_unknown_where_nothing_is_left() -> None:
    route = make_analysis(routes=1).routes[0]
    hidden = np.zeros(route.offset_m.shape, dtype=bool)
    same(spread_of_the_rest(route, hidden, 100.0)[0], route.station_spread_m)
    hidden[3, :40] = True
    spread_m, low_m, high_m = spread_of_the_rest(route, hidden, 100.0)
    far = np.arange(len(spread_m)) > 40 + 100.0 / route.station_step_m
    np.testing.assert_array_equal(spread_m[far], route.station_spread_m[far])
    known = np.isfinite(spread_m)
    assert (low_m[known] <= spread_m[known]).all()
    assert (spread_m[known] <= high_m[known]).all()
    assert np.isnan(spread_of_the_rest(route, ~np.zeros_like(hidden), 100.0)[0]).all()


def test_the_share_of_stretches_is_that_of_what_is_left() -> None:
    route = make_analysis(routes=1).routes[0]
    for receiver in receivers_of_the_rest(route):
        rows = [trace.number for trace in route.traces if trace.receiver == receiver.receiver]
        own = [s for s in route.stretches if s.receiver == receiver.receiver and s.cause != "settling"]
        torn = sum(int(((route.station_m >= s.from_m) & (route.station_m <= s.to_m)).sum()) for s in own)
        assert receiver.stretch_share == pytest.approx(torn / np.isfinite(route.offset_m[rows]).sum())
