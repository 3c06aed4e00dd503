"""Laps: a recording that goes round and round becomes one ride a lap, and nothing else is touched."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from polylines import along
from trackspread.model import Analysis, Reason, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.results.words.reasons import said
from trackspread.rides.laps import LATER_LAP, lap_starts, with_laps
from world import SHAPES, Receiver, Route, World, simulate
from world.routes import rounded, route_along
from world.witnesses import as_witnesses

CORRIDOR_M = 40.0
CIRCUITS = ["loop", "figure of eight"]


def circuit(shape: str, length_m: float = 1000.0) -> np.ndarray:
    route = SHAPES[shape](np.random.default_rng(3), length_m, False)
    return np.stack([route.east_m, route.north_m], axis=1)


def ridden(one: np.ndarray, start: float, laps: float, back: float = 0.0) -> Route:
    """Return the way from share ``start`` of a circuit over ``laps`` laps, then ``back`` the other way."""
    points = len(one) - 1
    first, turn = int(start * points), int((start + laps) * points)
    way = [one[np.arange(first, turn + 1) % points]]
    if back:
        way.append(one[np.arange(turn, turn - int(back * points) - 1, -1) % points])
    return route_along(np.concatenate(way))


def recorded(route: Route, rides: int = 2, pause_s: float = 0.0, **more: object) -> World:
    lights = [0.37 * route.length_m] if pause_s else []
    return simulate(route, seed=5, rides=rides, lights=lights, wait_s=(pause_s, pause_s), **more)


def analysed(world: World) -> Analysis:
    return analyse(as_witnesses(world), Options(laps=True))


def lengths(found: Analysis) -> list[tuple[int, float]]:
    """Return how many traces each route has, and its length."""
    return [(len(route.traces), route.length_m) for route in found.routes]


@pytest.mark.parametrize("shape", CIRCUITS)
@pytest.mark.parametrize(
    ("start", "laps", "pause_s", "pieces"),
    [(0.0, 5, 0, 10), (0.0, 5, 300, 10), (0.4, 5, 0, 10), (0.5, 6, 0, 12), (0.0, 2, 0, 4)],
    ids=["five laps", "with a pause", "started midway", "half a lap more", "two laps"],
)
def test_laps_are_rides_of_one_route(
    shape: str, start: float, laps: float, pause_s: float, pieces: int
) -> None:
    world = recorded(ridden(circuit(shape), start, laps), pause_s=pause_s)
    found = analysed(world)
    assert [count for count, _ in lengths(found)] == [pieces]
    assert lengths(found)[0][1] == pytest.approx(
        980, abs=35
    )  # bends are cut by centrelines, never lengthened
    assert [said(record.reason) for record in found.inputs] == [""] * pieces
    (route,) = found.routes
    assert {trace.ride for trace in route.traces} == {
        f"{ride} lap {lap}" for ride in (1, 2) for lap in range(1, pieces // 2 + 1)
    }


@pytest.mark.parametrize("shape", CIRCUITS)
def test_half_laps_before_and_after_belong_to_the_route(shape: str) -> None:
    found = analysed(recorded(ridden(circuit(shape), 0.5, 5.8)))
    assert lengths(found)[0][0] == len(found.inputs) == 12
    assert sorted(round(trace.coverage, 1) for trace in found.routes[0].traces)[:2] == [0.8, 0.8]


@pytest.mark.parametrize("shape", CIRCUITS)
@pytest.mark.parametrize("turn", [0.0, 0.5], ids=["turned at the start", "turned midway"])
def test_laps_the_other_way_round_are_another_route(shape: str, turn: float) -> None:
    found = analysed(recorded(ridden(circuit(shape), 0.0, 4 + turn, back=4)))
    assert [count >= 8 for count, _ in lengths(found)] == [True, True]
    there, back = found.routes
    assert there.length_m == pytest.approx(back.length_m, rel=0.05)
    east = [np.interp(0.25, np.linspace(0, 1, len(r.lon_deg)), r.lon_deg) for r in (there, back)]
    assert abs(east[0] - east[1]) > 1e-4, "a quarter of the way round they are at other places"


@pytest.mark.parametrize("length_m", [300.0, 1000.0])
def test_twenty_laps(length_m: float) -> None:
    found = analysed(recorded(ridden(circuit("loop", length_m), 0.0, 20), rides=1))
    assert lengths(found) == [(20, pytest.approx(length_m, rel=0.1))]


def test_laps_of_receivers_ridden_together_bear_the_same_number() -> None:
    """One starts so late that its first lap is cut short: by the clock its laps are still the other's."""
    pair = [Receiver(name="alder"), Receiver(name="bilberry")]
    world = recorded(ridden(circuit("loop"), 0.0, 4), rides=1, receivers=pair)
    alder, bilberry = as_witnesses(world)
    late = replace(bilberry, trace=cut(bilberry, slice(40, None)).trace)
    parts = with_laps([alder, late], CORRIDOR_M)
    spans = {(w.receiver, w.ride): (w.trace.time_s[0], w.trace.time_s[-1]) for w in parts}
    assert {ride for _, ride in spans} == {f"1 lap {k}" for k in (1, 2, 3, 4)}
    for lap in (2, 3, 4):
        one, other = spans["alder", f"1 lap {lap}"], spans["bilberry", f"1 lap {lap}"]
        assert np.abs(np.subtract(one, other)).max() < 8.0, "and they are cut at one place"
    late_s = spans["bilberry", "1 lap 1"][0] - spans["alder", "1 lap 1"][0]
    assert late_s == pytest.approx(40, abs=8)


