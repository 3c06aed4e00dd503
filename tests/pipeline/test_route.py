"""One route from traces to judgements, against the truth of an invented world."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from judged_routes import judged
from thinly import first_quick
from trackspread.geometry.crossings import Crossings
from trackspread.model import NOTHING
from trackspread.options import Options
from trackspread.pipeline import route as module
from trackspread.pipeline.route import Judged, scale_dof
from trackspread.results.words.reasons import said
from world import Fault, Receiver, World, simulate
from world.witnesses import as_witnesses

PAIR = (Receiver(name="alder"), Receiver(name="bilberry"))
OPTIONS = Options()


def named(result: Judged, world: World) -> list[tuple[str, int, str, float, float]]:
    """Return receiver, ride, cause and ends of every run."""
    station = result.line.station_m
    return [
        (
            world.recordings[r.trace].receiver.name,
            world.recordings[r.trace].ride,
            r.cause,
            station[r.first],
            station[r.last],
        )
        for r in result.runs
    ]


# --- causes ------------------------------------------------------------------------------------------

STRETCH = Fault(kind="stretch", ride=1, receiver="alder", from_m=900, to_m=1150, offset_m=22.0)
DETOUR = Fault(kind="detour", ride=2, from_m=1500, to_m=1700, offset_m=-35.0)


def test_a_receiver_s_fault_and_a_rider_s_detour_are_told_apart_by_the_companion() -> None:
    world = simulate(
        "straight", seed=2, rides=5, length_m=2400, receivers=PAIR, faults=[STRETCH, DETOUR], lights=0
    )
    found = named(judged(world), world)
    faults = [run for run in found if run[2] == "receiver"]
    assert [run[:2] for run in faults] == [("alder", 1)]
    assert faults[0][3:] == pytest.approx((900, 1150), abs=40.0)
    lines = [run for run in found if run[2] == "line"]
    assert sorted(run[:2] for run in lines) == [("alder", 2), ("bilberry", 2)]
    for run in lines:
        assert run[3:] == pytest.approx((1500, 1700), abs=60.0)
    assert len(found) == 3


@pytest.mark.parametrize("seed", [113, 126])
def test_of_two_rides_with_two_receivers_only_what_strayed_is_told(seed: int) -> None:
    """Its companion and it lie about a middle that the whole other ride seems to leave; nobody went there."""
    world = simulate(
        "winding", seed=seed, rides=2, length_m=2500, lights=1, common_share=0.3,
        receivers=[Receiver(name=name, sigma_m=1.5) for name in ("alder", "birch")],
        faults=[Fault(kind="stretch", ride=0, receiver="alder", from_m=1000, to_m=1300, offset_m=22)],
    )  # fmt: skip
    there = [run for run in named(judged(world), world) if run[3] < 1300 and run[4] > 950]
    assert [(run[0], run[1], run[2]) for run in there] == [("alder", 0, "receiver")]


def test_alone_nobody_can_tell_why() -> None:
    world = simulate("straight", seed=2, rides=5, length_m=2400, faults=[STRETCH], lights=0)
    found = named(judged(world), world)
    assert [run[:3] for run in found] == [("alder", 1, "unknown")]


def test_a_detour_out_of_reach_is_a_stretch_too() -> None:
    far = Fault(kind="detour", ride=2, from_m=1200, to_m=1500, offset_m=150.0)
    world = simulate("straight", seed=3, rides=5, length_m=2400, receivers=PAIR, faults=[far], lights=0)
    result = judged(world)
    found = named(result, world)
    assert sorted(run[:3] for run in found) == [("alder", 2, "line"), ("bilberry", 2, "line")]
    assert all(run[3:] == pytest.approx((1200, 1500), abs=80) for run in found)
    assert all(r.side == 1 for r in result.runs)
    assert result.found.away[result.runs[0].trace].any()


@pytest.mark.parametrize("companion", [True, False])
def test_a_stretch_after_a_gap_says_so_where_nobody_else_was_there(companion: bool) -> None:
    faults = [
        Fault(kind="gap", ride=1, receiver="alder", from_m=780, to_m=905),
        Fault(kind="stretch", ride=1, receiver="alder", from_m=900, to_m=1150, offset_m=22.0),
    ]
    receivers = PAIR if companion else PAIR[:1]
    world = simulate("straight", seed=4, rides=5, length_m=2400, receivers=receivers, faults=faults, lights=0)
    causes = {run[2] for run in named(judged(world), world) if run[:2] == ("alder", 1) and run[4] > 950}
    assert causes == ({"receiver"} if companion else {"after a gap"})


# --- the line and the spread without them ------------------------------------------------------------


def test_stretches_neither_bend_the_line_nor_enter_the_spread() -> None:
    calm = simulate("straight", seed=5, rides=5, length_m=2000, lights=0)
    faults = [
        replace(STRETCH, ride=r, from_m=f, to_m=f + 250, offset_m=o)
        for r, f, o in ((0, 700, 25), (1, 1200, -25))
    ]
    torn = simulate("straight", seed=5, rides=5, length_m=2000, lights=0, faults=faults)
    plain, spoilt = judged(calm), judged(torn)
    assert {r.trace for r in spoilt.runs} == {0, 1}
    spread = [np.sqrt(np.nanmean(j.variance.variance_m2)) for j in (plain, spoilt)]
    assert spread[1] == pytest.approx(spread[0], rel=0.08)
    off = [
        np.abs(np.nanmean(np.where(j.left_out, np.nan, j.found.offset_m), axis=0)).max()
        for j in (plain, spoilt)
    ]
    assert max(off) < 1.5


def test_what_is_left_out_covers_the_runs_with_a_margin() -> None:
    world = simulate("straight", seed=2, rides=5, length_m=2400, faults=[STRETCH], lights=0)
    result = judged(world)
    (run,) = result.runs
    out = np.flatnonzero(result.left_out[run.trace])
    assert (out[0], out[-1]) == (run.first - 3, run.last + 3)
    assert not np.delete(result.left_out, run.trace, axis=0).any()


def test_offsets_come_back_as_they_were() -> None:
    """On a straight line the offsets found are the true ones less the mean error of the line."""
    world = simulate("straight", seed=6, rides=5, length_m=1500, lights=0)
    result = judged(world)
    start = result.tracks.bundle
    for number, recording in enumerate(world.recordings):
        known = np.isfinite(result.point_station_m[start.of(number)])
        east, north = world.globe.to_plane(recording.lon_deg, recording.lat_deg)
        true = np.interp(result.line.station_m, east - east[known][0], -north)
        apart = (result.found.offset_m[number] - true)[20:-20]
        assert np.nanstd(apart) < 1.6  # the error of the mean of five
    across = np.nanmean([np.nanstd(result.found.offset_m, axis=0, ddof=1)])
    assert across == pytest.approx(world.spread_m(world.recordings[0].receiver), rel=0.45)


# --- first fix ---------------------------------------------------------------------------------------


def test_first_and_settled_fix_are_those_of_the_world() -> None:
    faults = [
        Fault(kind="late", ride=1, receiver="alder", seconds=45.0),
        Fault(kind="settling", ride=3, receiver="alder", offset_m=30.0, seconds=60.0),
    ]
    known = [True, True, False, True, True, True]
    world = simulate("straight", seed=7, rides=6, length_m=2000, faults=faults, start_known=known, lights=0)
    result = judged(world)
    for number, recording in enumerate(world.recordings):
        first, settled = result.fixes[number]
        if recording.start_known:
            assert first.value_s == pytest.approx(recording.first_fix_s, abs=1e-3)
            truth = recording.settled_s(settled.band_m, settled.hold_s)
            assert settled.value_s == pytest.approx(truth, abs=8.0)
        else:
            assert np.isnan(first.value_s)
            assert np.isnan(settled.value_s)
            assert first.reason == settled.reason != NOTHING
    assert {r.cause for r in result.runs if r.trace == 3} == {"settling"}
    assert result.settling[3] > 10
    assert result.left_out[3, : result.settling[3]].all()
    assert result.fixes[1][0].at_station_m == pytest.approx(world.recordings[1].true_station_m[0], abs=45)


def test_a_run_right_after_settling_is_its_tail() -> None:
    run = module.Run(trace=0, first=30, last=40, side=1, cause="unknown")
    phase = module.Run(trace=0, first=2, last=23, side=1, cause="settling")
    told = {}
    for settling in ([24, 0], [23, 0], [0, 30]):
        found = module._with_settling([run], [phase], settling, OPTIONS, 5.0)
        told[settling[0]] = [(r.first, r.last, r.cause) for r in found]
    assert told[24] == [(2, 40, "settling")]
    assert told[23] == told[0] == [(2, 23, "settling"), (30, 40, "unknown")]
    (alone,) = module._with_settling([run], [], [24, 0], OPTIONS, 5.0)
    assert (alone.first, alone.last, alone.cause) == (30, 40, "settling")


@pytest.mark.parametrize("offset_m", [20.0, 40.0, 80.0, 120.0, 400.0])
@pytest.mark.parametrize("shape", ["straight", "winding"])
def test_a_start_far_off_is_a_settling_phase_from_the_first_station_on(shape: str, offset_m: float) -> None:
    """Beyond the reach of matching (60 m) too: the phase is shown whole, and its fix settles with the truth."""
    slow = Fault(kind="settling", ride=1, offset_m=offset_m, seconds=100.0)
    world = simulate(shape, seed=1, rides=5, length_m=3000, lights=0, faults=[slow])
    result = judged(world)
    (run,) = [r for r in result.runs if r.trace == 1]
    station = result.line.station_m
    assert run.cause == "settling"
    assert station[run.first] <= 30.0
    deviation = result.deviation.deviation_m[1]
    assert np.nanmax(np.abs(deviation[run.first : run.last])) == pytest.approx(offset_m, rel=0.35, abs=6.0)
    settled = result.fixes[1][1]
    true = world.recordings[1].settled_s(settled.band_m, settled.hold_s)
    assert settled.value_s == pytest.approx(true, abs=12.0)
    assert station[run.last] >= settled.at_station_m - 10.0
    assert (np.isfinite(result.found.offset_m[1]) | result.found.away[1]).mean() > 0.97


def test_a_fix_that_leaps_to_the_line_settles_with_the_leap() -> None:
    """150 m aside for 30 s while riding on, then all at once right: before the leap nothing had settled."""
    world = simulate("winding", seed=15, rides=4, lights=0, length_m=1500)
    witnesses = as_witnesses(world)
    odd = witnesses[2].trace
    after_s = odd.time_s - world.recordings[2].start_s
    east, north = world.globe.to_plane(odd.lon_deg, odd.lat_deg)
    right = world.route.right(np.zeros(1))[0] * np.where(after_s < 30.0, 150.0, 0.0)[:, None]
    lon, lat = world.globe.to_lonlat(east + right[:, 0], north + right[:, 1])
    witnesses[2] = replace(witnesses[2], trace=replace(odd, lon_deg=lon, lat_deg=lat))
    first, settled = judged(witnesses).fixes[2]
    assert first.value_s == world.recordings[2].first_fix_s
    assert settled.value_s == pytest.approx(30.0, abs=1.0)
    ridden_m = np.interp(30.0, after_s, world.recordings[2].true_station_m)
    begins_m = np.median([r.true_station_m[0] for r in world.recordings])  # where half of the traces do
    assert settled.at_station_m == pytest.approx(ridden_m - begins_m, abs=10.0)


# --- variants and two rides --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rides", "others", "span_m", "aside_m", "length_m"),
    first_quick([(143, 65, (700, 810), 15.0, 1500), (38, 13, (5000, 7000), 400.0, 14000)]),
)
def test_a_way_that_many_rides_took_is_one_variant_and_no_stretch(
    rides: int, others: int, span_m: tuple[float, float], aside_m: float, length_m: float
) -> None:
    """13 of 38 rides 400 m aside over 2 km, 65 of 143 over 110 m: once so many stretches, cause unknown."""
    faults = [
        Fault(kind="detour", ride=r, from_m=span_m[0], to_m=span_m[1], offset_m=aside_m)
        for r in range(others)
    ]
    world = simulate("straight", seed=1, rides=rides, length_m=length_m, lights=0, faults=faults)
    result = judged(world)
    (way,) = result.ways.found
    assert set(way.traces) == set(range(others))
    assert way.aside_m == pytest.approx(aside_m, abs=4.0)
    assert result.line.station_m[[way.first, way.last]] == pytest.approx(span_m, abs=60.0)
    inside = slice(way.first, way.last + 1)
    assert not [
        r for r in result.runs if r.first <= way.last and r.last >= way.first and r.trace in way.traces
    ]
    assert result.left_out[list(way.traces), inside].all()
    spread = np.sqrt(np.nanmean(result.variance.variance_m2[inside]))
    assert spread == pytest.approx(world.spread_m(world.recordings[0].receiver), rel=0.35)


def test_two_loops_that_share_most_of_their_way_are_told_as_two_ways() -> None:
    faults = [Fault(kind="detour", ride=r, from_m=1200, to_m=1500, offset_m=150.0) for r in (0, 1, 2)]
    world = simulate("straight", seed=2, rides=6, length_m=3000, lights=0, faults=faults)
    result = judged(world)
    (way,) = result.ways.found
    assert set(way.traces) in ({0, 1, 2}, {3, 4, 5})
    assert way.aside_m == pytest.approx(150.0, abs=8.0)
    assert not result.runs


def test_of_two_rides_nobody_can_say_which_left() -> None:
    """Two alike companions on one ride and one lone ride: the lone one was said to leave over 80 % of the way."""
    aside = Fault(kind="detour", ride=1, from_m=400, to_m=2000, offset_m=25.0)
    world = simulate("straight", seed=3, rides=2, length_m=2400, receivers=PAIR, faults=[aside], lights=0)
    lone = [w for w in as_witnesses(world) if (w.ride, w.receiver) != ("2", "bilberry")]
    result = judged(lone)
    assert len(lone) == 3
    assert result.runs == ()
    spread = np.sqrt(result.variance.variance_m2)
    middle = slice(len(spread) // 3, len(spread) * 2 // 3)
    assert np.nanmedian(spread[middle]) == pytest.approx(25.0 / np.sqrt(2.0), rel=0.35)


# --- small parts -------------------------------------------------------------------------------------


def test_nothing_logged_is_between_the_first_and_the_last_crossing() -> None:
    offset = np.array([[np.nan, 1, np.nan, np.nan, 2, np.nan], [np.nan] * 6, [1.0] * 6])
    away = np.zeros(offset.shape, bool)
    away[0, 3] = True
    found = Crossings(offset_m=offset, time_s=offset, span_m=offset, away=away, away_m=offset)
    assert np.argwhere(module._nothing_logged(found)).tolist() == [[0, 2]]


def test_few_rides_that_wander_slowly_know_their_scale_badly() -> None:
    world = simulate("straight", seed=9, rides=4, length_m=1500, lights=0)
    four = judged(world)
    known = scale_dof(four.tracks, four.variance)
    shared = four.variance.correlation.mean_square(0, len(four.variance.count))
    assert known == pytest.approx(1.0 / shared)
    assert 0.9 < known < 8.0


def test_without_times_there_is_a_line_and_a_spread_and_no_fix() -> None:
    world = simulate("winding", seed=11, rides=5, length_m=1200, lights=0)
    bare = [
        replace(w, trace=replace(w.trace, time_s=np.full(len(w.trace.time_s), np.nan)))
        for w in as_witnesses(world)
    ]
    result, timed = judged(bare), judged(world)
    assert result.line.length_m == pytest.approx(timed.line.length_m, abs=1.0)
    assert np.nanmean(result.variance.variance_m2) == pytest.approx(
        np.nanmean(timed.variance.variance_m2), rel=0.05
    )
    for first, settled in result.fixes:
        assert np.isnan(first.value_s)
        assert np.isnan(settled.value_s)
        assert "no times" in said(first.reason)
        assert "no times" in said(settled.reason)
