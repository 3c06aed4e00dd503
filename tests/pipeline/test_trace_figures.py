"""Figures of every trace of a judged route, recounted and against the truth."""

from __future__ import annotations

import numpy as np
import pytest

from judged_routes import judged
from trackspread.geometry.crossings import Crossings
from trackspread.pipeline import trace_figures as module
from trackspread.pipeline.route import Judged
from trackspread.pipeline.trace_figures import trace_figures
from world import Receiver, World, simulate


def test_spread_bias_and_percentile_of_a_trace_are_those_of_its_deviation() -> None:
    """Of n alike rides a deviation from the n - 1 others has sqrt(n / (n - 1)) times the spread of one."""
    squares, worlds = [], range(8)
    for seed in worlds:
        world = simulate("straight", seed=seed, rides=6, length_m=1500, lights=0)
        squares += [trace.spread_m**2 for trace in trace_figures(judged(world))]
    sigma = world.spread_m(world.recordings[0].receiver)
    assert np.sqrt(np.mean(squares)) == pytest.approx(sigma, rel=0.15)


def test_a_trace_s_own_figures_are_recounted(result: Judged) -> None:
    for number, trace in enumerate(trace_figures(result)):
        own = result.deviation.deviation_m[number][~result.left_out[number]]
        own = own[np.isfinite(own)]
        assert trace.number == number
        assert trace.bias_m == pytest.approx(own.mean())
        assert trace.spread_m == pytest.approx(np.sqrt(np.mean(own**2) * 4 / 5))
        assert trace.p95_m == pytest.approx(np.quantile(np.abs(own), 0.95) * np.sqrt(4 / 5))
        assert (trace.first_fix, trace.settled_fix) == result.fixes[number]


def test_coverage_length_and_names_are_those_of_the_recording(world: World, result: Judged) -> None:
    for recording, trace in zip(world.recordings, trace_figures(result), strict=True):
        east, north = world.globe.to_plane(recording.lon_deg, recording.lat_deg)
        length = np.hypot(np.diff(east), np.diff(north)).sum()
        assert trace.recorded_length_m == pytest.approx(length, rel=1e-5)
        assert (trace.file, trace.receiver, trace.ride) == (recording.file, "alder", str(recording.ride + 1))
        expected = 0.9 if recording.ride == 1 else 1.0
        assert trace.coverage == pytest.approx(expected, abs=0.03)


def test_the_station_of_every_logged_point_is_its_true_one(world: World, result: Judged) -> None:
    starts = []
    for recording, trace in zip(world.recordings, trace_figures(result), strict=True):
        assert trace.station_m.shape == trace.lon_deg.shape
        known = np.isfinite(trace.station_m)
        assert known.mean() > 0.97
        off = (trace.station_m - recording.true_station_m)[known]
        starts.append(np.median(off))
        assert np.abs(off - np.median(off)).max() < 15.0
    assert np.ptp(starts) < 6.0


def test_fast_logging_gets_a_station_for_every_point_too() -> None:
    receiver = Receiver(sampling="5 Hz")
    world = simulate("straight", seed=22, rides=4, length_m=900, receivers=[receiver], lights=[400.0])
    for recording, trace in zip(world.recordings, trace_figures(judged(world)), strict=True):
        assert len(trace.station_m) == len(recording.lon_deg)
        known = np.isfinite(trace.station_m)
        off = (trace.station_m - recording.true_station_m)[known]
        assert np.abs(off - np.median(off)).max() < 15.0
        assert known.mean() > 0.97


# --- gaps --------------------------------------------------------------------------------------------


def test_a_gap_is_told_with_its_ends_and_its_seconds(world: World, result: Judged) -> None:
    traces = trace_figures(result)
    assert [len(trace.gaps) for trace in traces] == [0, 1, 0, 0, 0]
    (gap,) = traces[1].gaps
    recording = world.recordings[1]
    at = int(np.argmax(np.diff(recording.true_station_m)))
    offset = np.nanmedian(traces[1].station_m - recording.true_station_m)
    assert gap.from_m == pytest.approx(recording.true_station_m[at] + offset, abs=10.0)
    assert gap.to_m == pytest.approx(recording.true_station_m[at + 1] + offset, abs=10.0)
    assert gap.seconds == pytest.approx(recording.time_s[at + 1] - recording.time_s[at], abs=3.0)


def gaps_of(offset: list[float], away: list[bool] | None = None) -> list[tuple[float, float, float]]:
    size = len(offset)
    row = np.array([offset])
    time = np.where(np.isfinite(row), 10.0 * np.arange(size), np.nan)
    seen = np.array([away]) if away else np.zeros((1, size), bool)
    time = np.where(seen, 10.0 * np.arange(size), time)
    crossing = Crossings(offset_m=row, time_s=time, span_m=row, away=seen, away_m=row)

    class Line:
        station_m = 5.0 * np.arange(size)

    class Route:
        found, line = crossing, Line

    return [(g.from_m, g.to_m, g.seconds) for g in module._gaps(Route, 0)]  # type: ignore[arg-type]


def test_gaps_lie_between_stations_with_data() -> None:
    nan = float("nan")
    assert gaps_of([nan, 1, nan, nan, 1, 1, nan]) == [(5.0, 20.0, 30.0)]
    assert gaps_of([1, nan, 1, nan, nan, 1]) == [(0.0, 10.0, 20.0), (10.0, 25.0, 30.0)]
    assert gaps_of([1, nan, nan, 1], [False, True, True, False]) == []
    assert gaps_of([nan, nan, nan]) == []
    assert gaps_of([1.0, 1.0]) == []
