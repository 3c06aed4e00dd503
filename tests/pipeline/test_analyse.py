"""The whole analysis: routes, names, what is set aside and why, and the same answer every time."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest

from trackspread.errors import Cancelled
from trackspread.model import Analysis, Estimate, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.results.words.reasons import said
from world import Fault, Globe, Receiver, Route, World, simulate
from world.receivers import HEAVY_TAILED
from world.witnesses import as_witnesses

OPTIONS = Options()
COLUMNS = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")


def commute(seed: int = 31, rides: int = 4, **options: object) -> tuple[World, World]:
    """Return the way there and the way back."""
    there = simulate("winding", seed=seed, rides=rides, length_m=1200, lights=0, **options)
    back = simulate(
        there.route.reversed(), seed=seed + 1, rides=rides - 1, lights=0,
        file_names="{receiver}_back_{ride:02d}.gpx", first_start_s=1_930_320_000.0, **options,
    )  # fmt: skip
    return there, back


@pytest.fixture(scope="module")
def whole() -> tuple[list[Witness], Analysis]:
    there, back = commute()
    lonely = simulate(
        "city", seed=40, rides=1, length_m=900, globe=Globe(lat_deg=-60.0), file_names="lonely.gpx"
    )
    witnesses = [*as_witnesses(there), *as_witnesses(back), *as_witnesses(lonely)]
    return witnesses, analyse(witnesses, OPTIONS)


def test_out_and_back_are_two_routes_named_by_size(whole: tuple[list[Witness], Analysis]) -> None:
    _, found = whole
    assert [(route.name, len(route.traces)) for route in found.routes] == [("Route A", 4), ("Route B", 3)]
    there, back = found.routes
    assert there.length_m == pytest.approx(back.length_m, rel=0.05)
    assert [there.lon_deg[0], there.lat_deg[0]] == pytest.approx(
        [back.lon_deg[-1], back.lat_deg[-1]], abs=3e-3
    )


def test_every_input_is_accounted_for(whole: tuple[list[Witness], Analysis]) -> None:
    witnesses, found = whole
    assert [record.file for record in found.inputs] == [w.trace.file for w in witnesses]
    assert [record.route for record in found.inputs] == ["Route A"] * 4 + ["Route B"] * 3 + [""]
    lonely = found.inputs[-1]
    assert (lonely.status, said(lonely.reason)) == (
        "set aside",
        "no other trace runs this way in this direction",
    )
    for record, witness in zip(found.inputs[:-1], witnesses, strict=False):
        assert (record.status, said(record.reason)) == ("used", "")
        assert record.points == len(witness.trace.lon_deg)
        assert record.start_time_s == witness.trace.time_s[0]
        assert (record.receiver, record.ride) == (witness.receiver, witness.ride)


def test_arrays_of_a_route_fit_each_other(whole: tuple[list[Witness], Analysis]) -> None:
    for route in whole[1].routes:
        shape = (len(route.traces), len(route.station_m))
        for name in ("offset_m", "deviation_m", "crossing_s", "in_stretch"):
            assert getattr(route, name).shape == shape
        for name in ("lon_deg", "lat_deg", "station_spread_m", "station_low_m", "station_high_m"):
            assert getattr(route, name).shape == shape[1:]
        assert np.nanmax(route.station_low_m - route.station_spread_m) <= 0
        assert np.nanmin(route.station_high_m - route.station_spread_m) >= 0
        assert route.station_step_m == pytest.approx(5.0, abs=0.1)
        assert route.scale_error_ppm < 0.1
        assert route.spread.low < route.spread.value < route.spread.high
        assert [trace.number for trace in route.traces] == list(range(shape[0]))


def test_the_spread_of_a_route_has_the_truth_in_its_interval() -> None:
    """σ 2.5 m with a rider's line of 0.6 m: 95 % are due, fewer than eight of ten by chance in 1 %."""
    inside = 0
    for seed in range(10):
        world = simulate("straight", seed=seed, rides=5, length_m=1500, lights=0)
        (route,) = analyse(as_witnesses(world), OPTIONS).routes
        inside += route.spread.low <= world.spread_m(world.recordings[0].receiver) <= route.spread.high
    assert inside >= 8


