"""The consensus line: it finds a known line, whoever strays, stands, starts late or logs nothing."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from polylines import (
    SHAPES,
    along,
    bundle_of,
    line_of,
    plane,
    sharpest_turn,
    true_line,
    turned,
    with_knot,
    world_bundle,
)  # fmt: skip
from trackspread.geometry.consensus import centreline as module
from trackspread.geometry.consensus.centreline import centreline, consensus, first_line
from trackspread.geometry.consensus.ends import extended
from trackspread.geometry.consensus.line_repair import patched
from trackspread.geometry.consensus.lines import line_through
from trackspread.geometry.consensus.medoid import medoid
from trackspread.geometry.matching import Line, match
from trackspread.geometry.points import Bundle, join
from world import Fault, Receiver, World, simulate
from world.routes import rounded

few = settings(max_examples=6, deadline=None, derandomize=True)
OPTIONS = {"step_m": 5.0, "reach_m": 60.0, "gap_m": 80.0}


def found(bundle: Bundle) -> Line:
    return centreline(bundle, **OPTIONS)[0]


def errors_m(line: Line, truth: np.ndarray) -> np.ndarray:
    """Return the distance of every vertex to a line of points, shape (S,)."""
    return shapely.distance(shapely.LineString(truth), shapely.points(line.x, line.y))


def rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def truth_of(world: World) -> np.ndarray:
    return np.stack([world.route.east_m, world.route.north_m], axis=1)


def noisy(corners: list[tuple[float, float]], count: int, sd_m: float, seed: int = 1) -> list[np.ndarray]:
    """Return traces with a smooth random offset each, its standard deviation ``sd_m``."""
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(count):
        points = along(corners)
        wave = np.cumsum(rng.normal(0, 0.05, len(points)))
        error = sd_m * rng.standard_normal(2) + np.stack([wave, wave[::-1]], axis=1)
        out.append(points + error)
    return out


# --- the start ---------------------------------------------------------------------------------------


def test_a_line_has_even_stations_up_to_its_length() -> None:
    line = line_through(np.array([0.0, 30, 30]), np.array([0.0, 0, 13]), 5.0)
    np.testing.assert_allclose(np.delete(np.diff(line.station_m), 6), 43 / 9)  # one goes round the corner
    assert len(line.x) == 10
    assert line.length_m == pytest.approx(43.0, abs=1.5)


def test_the_first_line_is_the_medoid_smoothed() -> None:
    rng = np.random.default_rng(3)
    traces = [t + rng.normal(0, 1.0, t.shape) for t in [along([(0, 0), (600, 0)], 5.0)] * 3]
    bundle = bundle_of(traces)
    start = medoid(bundle)
    line = first_line(bundle, start, 5.0)
    part = bundle.of(start)
    assert rms(errors_m(line, np.array([[0, 0], [600, 0]]))) < 0.7 * np.abs(bundle.y[part]).std() * 1.6
    assert line.length_m == pytest.approx(600.0, abs=25.0)


# --- a known line ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "shape", ["winding", "city", "hairpins", "crossing", "loop", "figure of eight", "straight"]
)
def test_the_line_of_traces_without_errors_is_their_line(shape: str) -> None:
    world = simulate(
        shape, seed=2, rides=4, length_m=1200, receivers=[Receiver(sigma_m=0.05, white_m=0.02)], line_sd_m=0.0
    )
    line = found(world_bundle(world))
    error = errors_m(line, truth_of(world))
    assert rms(error) < 0.5
    assert error.max() < 2.5  # the inner side of a street corner of 4 m radius
    assert line.length_m == pytest.approx(world.route.length_m, abs=60.0)  # late first fixes
    assert np.median(np.diff(line.station_m)) == pytest.approx(5.0, abs=0.1)


@pytest.mark.parametrize(("shape", "rides"), [("winding", 4), ("city", 8), ("loop", 6)])
def test_the_line_is_as_good_as_a_mean_of_the_traces(shape: str, rides: int) -> None:
    """A mean of n traces has an error of sigma / sqrt(n), here over six worlds."""
    squares = []
    for seed in range(6):
        world = simulate(shape, seed=seed, rides=rides, length_m=1500, line_sd_m=0.0)
        squares.append(rms(errors_m(found(world_bundle(world)), truth_of(world))) ** 2)
    assert np.sqrt(np.mean(squares)) < 1.25 * 2.5 / np.sqrt(rides)


@pytest.mark.parametrize("many", [4, 5, 8])
def test_one_trace_that_strays_does_not_bend_the_line(many: int) -> None:
    corners = [(0, 0), (1500, 0)]
    traces = noisy(corners, many, 1.0)
    clean = found(bundle_of(traces))
    strayed = traces[0].copy()
    strayed[120:180, 1] += 30.0
    line = found(bundle_of([strayed, *traces[1:]]))
    inside = (line.x > 620) & (line.x < 880)
    at = np.interp(line.x[inside], clean.x, clean.y)
    others = np.mean([np.interp(line.x[inside], *t.T) for t in traces[1:]], axis=0)
    assert rms(line.y[inside] - others) < 0.8
    assert np.abs(line.y[inside] - at).max() < 1.6


@pytest.mark.parametrize("seed", range(4))
def test_the_tip_of_a_spur_does_not_wear_off(seed: int) -> None:
    """Legs 3 m apart, ridden out and back: the tip lies as far out as the traces say on average."""
    world = simulate("spur", seed=seed, rides=6, length_m=1500)
    bundle = world_bundle(world)
    line = found(bundle)
    reached = np.mean([np.abs(bundle.y[bundle.of(t)]).max() for t in range(bundle.traces)])
    assert np.abs(line.y).max() == pytest.approx(reached, abs=6.0)


@pytest.mark.parametrize("seed", range(2))
def test_the_tip_of_a_spur_ridden_exactly_is_where_it_was_ridden_to(seed: int) -> None:
    """Errors of 5 cm: smoothed like the rest of the line the tip is 3 m short, and 6 m where the line is, too."""
    world = simulate(
        "spur", seed=seed, rides=4, length_m=900, receivers=[Receiver(sigma_m=0.05)], line_sd_m=0.0
    )
    bundle = world_bundle(world)
    reached = np.mean([np.abs(bundle.y[bundle.of(t)]).max() for t in range(bundle.traces)])
    assert np.abs(found(bundle).y).max() == pytest.approx(reached, abs=2.2)


def test_points_that_have_no_say_have_none() -> None:
    """Two of four traces lie 20 m aside; told so, the line follows the other two."""
    corners = [(0, 0), (1000, 0)]
    traces = [along(corners, 5.0, d) for d in (-0.5, 0.5, -0.4, 0.6)]
    for k in (0, 1):
        traces[k][80:120, 1] += 20.0
    bundle = bundle_of(traces)
    line = line_of(along(corners))
    silent = (bundle.owner < 2) & (bundle.x > 380) & (bundle.x < 620)
    station = match(bundle, line, 60.0)
    told, _ = consensus(bundle, line, station, left_out=silent, **OPTIONS)
    untold, _ = consensus(bundle, line, station, **OPTIONS)
    middle = (told.x > 430) & (told.x < 570)
    np.testing.assert_allclose(told.y[middle], -0.1, atol=0.3)
    middle = (untold.x > 430) & (untold.x < 570)
    assert np.abs(untold.y[middle]).min() > 5.0


def test_where_all_points_have_a_say_it_is_as_if_none_were_asked() -> None:
    bundle = bundle_of(noisy(SHAPES["corner"], 4, 2.0))
    line = first_line(bundle, medoid(bundle), 5.0)
    station = match(bundle, line, 60.0)
    one, other = (
        consensus(bundle, line, station, left_out=out, **OPTIONS)[0]
        for out in (None, np.zeros(len(station), dtype=bool))
    )
    np.testing.assert_array_equal(other.y, one.y)
    assert np.abs(one.y[:10] - line.y[:10]).max() > 0.1


@pytest.mark.parametrize("start", [0, 1])
def test_the_line_starts_from_the_trace_that_was_named(start: int) -> None:
    """Two ways 500 m apart, one trace each: where nobody else rode the line stays where it began."""
    bundle = bundle_of([along([(0, y), (600, y)]) for y in (0.0, 500.0)])
    np.testing.assert_allclose(centreline(bundle, start=start, **OPTIONS)[0].y, 500.0 * start, atol=1e-6)


def test_the_points_stations_are_carried_along_with_the_line() -> None:
    world = simulate("winding", seed=7, rides=5, length_m=1500)
    bundle = world_bundle(world)
    line, station = centreline(bundle, **OPTIONS)
    way = shapely.LineString(np.stack([line.x, line.y], axis=1))
    inside = np.isfinite(station) & (station > 5) & (station < line.length_m - 5)
    assert inside.mean() > 0.97
    feet = way.project(shapely.points(bundle.x[inside], bundle.y[inside]))
    np.testing.assert_allclose(station[inside], feet, atol=0.05)


# --- red lights, gaps, ends --------------------------------------------------------------------------


def test_a_red_light_weighs_no_more_than_a_metre_of_road() -> None:
    """The same rides with and without half an hour at a light, the receiver wandering all the while."""
    receiver = Receiver(sigma_m=3.0, taus=((60.0, 1.0),))
    line = {}
    for wait in ((0.0, 0.1), (1800.0, 1800.1)):
        world = simulate(
            "straight", seed=3, rides=5, length_m=800, receivers=[receiver], lights=[400.0], wait_s=wait
        )
        line[wait] = found(world_bundle(world))
        assert rms(errors_m(line[wait], truth_of(world))) < 1.25 * 3.0 / np.sqrt(5)
        assert line[wait].length_m == pytest.approx(780.0, abs=25)  # late first fixes


def test_a_gap_in_some_traces_leaves_the_line_to_the_others() -> None:
    gaps = [Fault(kind="gap", ride=r, receiver="alder", from_m=500, to_m=800) for r in (0, 1)]
    world = simulate("winding", seed=4, rides=5, length_m=1500, faults=gaps)
    line = found(world_bundle(world))
    assert rms(errors_m(line, truth_of(world))) < 1.6 * 2.5 / np.sqrt(3)
    assert line.length_m == pytest.approx(world.route.length_m, abs=45.0)


@pytest.mark.parametrize(("late", "begins_at"), [(0, 0), (3, 0), (4, 200)])
def test_the_line_spans_where_half_of_the_traces_run(late: int, begins_at: float) -> None:
    corners = [(0, 0), (1000, 0)]
    traces = [along(corners, 5.0, d) for d in (-1.0, -0.5, 0.0, 0.3, 0.6, 1.0)]
    cut = [t[40:] if k < late else t for k, t in enumerate(traces)]
    line = found(bundle_of(cut))
    assert line.x[0] == pytest.approx(begins_at, abs=12.0)
    assert line.x[-1] == pytest.approx(1000.0, abs=12.0)
    back = found(bundle_of([t[::-1].copy() for t in cut]))
    assert back.x[-1] == pytest.approx(begins_at, abs=12.0)
    assert back.x[0] == pytest.approx(1000.0, abs=12.0)


@pytest.mark.parametrize("shape", ["straight", "hairpin", "corner"])
def test_a_short_line_is_lengthened_as_far_as_half_of_the_traces_run(shape: str) -> None:
    points = along(SHAPES[shape], 5.0)
    traces = [along(SHAPES[shape], 5.0, d) for d in (-0.8, -0.2, 0.3, 0.9)]
    traces[3] = traces[3][12:-12]
    bundle = bundle_of(traces)
    short = line_of(points[20:-16])
    longer = extended(bundle, short, match(bundle, short, 60.0), 5.0)
    full = line_of(points)
    assert longer.length_m == pytest.approx(full.length_m, abs=20.0)
    assert np.hypot(*(np.array([longer.x[0], longer.y[0]]) - points[0])) < 12.0
    assert np.hypot(*(np.array([longer.x[-1], longer.y[-1]]) - points[-1])) < 12.0
    assert errors_m(longer, points).max() < 4.0


@pytest.mark.parametrize("backwards", [False, True])
def test_the_line_is_lengthened_by_the_way_that_just_half_of_the_traces_ran(backwards: bool) -> None:
    """Of four traces that begin 400, 300, 100 and 50 m before the line two begin 300 m before it."""
    traces = [
        along([(-begins, 0), (800, 0)], 5.0, right)
        for begins, right in ((100, 1), (400, -1), (50, 0), (300, 2))
    ]
    line = line_of(along([(0, 0), (800, 0)], 5.0))
    if backwards:
        traces, line = [t[::-1].copy() for t in traces], line_of(along([(800, 0), (0, 0)], 5.0))
    bundle = bundle_of(traces)
    longer = extended(bundle, line, match(bundle, line, 60.0), 5.0)
    assert longer.length_m == pytest.approx(1100.0, abs=5.0)
    end = longer.x[-1] if backwards else longer.x[0]
    assert end == pytest.approx(-300.0, abs=5.0)
    assert np.abs(longer.y).max() < 2.5


@pytest.mark.parametrize(("beyond_m", "longer"), [(8.0, False), (16.0, True)])
def test_a_few_metres_beyond_the_end_are_not_worth_it(beyond_m: float, longer: bool) -> None:
    traces = [along([(-beyond_m, 0), (300, 0)], 2.0, d) for d in (-1.0, 0.0, 1.0)]
    line = line_of(along([(0, 0), (300, 0)], 5.0))
    bundle = bundle_of(traces)
    assert (extended(bundle, line, match(bundle, line, 60.0), 5.0) is not line) == longer


@pytest.mark.parametrize(("step_m", "begin_m"), [(63.0, -262.0), (24.0, -20.0)])
def test_a_way_of_points_far_apart_lengthens_the_line_by_all_of_it(step_m: float, begin_m: float) -> None:
    """Its last point before the line lies 10 m from it, the next 53 m beyond; or there is but one before it."""
    traces = [along([(begin_m - 40.0, 1), (600, 1)], 5.0), along([(begin_m, 0), (600, 0)], step_m)]
    line = line_of(along([(0, 0), (600, 0)], 5.0))
    for ways, way in (
        (traces, line),
        ([t[::-1] for t in traces], line_of(np.stack([line.x, line.y], 1)[::-1])),
    ):
        bundle = bundle_of(ways)
        longer = extended(bundle, way, match(bundle, way, 60.0), 5.0)
        assert longer.length_m == pytest.approx(600.0 - begin_m, abs=1.0)


def test_a_way_that_joins_the_line_farther_on_is_not_its_beginning() -> None:
    """Both traces come from the side and meet the line only 100 m after its start."""
    traces = [along([(100, -300), (100, 0), (600, 0)], 5.0, d) for d in (-1.0, 1.0)]
    line = line_of(along([(0, 0), (600, 0)], 5.0))
    bundle = bundle_of(traces)
    assert extended(bundle, line, match(bundle, line, 60.0), 5.0) is line


def test_of_three_traces_two_are_half_and_of_two_both() -> None:
    traces = [along([(0, 0), (600, 0)], 5.0, d) for d in (-1.0, 0.0, 1.0)]
    late = [*traces[:2], traces[2][40:]]
    assert found(bundle_of(late)).x[0] == pytest.approx(0.0, abs=12.0)
    assert found(bundle_of([traces[0], traces[2][40:]])).x[0] == pytest.approx(200.0, abs=12.0)


def test_a_line_that_most_traces_do_not_outrun_is_left_alone() -> None:
    points = along([(0, 0), (800, 0)], 5.0)
    traces = [along([(0, 0), (800, 0)], 5.0, d) for d in (-1.0, 0.0, 0.5, 1.0, 0.2)]
    cut = [t if k < 2 else t[30:-30] for k, t in enumerate(traces)]
    bundle = bundle_of(cut)
    line = line_of(points[30:-30])
    assert extended(bundle, line, match(bundle, line, 60.0), 5.0) is line


# --- laws --------------------------------------------------------------------------------------------


@few
@given(st.integers(0, 1000), st.floats(-3.1, 3.1))
def test_the_line_turns_with_the_plane(seed: int, angle: float) -> None:
    traces = noisy(SHAPES["corner"], 5, 2.0, seed)
    here = found(bundle_of(traces))
    there = found(bundle_of([turned(t, angle, (4e4, 7e4)) for t in traces]))
    expected = turned(np.stack([here.x, here.y], axis=1), angle, (4e4, 7e4))
    np.testing.assert_allclose(np.stack([there.x, there.y], axis=1), expected, atol=1e-3)


@few
@given(st.integers(0, 1000), st.permutations(range(5)))
def test_the_order_of_the_traces_does_not_matter(seed: int, order: list[int]) -> None:
    traces = noisy(SHAPES["crossing"], 5, 2.0, seed)
    here, there = found(bundle_of(traces)), found(bundle_of([traces[k] for k in order]))
    np.testing.assert_allclose(there.x, here.x, atol=1e-6)
    np.testing.assert_allclose(there.y, here.y, atol=1e-6)


@few
@given(st.integers(0, 1000))
def test_the_line_of_the_way_back_lies_on_that_of_the_way_there(seed: int) -> None:
    traces = noisy(SHAPES["corner"], 5, 2.0, seed)
    here, back = found(bundle_of(traces)), found(bundle_of([t[::-1].copy() for t in traces]))
    inside = slice(4, -4)
    apart = errors_m(back, np.stack([here.x, here.y], axis=1))[inside]
    assert apart.max() < 0.8
    assert rms(apart) < 0.3


def test_a_trace_told_twice_changes_little_and_breaks_nothing() -> None:
    world = simulate("winding", seed=9, rides=4, length_m=1000)
    bundle = world_bundle(world)
    parts = [
        (bundle.x[p], bundle.y[p], bundle.time_s[p], bundle.gap_before[p]) for p in map(bundle.of, range(4))
    ]
    line = found(join([*parts, parts[0]]))
    assert rms(errors_m(line, truth_of(world))) < 1.3 * 2.5 / np.sqrt(3)


def test_two_traces_are_enough() -> None:
    line = found(bundle_of([along(SHAPES["corner"], 5.0, d) for d in (-3.0, 3.0)]))
    assert rms(errors_m(line, along(SHAPES["corner"]))) < 1.0


def test_the_true_line_is_kept_when_it_is_the_start() -> None:
    world = simulate(
        "winding",
        seed=1,
        rides=6,
        length_m=1000,
        receivers=[Receiver(sigma_m=0.02, white_m=0.01)],
        line_sd_m=0,
    )
    bundle, start = world_bundle(world), true_line(world)
    line, _ = consensus(bundle, start, match(bundle, start, 60.0), **OPTIONS)
    assert rms(errors_m(line, truth_of(world))) < 0.1
    assert len(plane(world, world.recordings[0])) > 100


def test_moves_are_smoothed_over_what_the_traces_leave_out() -> None:
    """Points 200 m apart, stations 5 m: a quarter to either side is ten stations; points 5 m apart: as given."""
    spike = np.zeros(101)
    spike[50] = 21.0
    sparse = module._smoothed(spike, np.full((3, 101), 200.0), 5.0)
    np.testing.assert_allclose(sparse[41:60], 1.0)
    assert sparse[[30, 70]].tolist() == [0.0, 0.0]
    dense = module._smoothed(spike, np.full((3, 101), 5.0), 5.0)
    np.testing.assert_allclose(dense[48:53], [0.0, 7.0, 7.0, 7.0, 0.0])
    unknown = module._smoothed(spike, np.full((3, 101), np.nan), 5.0)
    np.testing.assert_allclose(unknown, dense)


def test_where_no_trace_has_a_say_the_move_is_that_of_the_neighbours() -> None:
    offset = np.tile([2.0, np.nan, np.nan, 5.0], (4, 1))
    np.testing.assert_allclose(module._location(offset, None, 5.0), [2.0, 3.0, 4.0, 5.0])
    assert (module._location(np.full((4, 3), np.nan), None, 5.0) == 0.0).all()


def test_traces_that_agree_by_chance_leave_no_good_one_out() -> None:
    """Seven traces 10 cm apart over a piece, and 3 m apart elsewhere: the eighth, 2 m aside, keeps its say."""
    aside = np.linspace(-3.0, 3.0, 7)
    offset = np.repeat(aside[:, None], 400, axis=1)
    offset[:, 150:250] /= 30.0
    offset = np.vstack([offset, np.full(400, 2.0)])
    middle = module._location(offset, None, 5.0)[200]
    assert middle == pytest.approx(offset[:, 200].mean(), rel=0.2)


# --- nothing grows where little is known -----------------------------------------------------------------

STREETS = rounded(np.array([(0, 0), (900, 0), (900, -600), (1500, -600), (1500, -300), (2200, -300.0)]), 10.0)


@pytest.mark.parametrize("rides", [4, 8])
def test_a_few_bad_traces_between_houses_make_no_loops(rides: int) -> None:
    """Errors of 8 m that last 30 s, a point every 3 to 11 s: such lines once curled in every world."""
    for seed in range(5):
        receiver = Receiver(sigma_m=8.0, taus=((30.0, 1.0),), sampling="3-11 s")
        world = simulate(STREETS, seed=seed, rides=rides, lights=0, receivers=[receiver])
        line = found(world_bundle(world))
        assert sharpest_turn(line) < 3.2, "a right angle is 1.6"
        assert line.length_m == pytest.approx(STREETS.length_m, rel=0.05)


def test_a_line_that_curls_is_put_straight_while_it_is_moved() -> None:
    straight = along([(0, 0), (1000, 0)], 5.0)
    bundle = bundle_of([straight + np.array([0.0, d]) for d in (-4.0, 0.0, 4.0)])
    line = line_through(*with_knot(straight, 100, 12.0).T, 5.0)
    moved, station = consensus(bundle, line, match(bundle, line, 60.0), **OPTIONS)
    np.testing.assert_allclose(moved.y, 0.0, atol=0.1)
    assert moved.length_m == pytest.approx(1000.0, abs=2.0)
    np.testing.assert_allclose(station, bundle.x - moved.x[0], atol=0.1)


def test_the_direction_of_a_line_as_a_whole_does_not_follow_a_kink() -> None:
    zigzag = np.stack([np.arange(0.0, 200.0, 5.0), np.tile([0.0, 4.0], 20)], axis=1)
    tx, ty = module.carried_tangents(line_of(zigzag), 6)
    assert np.degrees(np.abs(np.arctan2(ty, tx)))[8:-8].max() < 6.0
    hairpin = line_of(along([(0, 0), (300, 0), (300, 0.5), (0, 0.5)], 5.0))
    tx, ty = module.carried_tangents(hairpin, 4)
    np.testing.assert_allclose(np.hypot(tx, ty), 1.0, atol=1e-9)


# --- where the line to start from went another way ---------------------------------------------------

STRAIGHT: list[tuple[float, float]] = [(0, 0), (800, 0)]


def aside(by_m: float) -> list[tuple[float, float]]:
    """A way round by so much, from 300 to 500 m."""
    return [(0, 0), (290, 0), (300, by_m), (500, by_m), (510, 0), (800, 0)]


def put_right(line: Line, ways: list[list[tuple[float, float]]]) -> Line:
    bundle = bundle_of([along(way, 5.0, 0.3 * (k % 3)) for k, way in enumerate(ways)])
    station = match(bundle, line, 60.0)
    return patched(bundle, line, station, 80.0, 5.0)


@pytest.mark.parametrize("by_m", [90.0, 20.0, -14.0])
def test_a_way_round_that_half_of_the_traces_did_not_ride_is_replaced(by_m: float) -> None:
    """Out of reach, 60 m, or just more than 12 m aside: the others rode straight on, and their line is y = 0."""
    line = line_of(along(aside(by_m)))
    found = put_right(line, [aside(by_m), STRAIGHT, STRAIGHT, STRAIGHT])
    assert np.abs(found.y).max() < 2.0
    assert found.length_m == pytest.approx(800.0, abs=3.0)
    for rides, straight, replaced in (
        (4, 1, False),
        (4, 2, True),
        (6, 2, False),
        (6, 3, True),
        (3, 1, False),
        (3, 2, True),
    ):
        found = put_right(line, [STRAIGHT] * straight + [aside(by_m)] * (rides - straight))
        assert (found is not line) == replaced


def test_of_the_ways_that_others_rode_the_one_of_median_length_is_taken() -> None:
    """Straight on, 14 m aside, 30 m aside and 90 m aside as the line itself: of four the third."""
    line = line_of(along(aside(90.0)))
    found = put_right(line, [aside(90.0), STRAIGHT, aside(-14.0), aside(-30.0)])
    assert found.y.min() == pytest.approx(-30.0, abs=2.0)
    assert found.y.max() < 2.0


def test_ways_less_than_twelve_metres_aside_are_left_to_the_consensus() -> None:
    line = line_of(along(aside(11.0)))
    assert put_right(line, [aside(11.0)] + [STRAIGHT] * 3) is line


def test_a_medoid_that_rode_round_does_not_lead_the_line_astray() -> None:
    """Each of five traces rides round somewhere else; the one that lies best on all others does, too."""
    ways = [
        along([(0, 0), (a, 0), (a, 90), (a + 150, 90), (a + 150, 0), (1500, 0)])
        for a in range(150, 1200, 220)
    ]
    line = found(bundle_of(ways))
    assert np.abs(line.y).max() < 2.0
    assert line.length_m == pytest.approx(1500.0, abs=6.0)


def test_companions_on_one_ride_have_one_say() -> None:
    """Three watches on one ride at 6 m, two rides at 0 m: the middle of three rides, not of five traces."""
    ways = [along([(0.0, y), (800.0, y)], 5.0) for y in (6.0, 6.0, 6.0, 0.0, 0.0)]
    bundle, ride = bundle_of(ways), np.array([0, 0, 0, 1, 2])
    by_trace, _ = centreline(bundle, **OPTIONS)
    by_ride, _ = centreline(bundle, **OPTIONS, ride=ride)
    assert np.median(by_trace.y) > 3.0
    assert np.median(by_ride.y) < 2.5
