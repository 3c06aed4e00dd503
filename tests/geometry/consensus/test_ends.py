"""The ends of the consensus line: where half of the traces begin and end, whichever trace it is started from."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.interpolate import InterpolatedUnivariateSpline

from polylines import along, bundle_of, line_of, true_stations, world_bundle
from trackspread.geometry.consensus import ends
from trackspread.geometry.consensus.centreline import centreline, consensus
from trackspread.geometry.crossings import crossings
from trackspread.geometry.matching import Line, match
from trackspread.geometry.points import Bundle, join
from world import Receiver, World, simulate
from world.routes import rounded

OPTIONS = {"step_m": 5.0, "reach_m": 60.0, "gap_m": 80.0}
WINDS_ABOUT = [(-40, -45), (-35, 20), (30, -30), (45, 30), (-20, 35), (-30, -20)]
THEN = [(0, 0), (250, 0), (250, 300), (600, 300.0)]


def from_each(bundle: Bundle) -> list[Line]:
    """Return the lines that come of each trace to start from."""
    return [centreline(bundle, start=start, **OPTIONS)[0] for start in range(bundle.traces)]


def part_of(bundle: Bundle, parts: list[np.ndarray]) -> Bundle:
    """Return the bundle with some points of each trace."""
    columns = (bundle.x, bundle.y, bundle.time_s, bundle.gap_before)
    slices = map(bundle.of, range(bundle.traces))
    return join([tuple(c[p][keep] for c in columns) for p, keep in zip(slices, parts, strict=True)])


def off_m(lines: list[Line], world: World, stations: list[np.ndarray]) -> np.ndarray:
    """Return how far the ends of lines lie from where the last of half of the traces begins, and the first ends."""
    need = max(2, math.ceil(len(stations) / 2))
    begin, end = sorted(at[0] for at in stations)[need - 1], sorted(at.max() for at in stations)[-need]
    found = np.array([[(line.x[k], line.y[k]) for k in (0, -1)] for line in lines])
    return np.linalg.norm(found - world.route.at(np.array([begin, end])), axis=2)


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("rides", [2, 3, 4])
def test_a_way_that_winds_about_beyond_an_end_costs_the_line_nothing(rides: int, backwards: bool) -> None:
    """One ride winds about within 60 m of where the others begin, or end: the line once lost up to 25 m there."""
    fore_m = rounded(np.array([*WINDS_ABOUT, THEN[0]]), 6.0).length_m
    route = rounded(np.array([*WINDS_ABOUT, *THEN]), 6.0)
    exact = Receiver(sigma_m=0.05, sampling="2-3 s")
    for seed in range(3):
        way = route.reversed() if backwards else route
        world = simulate(way, seed=seed, rides=rides, receivers=[exact], line_sd_m=0.0, fix_s=(0.0, 0.1))
        whole = world_bundle(world)
        stations = true_stations(world, whole)
        keep = [at < way.length_m - fore_m if backwards else at > fore_m for at in stations]
        keep[0][:] = True
        lines = from_each(part_of(whole, keep))
        assert off_m(lines, world, [at[k] for at, k in zip(stations, keep, strict=True)]).max() < 1.5


@pytest.mark.parametrize("shape", ["winding", "city", "straight", "loop", "hairpins"])
def test_the_ends_do_not_hang_on_the_trace_to_start_from(shape: str) -> None:
    """Late first fixes, errors of 2.5 m: from trace to trace the ends once differed by up to 14 m."""
    for seed, rides in ((0, 2), (1, 4), (2, 6), (7, 4)):
        world = simulate(shape, seed=6000 + seed, rides=rides, length_m=1000)
        bundle = world_bundle(world)
        off = off_m(lines := from_each(bundle), world, true_stations(world, bundle))
        assert off.max() < 9.0, "as far as a trace lies off its way, and on"
        for end in (0, -1):
            at = np.array([(line.x[end], line.y[end]) for line in lines])
            assert np.linalg.norm(at - at.mean(axis=0), axis=1).max() < 2.5


@pytest.mark.parametrize("rides", [2, 3, 4, 6])
def test_half_of_the_traces_pass_the_first_and_the_last_station(rides: int) -> None:
    for seed in range(4):
        bundle = world_bundle(simulate("winding", seed=seed, rides=rides, length_m=600))
        line, station = centreline(bundle, **OPTIONS)
        passed = np.isfinite(crossings(bundle, station, line, 80.0).offset_m).sum(axis=0)
        assert passed[[0, -1]].min() >= max(2, math.ceil(rides / 2))


@pytest.mark.parametrize("backwards", [False, True])
def test_a_way_that_leaves_the_line_before_it_begins_does_not_lengthen_it(backwards: bool) -> None:
    """Three of four begin 20 m before the line, ride round out of reach and come to it after 150 m."""
    round_about = [(-20.0, 0.0), (-10, 0), (-10, 90), (150, 90), (150, 0), (600, 0)]
    ways = [along([(0, 0), (600, 0)]), *(along(round_about, 5.0, d) for d in (-1.0, 0.0, 1.0))]
    line = along([(0, 0), (600, 0)])
    if backwards:
        ways, line = [way[::-1] for way in ways], line[::-1]
    bundle, first = bundle_of(ways), line_of(line)
    moved, _ = consensus(bundle, first, match(bundle, first, 60.0), **OPTIONS)
    assert sorted(moved.x[[0, -1]].tolist()) == pytest.approx([150.0, 600.0], abs=2.0)


def test_a_trace_that_falls_back_at_its_end_reaches_as_far_as_it_did() -> None:
    """Both ride to 598 m, where the last point falls back by 3 m, as it may where somebody stands."""
    ways = [np.vstack([along([(0, d), (598, d)]), [(595, d)]]) for d in (-1.0, 1.0)]
    line = line_of(along([(0, 0), (598, 0)]))
    moved, station = consensus(bundle_of(ways), line, match(bundle_of(ways), line, 60.0), **OPTIONS)
    assert np.isfinite(station).all()
    assert moved.x[-1] == pytest.approx(598.0, abs=1.0)


def test_a_piece_of_a_line_that_folds_runs_on_straight() -> None:
    """Stations 5 m apart, two of them at one place in the middle, and a last one that stands still."""
    x = np.array([0.0, 5.0, 10.0, 10.0, 5.0, 0.0])
    station = np.array([0.0, 5.0, 10.0, 10.0, 15.0, 20.0])
    np.testing.assert_allclose(ends._piece(x, station, np.array([-3.0, 22.0])), [-3, 0, 5, 10, 10, 5, 0, -2])
    np.testing.assert_allclose(ends._piece(x, station, np.array([7.0, 18.0])), [7, 10, 10, 5, 2])
    still = np.array([0.0, 5.0, 5.0]), np.array([0.0, 5.0, 5.0])
    np.testing.assert_allclose(ends._piece(*still, np.array([1.0, 6.0])), [1, 5, 5, 5])


@pytest.mark.parametrize("span", [(-7.0, 33.0), (0.0, 31.0), (0.4, 30.9), (0.5, 20.0)])
def test_a_piece_is_interpolated_and_extrapolated_linearly(span: tuple[float, float]) -> None:
    """scipy's InterpolatedUnivariateSpline of degree 1, with no station told twice where a piece ends at one."""
    station = np.array([0.0, 0.5, 9.0, 20.0, 30.9, 31.0])
    x = np.array([2.0, 3.0, -4.0, 8.0, 1.0, 1.4])
    at = np.array([span[0], *station[(station > span[0]) & (station < span[1])], span[1]])
    expected = InterpolatedUnivariateSpline(station, x, k=1)(at)
    np.testing.assert_allclose(ends._piece(x, station, np.array(span)), expected, atol=1e-9)