def test_the_scale_error_is_that_of_the_line_and_not_of_a_wild_point() -> None:
    """Snyder 1987, eq. (8-11): k - 1 is about x²/2R², at x = 300 km over 1000 ppm, at 1 km 0.01 ppm."""
    world, _ = commute(rides=3)
    first, *others = as_witnesses(world)
    lon = first.trace.lon_deg.copy()
    lon[len(lon) // 2] += 3.0
    wild = [replace(first, trace=replace(first.trace, lon_deg=lon)), *others]
    (route,) = analyse(wild, OPTIONS).routes
    assert route.scale_error_ppm < 0.1


def test_the_same_input_gives_the_same_figures(whole: tuple[list[Witness], Analysis]) -> None:
    witnesses, found = whole
    again = analyse(witnesses, OPTIONS)
    for one, other in zip(found.routes, again.routes, strict=True):
        np.testing.assert_array_equal(one.offset_m, other.offset_m)
        assert one.spread == other.spread
        assert one.segments == other.segments
        assert one.stretches == other.stretches


def test_a_recording_exported_twice_is_one_witness() -> None:
    world = simulate("winding", seed=33, rides=4, length_m=1200)
    witnesses = as_witnesses(world)
    copy = replace(
        witnesses[1], trace=replace(witnesses[1].trace, file="again.gpx"), ride="99", ride_from="none"
    )
    found = analyse([*witnesses, copy], OPTIONS)
    assert found.inputs[-1].status == "set aside"
    assert said(found.inputs[-1].reason) == f"the same recording as {witnesses[1].trace.file}"
    (route,) = found.routes
    assert len(route.traces) == 4
    assert route.spread == analyse(witnesses, OPTIONS).routes[0].spread


def test_of_a_thinned_copy_the_whole_recording_is_kept() -> None:
    world = simulate("winding", seed=33, rides=4, length_m=1200)
    witnesses = as_witnesses(world)
    whole = witnesses[1].trace
    thin = {name: getattr(whole, name)[::4] for name in COLUMNS}
    copy = replace(witnesses[1], trace=replace(whole, file="a thinned one.gpx", **thin))
    found = analyse([copy, *witnesses], OPTIONS)
    assert said(found.inputs[0].reason) == f"the same recording as {whole.file}"
    assert found.routes[0].spread == analyse(witnesses, OPTIONS).routes[0].spread


def test_of_two_copies_the_one_that_the_table_of_rides_names_is_kept() -> None:
    """The other knows neither receiver nor start: kept, it would cost the first fix and the pair."""
    told = as_witnesses(simulate("winding", seed=33, rides=3, length_m=1200))
    nameless = [
        replace(
            w, trace=replace(w.trace, file=f"{w.trace.file}.csv"), receiver="unknown receiver",
            receiver_from="none", ride_from="overlap", start_s=float("nan"), start_source="none",
        )
        for w in told
    ]  # fmt: skip
    found = analyse([*nameless, *told], OPTIONS)
    assert [record.status for record in found.inputs] == ["set aside"] * 3 + ["used"] * 3
    assert said(found.inputs[0].reason) == f"the same recording as {told[0].trace.file}"
    assert found.routes[0].receivers[0].first_fix_s.n == 3
    thin = {name: getattr(told[0].trace, name)[::2] for name in COLUMNS}
    thinned = replace(told[0], trace=replace(told[0].trace, **thin))
    found = analyse([nameless[0], thinned, *told[1:]], OPTIONS)
    assert [record.status for record in found.inputs] == ["set aside"] + ["used"] * 3


def test_a_route_of_one_recording_told_twice_is_none() -> None:
    world = simulate("winding", seed=33, rides=1, length_m=1200)
    (one,) = as_witnesses(world)
    copy = replace(one, trace=replace(one.trace, file="again.gpx"), ride="2")
    found = analyse([one, copy], OPTIONS)
    assert found.routes == ()
    assert said(found.inputs[0].reason) == "its only companion on this route is the same recording"
    assert said(found.inputs[1].reason) == f"the same recording as {one.trace.file}"


def test_traces_that_share_two_places_and_no_way_between_make_no_route() -> None:
    """Some points of one spot, a jump of 880 m, and 27 m on: far apart, but nobody was seen on the way.

    As in a log of a receiver under test, four points and five of them.
    """
    east_m = np.array([0.0, -1.0, -2.0, -2.0, 726.0, 725.0, 714.0, 714.0, 714.0])
    north_m = np.array([0.0, 1.0, 2.0, 2.0, -504.0, -504.0, -529.0, -529.0, -529.0])
    still = []
    for number in (0, 1):
        lon, lat = Globe(lat_deg=75.2).to_lonlat(east_m + 0.4 * number, north_m - 0.4 * number)
        (witness, *_) = as_witnesses(simulate("straight", seed=number, rides=1, length_m=400))
        time_s = 1e5 * number + np.array([0.0, 1.0, 2.0, 3.0, 70.0, 71.0, 378.0, 379.0, 380.0])
        row = {"time_s": time_s, "elevation_m": 0.0 * east_m, "break_before": np.zeros(9, bool)}
        trace = replace(witness.trace, file=f"{number}.gpx", lon_deg=lon, lat_deg=lat, **row)
        still.append(replace(witness, trace=trace, ride=str(number)))
    found = analyse(still, OPTIONS)
    assert found.routes == ()
    for record in found.inputs:
        assert re.fullmatch(
            r"the way that its traces share is \d\d m long; a route needs 100 m", said(record.reason)
        )


def test_letters_are_not_spent_on_routes_that_come_to_nothing() -> None:
    there, back = commute(seed=34)
    (one, *_), rest = as_witnesses(back), as_witnesses(there)[:2]
    copies = [replace(one, trace=replace(one.trace, file=f"copy {k}.gpx"), ride=str(k)) for k in range(4)]
    found = analyse([*rest, *copies], OPTIONS)
    assert [route.name for route in found.routes] == ["Route A"]
    assert found.inputs[0].route == "Route A"


def test_copies_do_not_make_a_route_the_first() -> None:
    """Four files of the way back, one of them a copy: three rides each way, and out was ridden first."""
    there, back = commute(seed=34, rides=4)
    out, home = as_witnesses(there)[:3], as_witnesses(back)
    copy = replace(home[0], trace=replace(home[0].trace, file="a copy.gpx"), ride="9")
    found = analyse([*home, copy, *out], OPTIONS)
    assert [(route.name, len(route.traces)) for route in found.routes] == [("Route A", 3), ("Route B", 3)]
    assert [record.route for record in found.inputs] == ["Route B"] * 3 + [""] + ["Route A"] * 3
    assert {trace.file for trace in found.routes[0].traces} == {w.trace.file for w in out}


def test_of_routes_alike_the_one_ridden_first_stands_first_in_whatever_order_files_come() -> None:
    there, back = commute(seed=34, rides=4)
    out, home = as_witnesses(there)[:3], as_witnesses(back)
    for witnesses in ([*out, *home], [*home, *out], [out[2], home[0], out[0], *home[1:], out[1]]):
        found = analyse(witnesses, OPTIONS)
        files = [{trace.file for trace in route.traces} for route in found.routes]
        assert files == [{w.trace.file for w in out}, {w.trace.file for w in home}]
        assert [route.name for route in found.routes] == ["Route A", "Route B"]


def test_nothing_to_analyse_is_told_and_not_raised() -> None:
    found = analyse([], OPTIONS)
    assert (found.routes, found.inputs) == ((), ())
    assert tuple(map(said, found.notes)) == ("no two traces run the same way",)


def test_clocks_whole_hours_apart_join_a_ride_unless_the_table_says_otherwise() -> None:
    pair = [Receiver(name="alder"), Receiver(name="bilberry", clock_offset_s=3600.0)]
    world = simulate("winding", seed=35, rides=3, length_m=2500, receivers=pair, lights=4)
    told = as_witnesses(world)
    guessed = [replace(w, ride=f"{w.ride}{w.receiver}", ride_from="none") for w in told]
    found = analyse(guessed, OPTIONS)
    rides = [(record.ride, record.ride_from) for record in found.inputs]
    for first, second in zip(rides[::2], rides[1::2], strict=True):
        assert first == second
        assert first[1] == "overlap"
    assert len({ride for ride, _ in rides}) == 3
    sheet = [replace(w, ride=f"{w.ride}{w.receiver}", ride_from="sheet") for w in told]
    assert len({record.ride for record in analyse(sheet, OPTIONS).inputs}) == 6


def test_traces_without_times_say_so_in_the_notes() -> None:
    world = simulate("winding", seed=36, rides=3, length_m=900)
    bare = [
        replace(w, trace=replace(w.trace, time_s=np.full(len(w.trace.time_s), np.nan)))
        for w in as_witnesses(world)
    ]
    found = analyse(bare, OPTIONS)
    (route,) = found.routes
    assert any("no times" in note for note in map(said, route.notes))
    assert np.isnan(found.inputs[0].start_time_s)


def test_progress_is_told_and_may_stop_the_work() -> None:
    world = simulate("winding", seed=37, rides=2, length_m=600)
    told: list[tuple[str, float]] = []
    analyse(as_witnesses(world), OPTIONS, progress=lambda phase, share: told.append((phase, share)))
    assert told[:2] == [("Grouping", 0.0), ("Grouping", 1.0)]
    shares = [share for phase, share in told if phase == "Routes"]
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert len(shares) > 3, "one route is no single step: it is watched, and may be stopped, midway"
    assert shares == sorted(set(shares))

    for steps in range(len(told)):
        left = iter(range(steps))

        def stop(phase: str, share: float, left: Iterator[int] = left) -> None:
            if next(left, None) is None:
                raise Cancelled(phase)

        with pytest.raises(Cancelled):
            analyse(as_witnesses(world), OPTIONS, progress=stop)


def test_what_is_handed_in_comes_out() -> None:
    world = simulate("winding", seed=37, rides=2, length_m=600)
    options = Options(segment_m=50.0, min_traces=2)
    found = analyse(as_witnesses(world), options, created_s=123.0, problems=("one", "two"))
    assert (found.created_s, found.problems) == (123.0, ("one", "two"))
    assert found.settings == options.as_dict()
    assert len(found.routes[0].segments) == round(found.routes[0].length_m / 50.0)


def test_a_route_across_the_antimeridian_runs_on() -> None:
    world = simulate("straight", seed=38, rides=3, length_m=1500, globe=Globe(lon_deg=179.995, lat_deg=10.0))
    (route,) = analyse(as_witnesses(world), OPTIONS).routes
    assert np.abs(np.diff(route.lon_deg)).max() < 1e-3
    assert max(abs(route.lon_deg)) > 180.0
    assert route.length_m == pytest.approx(1470, abs=40)


def test_a_reference_line_gives_the_bias() -> None:
    shifted = Fault(kind="stretch", receiver="alder", from_m=-1e4, to_m=1e5, offset_m=6.0)
    world = simulate("straight", seed=39, rides=6, length_m=1500, faults=[shifted], lights=0)
    _, lon, lat = world.centreline()
    (route,) = analyse(as_witnesses(world), OPTIONS, reference=((lon, lat),)).routes
    (reference,) = route.references
    assert reference.receiver == "alder"
    assert reference.bias_m.value == pytest.approx(6.0, abs=2.0)
    assert analyse(as_witnesses(world), OPTIONS).routes[0].references == ()


def test_a_world_of_its_own_line_is_a_route() -> None:
    line = Route(station_m=np.arange(801.0), east_m=np.arange(801.0), north_m=np.zeros(801))
    (route,) = analyse(as_witnesses(simulate(line, seed=1, rides=2)), OPTIONS).routes
    assert route.length_m == pytest.approx(780, abs=30)


def estimates(record: object, name: str = "") -> Iterator[tuple[str, Estimate]]:
    """Yield every figure with an interval, wherever in the records it stands."""
    if isinstance(record, Estimate):
        yield name, record
    elif isinstance(record, tuple):
        for part in record:
            yield from estimates(part, name)
    elif is_dataclass(record):
        for field in fields(record):
            yield from estimates(getattr(record, field.name), f"{name}.{field.name}")


@pytest.mark.parametrize(("kind", "rides"), [("unequal sessions", 2), ("bursts", 4)])
def test_every_value_lies_within_its_interval(kind: str, rides: int) -> None:
    """Routes, segments, receivers, pairs, reference, comparison: value and interval come of one posterior.

    Only a share of 0 sits on an end, as none is smaller; what is printed is held by the tests of rounding.
    """
    own = HEAVY_TAILED[kind]
    crew = [
        replace(own, name=name, sigma_m=own.sigma_m * times)
        for name, times in (("a", 1.0), ("b", 0.6), ("c", 2.0))
    ]
    world = simulate("winding", seed=77 + rides, rides=rides, length_m=1000, receivers=crew, common_share=0.1)
    found = analyse(as_witnesses(world), OPTIONS, reference=(world.centreline()[1:],))
    told = [
        (name, one) for name, one in estimates((found.routes, found.comparison)) if np.isfinite(one.value)
    ]
    assert {name.rpartition(".")[2] for name, _ in told} >= {
        "spread",
        "spread_all",
        "ratio",
        "sd_a",
        "own_sd",
    }
    assert [
        (name, one)
        for name, one in told
        if not one.low < one.value < one.high and not one.value == one.low == 0.0
    ] == []