def test_recordings_of_one_circuit_are_cut_at_one_place() -> None:
    """Started at other places of the circuit: without a common gate half of a lap would fall off."""
    one = circuit("loop")
    worlds = [
        recorded(ridden(one, start, 3.3), rides=1, first_start_s=1.9e9 + 1e6 * start) for start in (0.1, 0.7)
    ]
    witnesses = [replace(w, ride=f"day {k}") for k, world in enumerate(worlds) for w in as_witnesses(world)]
    found = analyse(witnesses, Options(laps=True))
    whole = [trace for trace in found.routes[0].traces if trace.coverage > 0.95]
    assert len(found.routes) == 1
    assert len(whole) >= 5


@pytest.mark.parametrize("order", [(0, 1), (1, 0)], ids=str)
def test_two_laps_are_found_whatever_was_read_before(order: tuple[int, int]) -> None:
    """A recording of four laps that starts elsewhere has a gate by which this one comes once in its middle."""
    one = circuit("loop")
    worlds = [
        recorded(ridden(one, start, laps), rides=1, first_start_s=1.9e9 + 1e6 * laps)
        for start, laps in ((0.5, 4.0), (0.0, 2.0))
    ]
    every = [replace(w, ride=f"day {k}") for k, world in enumerate(worlds) for w in as_witnesses(world)]
    parts = with_laps([every[k] for k in order], CORRIDOR_M)
    counts = [sum(w.ride.startswith(f"day {k} lap") for w in parts) for k in (0, 1)]
    assert counts[0] in (4, 5)
    assert counts[1] in (2, 3)


def test_a_file_of_laps_among_others_says_so_and_what_to_do() -> None:
    one = circuit("loop")
    worlds = [
        recorded(ridden(one, 0.0, laps), rides=1, first_start_s=1.9e9 + 1e6 * laps)
        for laps in (1.0, 1.01, 3.0)
    ]
    every = [replace(w, ride=f"day {k}") for k, world in enumerate(worlds) for w in as_witnesses(world)]
    found = [record.findings for record in analyse(every, Options()).inputs]
    assert [[finding.code for finding in each] for each in found] == [[], [], ["laps"]]
    assert found[2][0].count in (3, 4)
    assert "--laps" in found[2][0].text


def test_where_all_files_hold_laps_they_are_split_and_numbered() -> None:
    world = recorded(ridden(circuit("loop"), 0.0, 3), rides=2)
    found = analyse(as_witnesses(world), Options())
    assert len(found.inputs) == len(found.routes[0].traces) == 6
    names = [record.file for record in found.inputs]
    assert names == [f"{r.file}#{k}" for r in world.recordings for k in (1, 2, 3)]


def cut(witness: Witness, part: slice) -> Witness:
    columns = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")
    return replace(
        witness,
        trace=replace(witness.trace, **{name: getattr(witness.trace, name)[part] for name in columns}),
    )


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_what_is_no_lap_stays_whole(shape: str) -> None:
    """Hairpins, a spur, a crossing, a single loop: ridden once."""
    witnesses = as_witnesses(simulate(shape, seed=9, rides=1, length_m=2500))
    assert with_laps(witnesses, CORRIDOR_M) == tuple(witnesses)


def test_once_around_a_block_is_no_lap() -> None:
    way = along([(0, 0), (2000, 0), (2000, 90), (1910, 90), (1910, 0), (4000, 0)], 5.0)
    witnesses = as_witnesses(simulate(route_along(way), seed=9, rides=1))
    assert with_laps(witnesses, CORRIDOR_M) == tuple(witnesses)


@pytest.mark.parametrize(("before_m", "laps"), [(10_000.0, False), (26_000.0, True)])
def test_one_great_round_is_a_lap_only_where_most_of_another_leads_up_to_it(
    before_m: float, laps: bool
) -> None:
    """A ride of 57 km that was really recorded passes one crossroads twice, after 10 and after 47 km."""
    one = circuit("loop", 37_000.0)
    start = int((1 - before_m / 37_000.0) * (len(one) - 1))
    way = route_along(np.concatenate([one[start:-1], one, one[1:300] + 5.0]))
    parts = with_laps(as_witnesses(simulate(way, seed=9, rides=1)), CORRIDOR_M)
    assert (len(parts) > 1) == laps


