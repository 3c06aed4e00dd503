"""Figures of a judged route: segments, gaps, traces, receivers, against the truth and recounted."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from judged_routes import judged
from trackspread.options import Options
from trackspread.pipeline import figures
from trackspread.pipeline.analyse import analyse
from trackspread.pipeline.route import Judged
from trackspread.results.words.reasons import said
from trackspread.statistics.first_fix import approached_to_m
from world import SHAPES, Fault, Receiver, World, simulate
from world.routes import rounded
from world.witnesses import as_witnesses

OPTIONS = Options()


def with_offsets(base: Judged, offset_m: np.ndarray) -> Judged:
    """Return a judged route with other offsets and nothing left out."""
    nothing = np.zeros(offset_m.shape, bool)
    found = replace(base.found, offset_m=offset_m, away=nothing, away_m=np.full(offset_m.shape, np.nan))
    return replace(base, found=found, left_out=nothing, runs=())


# --- segments ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("segment_m", [50.0, 100.0, 330.0, 5000.0])
def test_segments_tile_the_line_and_no_rest_is_below_half_a_segment(result: Judged, segment_m: float) -> None:
    found = figures.segments(result, Options(segment_m=segment_m))
    assert found[0].from_m == 0.0
    assert found[-1].to_m == result.line.length_m
    assert len(found) == max(1, round(result.line.length_m / segment_m))
    for before, after in itertools.pairwise(found):
        assert before.to_m == after.from_m == pytest.approx(segment_m * found.index(after))
    assert found[-1].to_m - found[-1].from_m >= min(0.5 * segment_m, result.line.length_m)
    assert found[-1].to_m - found[-1].from_m <= 1.5 * segment_m


def test_figures_of_a_segment_are_recounted_from_its_stations(result: Judged) -> None:
    station = result.line.station_m
    every = np.where(result.found.away, result.found.away_m, result.found.offset_m)
    for segment in figures.segments(result, OPTIONS):
        last = segment.to_m == station[-1]
        part = (station >= segment.from_m) & ((station < segment.to_m) | last)
        inside = every[:, part]
        assert segment.coverage == pytest.approx(np.isfinite(inside).mean())
        assert segment.traces == (np.isfinite(inside).mean(axis=1) >= 0.5).sum()
        assert segment.widest_m == pytest.approx(
            (np.nanmax(inside, axis=0) - np.nanmin(inside, axis=0)).max()
        )
        assert segment.spread.value == pytest.approx(np.sqrt(np.nanmean(result.variance.variance_m2[part])))
        assert segment.spread.low < segment.spread.value < segment.spread.high


def test_a_gap_thins_its_segments_and_a_fault_tears_its_own(result: Judged) -> None:
    segments = figures.segments(result, OPTIONS)
    middle = {round((s.from_m + s.to_m) / 2): s for s in segments}
    assert middle[50].traces == 5
    assert middle[650].traces == 4
    assert middle[650].coverage == pytest.approx(0.8, abs=0.05)
    torn = middle[1150]
    assert torn.verdict == "torn"
    assert said(torn.reasons[0]) == (
        "20% of the rides are more than 6 m astray (alder_03.gpx); the limit is 20% or more"
    )
    assert torn.widest_m > 20
    assert middle[250].verdict in ("steady", "wavering")


@pytest.mark.parametrize(("sd_m", "verdict"), [(1.0, "steady"), (4.5, "wavering"), (9.0, "torn")])
def test_the_verdict_follows_the_thresholds(result: Judged, sd_m: float, verdict: str) -> None:
    segments = figures.segments(replace(result, runs=()), OPTIONS)
    known = segments[3].spread.value
    scaled = replace(result.variance, variance_m2=result.variance.variance_m2 * (sd_m / known) ** 2)
    found = figures.segments(replace(result, runs=(), variance=scaled), OPTIONS)[3]
    assert found.verdict == verdict
    assert said(found.reasons[0]).startswith(f"spread {sd_m:.1f} m, ")


def test_few_traces_make_a_segment_thin(result: Judged) -> None:
    few = figures.segments(result, Options(min_traces=6))
    assert {s.verdict for s in few} == {"thin"}
    assert tuple(map(said, few[0].reasons)) == ("5 traces, at least 6 are needed",)


@pytest.mark.parametrize(("stations", "verdict"), [(1, "steady"), (10, "wavering"), (20, "torn")])
def test_a_stretch_counts_by_the_share_of_the_segment_that_it_takes_up(
    result: Judged, stations: int, verdict: str
) -> None:
    """One of five rides: 1 % of the rides over a twentieth of the segment, 10 % over half, 20 % over all."""
    (run,) = (r for r in result.runs if r.trace == 2)
    first = int(np.searchsorted(result.line.station_m, 300.0))
    quiet = replace(result.variance, variance_m2=np.ones_like(result.variance.variance_m2))
    far = result.deviation.deviation_m.copy()
    far[2] = 20.0
    base = replace(result, variance=quiet, deviation=replace(result.deviation, deviation_m=far))
    inside = replace(run, first=first, last=first + stations - 1)
    assert figures.segments(replace(base, runs=(inside,)), OPTIONS)[3].verdict == verdict
    settling = replace(run, first=first, last=first + 19, cause="settling")
    assert figures.segments(replace(base, runs=(settling,)), OPTIONS)[3].verdict == "steady"


def test_each_watch_has_its_own_spread_and_verdict_on_every_segment() -> None:
    calm, rough = Receiver(name="alder", sigma_m=1.0), Receiver(name="birch", sigma_m=6.0)
    world = simulate("straight", seed=3, rides=6, length_m=1500, receivers=(calm, rough), lights=0)
    found = figures.segments(judged(world), OPTIONS)
    for segment in found:
        assert [own.receiver for own in segment.receivers] == ["alder", "birch"]
        assert all(own.spread.low < own.spread.value < own.spread.high for own in segment.receivers)
    mean = {
        own.receiver: np.sqrt(np.mean([s.receivers[k].spread.value ** 2 for s in found]))
        for k, own in enumerate(found[0].receivers)
    }
    assert mean["alder"] == pytest.approx(world.spread_m(calm), rel=0.35)
    assert mean["birch"] == pytest.approx(world.spread_m(rough), rel=0.35)
    assert {s.receivers[0].verdict for s in found} == {"steady"}
    assert "steady" not in {s.receivers[1].verdict for s in found if s.receivers[1].spread.value > 3.0}


def test_a_route_where_one_trace_is_left_has_no_spread(result: Judged) -> None:
    nothing = np.full(result.variance.variance_m2.shape, np.nan)
    thin = replace(result, variance=replace(result.variance, variance_m2=nothing))
    segment = figures.segments(thin, OPTIONS)[0]
    assert segment.verdict == "thin"
    assert np.isnan(segment.spread.value)


def test_no_two_traces_make_no_width(result: Judged) -> None:
    offset = np.full(result.found.offset_m.shape, np.nan)
    offset[0] = 1.0
    segment = figures.segments(with_offsets(result, offset), OPTIONS)[0]
    assert np.isnan(segment.widest_m)
    assert segment.coverage == pytest.approx(0.2)


# --- residuals and traces ----------------------------------------------------------------------------


def test_residuals_have_no_mean_and_leave_out_what_is_left_out(result: Judged) -> None:
    residual = figures.residual_m(result)
    assert np.isnan(residual[result.left_out]).all()
    known = np.isfinite(residual).any(axis=0)
    np.testing.assert_allclose(np.nansum(residual[:, known], axis=0), 0.0, atol=1e-9)


# --- stretches and receivers -------------------------------------------------------------------------


def test_a_stretch_is_told_as_it_was(world: World, result: Judged) -> None:
    (stretch,) = figures.stretches(result)
    recording = world.recordings[2]
    assert (stretch.number, stretch.file, stretch.side) == (2, recording.file, "right")
    assert stretch.peak_m == pytest.approx(25.0, abs=6.0)
    assert stretch.mean_m == pytest.approx(22.0, abs=6.0)
    assert stretch.mean_m <= stretch.peak_m
    inside = (recording.true_station_m > 1100) & (recording.true_station_m < 1300)
    assert stretch.seconds == pytest.approx(np.ptp(recording.time_s[inside]), abs=8.0)
    assert stretch.start_time_s == pytest.approx(recording.time_s[inside][0], abs=8.0)
    assert stretch.to_m - stretch.from_m == pytest.approx(200.0, abs=40.0)
    assert stretch.cause == "unknown"


def test_receivers_are_told_apart_by_their_spread_fixes_and_stretches() -> None:
    pair = [Receiver(name="alder", sigma_m=1.0), Receiver(name="bilberry", sigma_m=5.0)]
    faults = [Fault(kind="stretch", ride=2, receiver="alder", from_m=700, to_m=900, offset_m=30.0)]
    world = simulate("straight", seed=23, rides=6, length_m=1500, receivers=pair, faults=faults, lights=0)
    result = judged(world)
    alder, bilberry = figures.receivers(result, OPTIONS)
    assert (alder.receiver, bilberry.receiver) == ("alder", "bilberry")
    assert alder.rides == bilberry.rides == 6
    assert alder.spread.value < 2.2
    assert bilberry.spread.value > 2.5
    for found, name in ((alder, "alder"), (bilberry, "bilberry")):
        truth = [r.first_fix_s for r in world.recordings if r.receiver.name == name]
        assert found.first_fix_s.median == pytest.approx(np.median(truth), abs=1e-3)
        assert found.first_fix_s.n == 6
        assert found.spread.low < found.spread.value < found.spread.high
    assert alder.stretch_share == pytest.approx(200 / 9000, rel=0.35)


def test_a_ride_that_never_settles_is_counted_as_such() -> None:
    endless = Fault(kind="settling", ride=1, offset_m=30.0, seconds=3000.0)
    world = simulate("straight", seed=24, rides=6, length_m=900, faults=[endless], lights=0)
    result = judged(world)
    (alder,) = figures.receivers(result, OPTIONS)
    assert result.fixes[1][1].censored
    assert alder.settled_fix_s.n == 6
    assert alder.settled_fix_s.censored == 1
    assert np.isnan(alder.settled_fix_s.high)
    assert np.isfinite(alder.settled_fix_s.median)


@pytest.mark.parametrize(("rides", "names"), [(1, ("alder", "birch")), (2, ("alder",))])
def test_where_no_trace_could_be_judged_no_share_of_stretches_is_given(
    rides: int, names: tuple[str, ...]
) -> None:
    """One ride of two receivers, two rides of one: nobody knows which of two traces 25 m apart is astray."""
    astray = Fault(kind="stretch", ride=0, receiver="alder", from_m=400, to_m=700, offset_m=25.0)
    crew = [Receiver(name=name) for name in names]
    few = simulate("straight", seed=5, rides=rides, length_m=1000, lights=0, receivers=crew, faults=[astray])
    found = judged(few)
    assert found.runs == ()
    assert all(np.isnan(r.stretch_share) for r in figures.receivers(found, OPTIONS))


def test_an_approach_by_another_street_is_no_error_of_a_watch() -> None:
    """One of five rides comes from 80 m aside over 400 m: the spread of all errors was twice what it is."""
    straight = SHAPES["straight"](np.random.default_rng(0), 2400.0, False)
    others = as_witnesses(simulate(straight, seed=3, rides=4, lights=0))
    street = rounded(np.array([(0.0, 80.0), (420.0, 80.0), (420.0, 0.0), (2400.0, 0.0)]), 8.0)
    late = as_witnesses(simulate(street, seed=53, rides=1, lights=0, first_start_s=2_000_000_000.0))[0]
    late = replace(late, ride="5", trace=replace(late.trace, file="late.gpx"))
    found = analyse([*others, late], Options())
    (route,) = found.routes
    assert np.isfinite(approached_to_m(route.traces[4].first_fix))
    assert route.spread_all.value < 1.2 * route.spread.value
    assert found.comparison.receivers[0].spread.value < 1.2 * route.spread.value
