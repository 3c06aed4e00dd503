"""Circuits: whoever starts elsewhere on a closed way loses nothing; one-way routes are left alone."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from polylines import along
from trackspread.geometry.circuits import turned
from trackspread.geometry.points import Part
from trackspread.model import RouteResult, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.publish.cut import cut_for_publishing
from trackspread.results.words.reasons import said
from world import SHAPES, simulate
from world.routes import route_along
from world.witnesses import as_witnesses

LENGTH_M = 1900


def circuit(seed: int) -> np.ndarray:
    route = SHAPES["loop"](np.random.default_rng(seed), float(LENGTH_M), False)
    return np.stack([route.east_m, route.north_m], axis=1)


def ridden(one: np.ndarray, starts_m: list[int], lengths_m: list[int]) -> list[Witness]:
    """Return one ride each from a station of a circuit on over some way, on days of their own."""
    out: list[Witness] = []
    for k, (start, length) in enumerate(zip(starts_m, lengths_m, strict=True)):
        points = one[np.arange(start, start + length) % (len(one) - 1)]
        world = simulate(route_along(points), seed=100 + k, rides=1, first_start_s=1.9e9 + 1e5 * k)
        for w in as_witnesses(world):
            out.append(replace(w, ride=str(k + 1), trace=replace(w.trace, file=f"{k}.gpx")))
    return out


def only_route(witnesses: list[Witness]) -> RouteResult:
    found = analyse(witnesses, Options())
    assert [said(record.reason) for record in found.inputs] == [""] * len(witnesses)
    (route,) = found.routes
    return route


@pytest.mark.parametrize(
    ("starts", "lengths"),
    [
        ([0, 0, 0, 0, -150, -900], [1900, 1900, 1900, 1900, 2050, 2800]),
        ([100, 500, 900, 1300, 1700, 20], [1890] * 6),
        ([0, 0, 0, 950, 950], [1890] * 5),
        ([0, 0, 0, 300], [1890, 1890, 1890, 2200]),
    ],
    ids=["two start before the others", "six starts", "three and two", "one goes on beyond"],
)
def test_everybodys_whole_ride_counts(starts: list[int], lengths: list[int]) -> None:
    route = only_route(ridden(circuit(3), starts, lengths))
    assert route.length_m == pytest.approx(LENGTH_M, rel=0.02)
    assert min(trace.coverage for trace in route.traces) > 0.97
    assert not [s for s in route.stretches if s.cause == "settling"]


def test_where_it_starts_does_not_change_the_spread() -> None:
    """The same four rides of a full turn with their points told from another start on: the same errors."""
    witnesses = ridden(circuit(3), [0] * 4, [LENGTH_M] * 4)
    whole = only_route(witnesses)
    trace = witnesses[3].trace
    half = len(trace.lon_deg) // 2
    order = np.roll(np.arange(len(trace.lon_deg)), -half)
    told = replace(trace, lon_deg=trace.lon_deg[order], lat_deg=trace.lat_deg[order])
    other = only_route([*witnesses[:3], replace(witnesses[3], trace=told)])
    assert other.length_m == pytest.approx(whole.length_m, abs=8.0)
    assert other.spread.value == pytest.approx(whole.spread.value, rel=0.05)


def test_its_points_keep_their_order_and_the_place_of_its_start_is_cut_for_publishing() -> None:
    witnesses = ridden(circuit(3), [0, 0, 0, 950], [1890] * 4)
    analysis = analyse(witnesses, Options())
    trace = analysis.routes[0].traces[3]
    assert (np.diff(trace.time_s) > 0).all()
    assert trace.station_m[0] == pytest.approx(950, abs=40)
    assert np.nanmedian(np.diff(trace.station_m)) > 0
    assert all(gap.seconds >= 0 for gap in trace.gaps)
    home = trace.lon_deg[0], trace.lat_deg[0]
    for route in cut_for_publishing(analysis, rng=random.Random(1), least_m=60.0, most_m=120.0).routes:
        for lon, lat in [(route.lon_deg, route.lat_deg), *((t.lon_deg, t.lat_deg) for t in route.traces)]:
            north, east = (lat - home[1]) * 111_195, (lon - home[0]) * 111_195 * np.cos(np.radians(lat))
            assert np.nanmin(np.hypot(north, east)) > 55.0


def test_the_order_of_the_files_chooses_no_other_gate() -> None:
    witnesses = ridden(circuit(3), [100, 500, 900, 1300], [1890] * 4)
    one, other = only_route(witnesses), only_route(witnesses[::-1])
    assert one.length_m == pytest.approx(other.length_m, abs=0.5)
    assert abs(one.lon_deg[0] - other.lon_deg[0]) < 1e-5


def part(points: np.ndarray) -> Part:
    size = len(points)
    return points[:, 0], points[:, 1], np.arange(size, dtype=float), np.zeros(size, dtype=bool)


@pytest.mark.parametrize(
    "points",
    [
        along([(-500, 0), (2000, 0)], 5.0),
        along([(0, -500), (0, 0), (2000, 0)], 5.0),
        along([(800, 0), (2000, 0)], 5.0),
        along([(400, 0), (400, 90), (-200, 90), (-200, 0), (2000, 0)], 5.0),
        along([(2000, 0), (0, 0)], 5.0),
    ],
    ids=["begins before", "comes from a side", "late fix", "around a block first", "the way back"],
)
def test_a_way_that_is_no_circuit_is_left_alone(points: np.ndarray) -> None:
    line = along([(0, 0), (2000, 0)], 5.0)
    parts = [part(line), part(line + 2.0), part(points)]
    for before, after in zip(parts, turned(parts), strict=True):
        assert all(a is b for a, b in zip(before, after, strict=True))


def test_a_turned_trace_keeps_its_points_and_has_a_gap_where_it_began() -> None:
    one = circuit(3)[::5]
    other = np.roll(one, -120, axis=0)
    first, _, second = turned([part(one), part(one), part(other)])
    assert first[0] is not second[0]
    assert sorted(second[0].tolist()) == sorted(other[:, 0].tolist())
    assert np.count_nonzero(second[3]) == 1
    seam = int(np.flatnonzero(second[3])[0])
    assert second[2][seam] == 0.0
    assert np.hypot(second[0][0] - one[0, 0], second[1][0] - one[0, 1]) < 15.0


def test_too_little_is_left_alone() -> None:
    assert turned([]) == []
    short = part(np.array([[0.0, 0.0]]))
    assert turned([short, short]) == [short, short]