@pytest.mark.parametrize(("rounds", "laps"), [(1, 1), (4, 4)])
def test_the_lobes_of_a_figure_of_eight_are_no_laps(rounds: int, laps: int) -> None:
    """They meet at 53 degrees in its middle, where it starts: the same direction, by the width of the corridor."""
    turn = np.linspace(0.0, 2 * np.pi * rounds, 400 * rounds)
    way = route_along(250.0 * np.stack([np.sin(turn), np.sin(2 * turn)], axis=1))
    parts = with_laps(as_witnesses(simulate(way, seed=9, rides=1)), CORRIDOR_M)
    assert len(parts) in (laps, laps + (rounds > 1))


def test_a_long_rest_is_no_lap() -> None:
    """Half an hour on one spot, the fix wandering by metres: hundreds of metres of way, and no lap."""
    world = simulate("straight", seed=9, rides=1, length_m=1500, lights=[700.0], wait_s=(1800.0, 1800.0))
    witnesses = as_witnesses(world)
    assert with_laps(witnesses, CORRIDOR_M) == tuple(witnesses)


def test_laps_with_a_way_there_and_home() -> None:
    """3 km to the circuit and 3 km home: whole laps are rides, the ways there and home are set aside or part."""
    one = circuit("loop")
    road = along([(float(one[0, 0]) - 3000.0, float(one[0, 1])), tuple(one[0])], 5.0)
    way = route_along(np.concatenate([road, *[one[1:]] * 6, road[::-1]]))
    found = analysed(recorded(way, rides=1))
    (laps,) = [route for route in found.routes if len(route.traces) >= 5]
    assert laps.length_m == pytest.approx(980, abs=40)
    aside = [said(record.reason) for record in found.inputs if not record.route]
    assert aside
    assert all("shared with the nearest route" in reason or "no other trace" in reason for reason in aside)


def test_no_point_is_lost_and_laps_meet() -> None:
    (witness,) = as_witnesses(recorded(ridden(circuit("loop"), 0.2, 4.5), rides=1))
    trace = witness.trace
    starts = lap_starts(trace, CORRIDOR_M, [])
    parts = [w.trace for w in with_laps([witness], CORRIDOR_M)]
    assert parts[0].time_s[0] == trace.time_s[0]
    assert parts[-1].time_s[-1] == trace.time_s[-1]
    for before, after in pairwise(parts):
        assert before.time_s[-1] == after.time_s[0]
    assert sum(len(p.time_s) for p in parts) == len(trace.time_s) + len(parts) - 1
    assert set(trace.time_s[starts]) <= {float(p.time_s[0]) for p in parts}
    assert sum(p.points_set_aside for p in parts) == trace.points_set_aside


def test_only_the_first_lap_has_a_start_and_the_others_say_why_not() -> None:
    found = analysed(recorded(ridden(circuit("loop"), 0.0, 4), rides=1))
    first, *later = sorted(found.routes[0].traces, key=lambda trace: trace.time_s[0])
    assert np.isfinite(first.first_fix.value_s)
    for trace in later:
        assert np.isnan(trace.first_fix.value_s)
        assert trace.first_fix.reason == trace.settled_fix.reason == Reason(LATER_LAP)
    assert not any(s.cause == "settling" and "lap 1" not in s.ride for s in found.routes[0].stretches)
    assert any("laps of one recording count as rides" in note for note in map(said, found.routes[0].notes))


def test_laps_without_times_are_found_too() -> None:
    world = recorded(ridden(circuit("loop"), 0.0, 5), rides=1)
    bare = [
        replace(w, trace=replace(w.trace, time_s=np.full(len(w.trace.time_s), np.nan)))
        for w in as_witnesses(world)
    ]
    (route,) = analyse(bare, Options(laps=True)).routes
    assert [trace.ride for trace in route.traces] == [f"1 lap {k}" for k in (1, 2, 3, 4, 5)]


def test_too_short_a_recording_has_no_laps() -> None:
    (witness,) = as_witnesses(simulate("straight", seed=9, rides=1, length_m=400))
    assert len(lap_starts(cut(witness, slice(0, 9)).trace, CORRIDOR_M, [])) == 0
    assert len(lap_starts(cut(witness, slice(0, 30)).trace, CORRIDOR_M, [])) == 0


@pytest.mark.parametrize("apart_m", [13.0, 16.0, 20.0])
def test_ground_that_is_walked_to_and_fro_holds_no_laps(apart_m: float) -> None:
    """Eight legs of 120 m: every second runs the same way, 26 m and more beside the one before."""
    legs = [[(0.0, k * apart_m), (120.0, k * apart_m)][:: 1 if k % 2 == 0 else -1] for k in range(8)]
    way = rounded(np.array(legs).reshape(-1, 2), 0.45 * apart_m)
    for witness in as_witnesses(simulate(way, seed=3, rides=4, lights=0)):
        assert len(lap_starts(witness.trace, 40.0, [])) == 0
