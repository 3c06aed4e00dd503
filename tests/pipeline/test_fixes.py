"""First and settled fixes on a route, and rides that come to it from another street."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from judged_routes import judged
from trackspread.options import Options
from trackspread.pipeline.fixes import first_station_m
from trackspread.pipeline.route import Judged
from trackspread.results.words.reasons import said
from trackspread.statistics.first_fix import approached_to_m
from world import SHAPES, Fault, Receiver, simulate
from world.routes import rounded
from world.witnesses import as_witnesses

OPTIONS = Options()
PAIR = (Receiver(name="alder"), Receiver(name="bilberry"))


def with_one_from(
    corners: list[tuple[float, float]], seed: int, rides: int = 4, receivers: tuple[Receiver, ...] = PAIR[:1],
    faults: Sequence[Fault] = (),
) -> Judged:  # fmt: skip
    """Ride a straight road of 2,400 m ``rides`` times, and once more along other corners."""
    straight = SHAPES["straight"](np.random.default_rng(0), 2400.0, False)
    world = simulate(straight, seed=seed, rides=rides, lights=0, receivers=receivers, faults=list(faults))
    other = simulate(
        rounded(np.array(corners), 8.0), seed=seed + 50, rides=1, lights=0, receivers=receivers,
        first_start_s=2_000_000_000.0,
    )  # fmt: skip
    late = [replace(w, ride=str(rides + 1)) for w in as_witnesses(other)]
    return judged([*as_witnesses(world), *late])


def test_the_first_station_is_reckoned_back_from_the_first_match() -> None:
    world = simulate("straight", seed=8, rides=4, length_m=1000, lights=0)
    result = judged(world)
    bundle, station = result.tracks.bundle, result.point_station_m.copy()
    part = bundle.of(2)
    known = np.flatnonzero(np.isfinite(station[part]))
    expected = station[part][known[0]]
    assert first_station_m(bundle, station, 2) == pytest.approx(max(expected, 0.0), abs=8.0)
    later = station.copy()
    later[part][: known[0] + 20] = np.nan
    way = bundle.travel_m[part][known[0] + 20]
    assert first_station_m(bundle, later, 2) == pytest.approx(max(0.0, station[part][known[0] + 20] - way))
    later[part] = np.nan
    assert np.isnan(first_station_m(bundle, later, 2))


# --- by another street -------------------------------------------------------------------------------


@pytest.mark.parametrize("aside_m", [25.0, 45.0, 80.0, 150.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_street_beside_the_route_is_an_approach_and_not_settling(aside_m: float, seed: int) -> None:
    """Its fix was called settling for the whole of it, and late by as long as others took for the way."""
    result = with_one_from([(0.0, aside_m), (420.0, aside_m), (420.0, 0.0), (2400.0, 0.0)], seed)
    first, settled = result.fixes[4]
    assert result.settling[4] == 0
    assert not [run for run in result.runs if run.trace == 4 and run.cause == "settling"]
    assert np.isnan(first.lower_bound_s)
    assert np.isnan(first.missing_m)
    assert np.isfinite(first.value_s)
    assert np.isnan(settled.value_s)
    assert not settled.censored
    assert "another way" in said(settled.reason)
    assert settled.at_station_m == pytest.approx(420.0, abs=70.0)
    (run,) = [run for run in result.runs if run.trace == 4]
    assert run.cause == "unknown"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_start_aside_by_as_much_as_the_rides_err_elsewhere_is_no_approach(seed: int) -> None:
    """It was left out as the rider's way, and the spread of all errors came to .6 to .9 of the truth."""
    street = [(0.0, 25.0), (420.0, 25.0), (420.0, 0.0), (2400.0, 0.0)]
    astray = Fault(kind="stretch", ride=1, receiver="alder", from_m=1300.0, to_m=1700.0, offset_m=30.0)
    result = with_one_from(street, seed, faults=[astray])
    assert result.settling[4] > 0
    assert np.isnan(approached_to_m(result.fixes[4][0]))
    assert result.fixes[4][1].at_station_m == pytest.approx(420.0, abs=70.0)


def test_who_is_with_the_others_and_then_aside_made_no_approach() -> None:
    """Three of ten bursting rides began so, and the spread of all errors came to .72 of the truth."""
    aside = [(60.0, 0.0), (60.0, 40.0), (420.0, 40.0), (420.0, 0.0)]
    result = with_one_from([(0.0, 0.0), *aside, (2400.0, 0.0)], 2)
    assert np.isnan(approached_to_m(result.fixes[4][0]))


@pytest.mark.parametrize("corner", [(-250.0, -130.0), (-330.0, -70.0)])
@pytest.mark.parametrize("seed", [11, 12])
def test_a_straight_street_that_leads_to_the_route_is_an_approach(
    corner: tuple[float, float], seed: int
) -> None:
    """With one watch it was called settling: it falls all along, but evenly, as no fix does."""
    way = [(400.0 + corner[0], corner[1]), (400.0, 0.0), (2400.0, 0.0)]
    result = with_one_from(way, seed)
    assert result.settling[4] == 0
    assert "another way" in said(result.fixes[4][1].reason)


def test_two_watches_that_come_by_another_street_say_that_the_rider_did() -> None:
    result = with_one_from([(0.0, 50.0), (420.0, 50.0), (420.0, 0.0), (2400.0, 0.0)], 4, receivers=PAIR)
    runs = [run for run in result.runs if run.trace >= 8]
    assert {run.trace for run in runs} == {8, 9}
    assert {run.cause for run in runs} == {"line"}


@pytest.mark.parametrize("seed", [2, 5, 6])
def test_who_joins_from_a_side_street_was_not_beside_the_line_before(seed: int) -> None:
    result = with_one_from([(1000.0, -500.0), (1000.0, 0.0), (2400.0, 0.0)], seed)
    first, settled = result.fixes[4]
    assert not result.found.away[4].any()
    assert not [run for run in result.runs if run.trace == 4]
    assert np.isnan(first.lower_bound_s)
    assert np.isnan(first.missing_m)
    assert settled.at_station_m == pytest.approx(1000.0, abs=70.0)


def test_who_logs_late_on_the_route_still_has_a_part_of_it_missing() -> None:
    """Nothing logged over 600 m of the route itself: that is a late fix, and no approach."""
    world = simulate("straight", seed=9, rides=5, length_m=2400, lights=0)
    late = as_witnesses(world)
    kept = world.recordings[2].true_station_m > 600.0
    trace = late[2].trace
    late[2] = replace(
        late[2],
        trace=replace(
            trace, time_s=trace.time_s[kept], lon_deg=trace.lon_deg[kept], lat_deg=trace.lat_deg[kept],
            elevation_m=trace.elevation_m[kept], break_before=trace.break_before[kept],
        ),
        start_s=float("nan"), start_source="none",
    )  # fmt: skip
    first, settled = judged(late).fixes[2]
    assert first.missing_m == pytest.approx(600.0, abs=40.0)
    assert first.lower_bound_s == pytest.approx(600.0 / 5.5, rel=0.25)
    assert "another way" not in said(settled.reason)
