"""Rides as people ride: kinds of ordinary rides over seeds, as rows for docs/validation.md.

Run ``PYTHONPATH=src:tests:tests/validation python tests/validation/rides_as_ridden.py [seeds] [kind ...]``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from rows import HEAD, Row, share
from scipy.spatial import cKDTree

from sparse_lines import aligned, distance_m, drawn, line_of_points, mean_line
from trackspread.model import Analysis, RouteResult, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from world import SHAPES, Fault, Receiver, simulate
from world.globe import Globe
from world.routes import Route, rounded, route_along
from world.witnesses import as_witnesses

CIRCUIT_M = 1900
FAR_ASIDE_M = 300.0
ROLLOVER_S = 1024 * 7 * 86_400.0
"""The week number of GPS has ten bits (IS-GPS-200, 20.3.3.3.1.1): a receiver that misses its roll-over is
1,024 weeks, 7,168 days, behind."""


def rides_on(ways: Sequence[Route], seed: int, receivers: int = 1, **world: object) -> list[Witness]:
    """Return the recordings of one ride on each way, with so many watches each."""
    out: list[Witness] = []
    watches = [Receiver(name=name) for name in ("alder", "birch", "cedar")[:receivers]]
    for k, way in enumerate(ways):
        one = simulate(
            way, seed=1000 * seed + k, rides=1, first_start_s=1.9e9 + 1e5 * k, receivers=watches, **world
        )
        for n, w in enumerate(as_witnesses(one)):
            out.append(replace(w, ride=str(k + 1), trace=replace(w.trace, file=f"{k:03}_{n}.gpx")))
    return out


def found(ways: Sequence[Route], seed: int, receivers: int = 1, **world: object) -> Analysis:
    return analyse(rides_on(ways, seed, receivers, **world), Options())


def points_of(way: Route) -> np.ndarray:
    return np.stack([way.east_m, way.north_m], axis=1)


def circuit(seed: int) -> np.ndarray:
    return points_of(SHAPES["loop"](np.random.default_rng(seed), float(CIRCUIT_M), False))


def around(points: np.ndarray, start: int, length: int) -> Route:
    """Return a way on a circuit from a station on over a length, which may be more than once round."""
    return route_along(points[np.arange(start, start + length) % (len(points) - 1)])


def hits(case: str, figure: str, each: Sequence[bool], note: str = "") -> Row:
    value, error = share(sum(each), len(each))
    return Row(case, figure, value, error, low=1.0, high=1.0, note=note or f"{len(each)} seeds")


def circuits(seeds: range) -> Iterator[Row]:
    """Coverage of the ride that counts least, and length of the line over that of the circuit."""
    cases = {
        "circuit, six rides from one place": ([0] * 6, [1890] * 6),
        "circuit, two start 150 and 900 m before": ([0, 0, 0, 0, -150, -900], [1900] * 4 + [2050, 2800]),
        "circuit, six starts": ([100, 500, 900, 1300, 1700, 20], [1890] * 6),
    }
    for case, (starts, lengths) in cases.items():
        least, length = [], []
        for seed in seeds:
            one = circuit(seed)
            analysis = found([around(one, s, n) for s, n in zip(starts, lengths, strict=True)], seed)
            route = analysis.routes[0]
            least.append(min(t.coverage for t in route.traces) if len(route.traces) == 6 else 0.0)
            length.append(route.length_m / CIRCUIT_M)
        yield Row(case, "least coverage of a ride", min(least), low=0.95)
        yield Row(case, "length / true", float(np.mean(length)), float(np.std(length)), low=0.97, high=1.01)


def both_ways(seeds: range) -> Iterator[Row]:
    """Four rides one way round and three the other; and one alone the other way."""
    two, named = [], []
    for seed in seeds:
        one = circuit(seed)
        there = [around(one, 0, 1890)] * 4
        back = [around(one[::-1], 300, 1890)] * 3
        routes = found([*there, *back], seed).routes
        two.append(sorted(len(route.traces) for route in routes) == [3, 4])
        last = found([*there, *back[:1]], seed).inputs[-1]
        named.append(last.status == "set aside" and last.reason.code == "other_direction")
    yield hits("circuit both ways", "two routes, 4 and 3 rides", two)
    yield hits("circuit, one ride the other way", "named as that", named)


def laps(seeds: range) -> Iterator[Row]:
    """Files of two and three laps: the same split in any order; beside files of one lap they are named."""
    split, said = [], []
    for seed in seeds:
        one, rng = circuit(seed), np.random.default_rng(seed)
        witnesses = rides_on([around(one, s, n) for s, n in ((0, 3790), (30, 5680), (900, 3790))], seed)
        orders = [list(range(3)), [2, 1, 0], rng.permutation(3).tolist()]
        several = [analyse([witnesses[i] for i in order], Options()) for order in orders]
        counts = [sorted(len(route.traces) for route in a.routes) for a in several]
        lengths = [a.routes[0].length_m / CIRCUIT_M for a in several]
        whole = all(sum(count) >= 7 for count in counts) and counts[0] == counts[1] == counts[2]
        split.append(whole and bool(np.all(np.abs(np.array(lengths) - 1.0) < 0.04)))
        mixed = analyse(
            rides_on([around(one, 0, 1890), around(one, 0, 1890), around(one, 0, 3790)], seed), Options()
        )
        said.append("laps" in {finding.code for finding in mixed.inputs[-1].findings})
    yield hits("files of 2 and 3 laps", "the same laps in any order of files", split)
    yield hits("one file of laps among others", "told that it holds laps", said)


def aside(way: Route, from_m: float, to_m: float, by_m: float) -> Route:
    """Return the way with a piece that runs beside it, left and joined by streets across.

    Far aside it runs along the chord: beside the bends of the way it would double back on itself.
    """
    first, last = int(from_m), int(to_m)
    points, right = points_of(way), way.right(way.station_m)
    if abs(by_m) > FAR_ASIDE_M:
        chord = points[last] - points[first]
        across = by_m * np.array([chord[1], -chord[0]]) / np.linalg.norm(chord)
        beside = np.array([points[first], points[last]]) + across
        return route_along(np.concatenate([points[:first], beside, points[last:]]))
    corner = max(1, int(0.02 * (last - first)))
    beside = (points + by_m * right)[first + corner : last - corner]
    return route_along(np.concatenate([points[:first], beside, points[last:]]))


def variants(seeds: range) -> Iterator[Row]:
    """Rides another way: one variant with the right rides, no stretch for it, and the rest steady."""
    cases = (
        ("2 of 6 rides 30 m aside over 300 m", 6, 2, 3000.0, (1200, 1500), 30.0, seeds),
        ("3 of 8 rides 150 m aside over 400 m", 8, 3, 6000.0, (1200, 1600), -150.0, seeds[:10]),
        ("13 of 38 rides 400 m aside over 2 km of 16", 38, 13, 16_000.0, (6000, 8000), 400.0, seeds[:2]),
        ("65 of 143 rides 25 m aside over 110 m", 143, 65, 1200.0, (500, 610), 25.0, seeds[:2]),
    )
    for case, rides, others, length, (first, last), by, some in cases:
        right, single = [], []
        for seed in some:
            way = SHAPES["winding"](np.random.default_rng(seed), length, False)
            other = aside(way, first, last, by)
            analysis = found([other] * others + [way] * (rides - others), seed, lights=0)
            route = analysis.routes[0]
            names = {str(k + 1) for k in range(others)}
            took = [v for v in route.variants if set(v.rides) == names]
            right.append(len(analysis.routes) == 1 and len(route.variants) == 1 and len(took) == 1)
            blamed = [s for s in route.stretches if s.ride in names and s.from_m < last and s.to_m > first]
            single.append(len(analysis.routes) == 1 and not blamed)
        yield hits(case, "one variant with those rides", right, f"{len(some)} seeds")
        yield hits(case, "none of them told as a stretch", single, f"{len(some)} seeds")


def two_loops(seeds: range) -> Iterator[Row]:
    """Four rides on each of two loops that share most of their way."""
    for shared in (0.9, 0.75):
        right = []
        for seed in seeds:
            way = around(circuit(seed), 0, 1890)
            part = (1.0 - shared) * 1890
            other = aside(way, 945 - part / 2, 945 + part / 2, -220.0)
            analysis = found([way] * 4 + [other] * 4, seed, lights=0)
            lone = len(analysis.routes) == 1 and len(analysis.routes[0].variants) == 1
            pair = [sorted(int(t.ride) > 4 for t in route.traces) for route in analysis.routes]
            right.append(lone or sorted(pair) == [[False] * 4, [True] * 4])
        yield hits(f"two loops that share {shared:.0%}", "told as two ways", right)


def approaches(seeds: range) -> Iterator[Row]:
    """One of five rides comes from another street with a good fix; or it starts with a bad fix that gets right."""
    streets = {"square": (0.0, -300.0), "diagonal": (-250.0, -130.0), "flat diagonal": (-330.0, -70.0)}
    for name, (east, north) in streets.items():
        for watches in (1, 2):
            right = []
            for seed in seeds:
                line = np.array([[-400.0, 0.0], [2000.0, 0.0]])
                ways = [route_along(line)] * 4
                ways.append(route_along(np.array([[east, north], [0.0, 0.0], [2000.0, 0.0]])))
                route = found(ways, seed, watches, lights=0).routes[0]
                own = [t for t in route.traces if t.ride == "5"]
                causes = {s.cause for s in route.stretches if s.ride == "5"}
                right.append(len(own) == watches and "settling" not in causes)
            carried = "one watch" if watches == 1 else "two watches"
            yield hits(f"approach by a {name} street, {carried}", "not called settling", right)
    settles = []
    for seed in seeds:
        fault = Fault(kind="settling", ride=2, offset_m=45.0, seconds=60.0)
        world = simulate("winding", seed=seed, rides=5, length_m=2500, faults=[fault])
        route = analyse(as_witnesses(world), Options()).routes[0]
        settles.append("settling" in {s.cause for s in route.stretches if s.ride == "3"})
    yield hits("a fix 45 m off that gets right within 60 s", "called settling", settles)


def turned_by(route: RouteResult) -> float:
    east = np.diff(route.lon_deg) * np.cos(np.radians(route.lat_deg[0]))
    heading = np.unwrap(np.arctan2(np.diff(route.lat_deg), east))
    return float(np.abs(np.diff(heading)).sum())


def from_traces_m(witnesses: Sequence[Witness], route: RouteResult) -> float:
    """Return how far the line gets from the nearest way that was logged, metres."""
    metres = 111_195.0 * np.array([np.cos(np.radians(route.lat_deg[0])), 1.0])
    every = []
    for w in witnesses:
        place = np.column_stack([w.trace.lon_deg, w.trace.lat_deg]) * metres
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(place, axis=0).T))])
        at = np.arange(0.0, along[-1], 1.0)
        every.append(np.column_stack([np.interp(at, along, c) for c in place.T]))
    line = np.column_stack([route.lon_deg, route.lat_deg]) * metres
    return float(cKDTree(np.concatenate(every)).query(line)[0].max())


def thinned_to(witness: Witness, low_m: float, high_m: float, rng: np.random.Generator) -> Witness:
    """Return a recording with points some 120 to 240 m apart."""
    t = witness.trace
    scale = 111_195.0 * np.array([np.cos(np.radians(t.lat_deg[0])), 1.0])
    step = np.hypot(*(np.diff(np.column_stack([t.lon_deg, t.lat_deg]), axis=0) * scale).T)
    travel, keep, due = np.concatenate([[0.0], np.cumsum(step)]), [0], 0.0
    while due < travel[-1]:
        due = travel[keep[-1]] + rng.uniform(low_m, high_m)
        keep.append(min(int(np.searchsorted(travel, due)), len(travel) - 1))
    keep = sorted(set(keep))
    return kept_points(witness, np.array(keep))


def shapes(seeds: range) -> Iterator[Row]:
    """To-and-fro ground and sparse points: the line is where the traces are, and as long as they are."""
    far, longer = [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        apart = rng.uniform(10.0, 20.0)
        legs = [[(0.0, k * apart), (120.0, k * apart)][:: 1 if k % 2 == 0 else -1] for k in range(8)]
        way = rounded(np.array(legs).reshape(-1, 2), 0.45 * apart)
        witnesses = rides_on([way] * 6, seed, lights=0)
        route = analyse(witnesses, Options()).routes[0]
        far.append(from_traces_m(witnesses, route))
        longer.append(route.length_m / way.length_m)
    yield Row(
        "walked to and fro, legs 10-20 m apart", "line to the nearest trace, m, largest", max(far), high=8.0
    )
    yield Row(
        "walked to and fro, legs 10-20 m apart", "length / true, farthest from 1",
        max(longer, key=lambda v: abs(v - 1.0)), low=0.93, high=1.05,
    )  # fmt: skip
    for rides in (3, 6):
        far, turns, longer = [], [], []
        for seed in seeds:
            way = SHAPES["winding"](np.random.default_rng(seed), 4000.0, False)
            rng = np.random.default_rng(seed)
            every = rides_on([way] * rides, seed, lights=0)
            route = analyse([thinned_to(w, 120.0, 240.0, rng) for w in every], Options()).routes[0]
            far.append(from_traces_m(every, route))
            turned = np.abs(np.diff(np.unwrap(np.arctan2(*way.direction(way.station_m).T)))).sum()
            turns.append(turned_by(route) / turned)
            longer.append(route.length_m / way.length_m)
        case = f"points 120-240 m apart, {rides} rides of a winding road"
        yield Row(
            case,
            "line to the nearest true way, m, median",
            float(np.median(far)),
            note=f"largest {max(far):.0f}",
        )
        yield Row(case, "turning / true", float(np.mean(turns)), float(np.std(turns)), high=1.1)
        yield Row(case, "length / true", float(np.mean(longer)), float(np.std(longer)), low=0.9, high=1.03)


def rides_not_traces(seeds: range) -> Iterator[Row]:
    """Two alike companions on one ride and one lone ride: nobody can say which of the two left the way."""
    blamed, spread = [], []
    for seed in seeds:
        way = SHAPES["winding"](np.random.default_rng(seed), 2500.0, False)
        pair = rides_on([way], seed, 2, common_share=0.95)
        lone = [replace(w, ride="2", trace=replace(w.trace, file="lone.gpx", time_s=w.trace.time_s + 1e5))
                for w in rides_on([way], seed + 500)]  # fmt: skip
        route = analyse([*pair, *lone], Options()).routes[0]
        blamed.append(
            sum(s.to_m - s.from_m for s in route.stretches if s.file == "lone.gpx") / route.length_m
        )
        spread.append(route.spread.value)
    yield Row("two alike companions and a lone ride", "share of the way on which the lone one is blamed",
              max(blamed), high=0.05)  # fmt: skip
    yield Row("two alike companions and a lone ride", "spread / σ", float(np.sqrt(np.mean(np.square(spread)))) / 2.57,
              low=0.7, high=1.3)  # fmt: skip


def motions(seeds: range) -> Iterator[Row]:
    """The same rides elsewhere and turned: the same length."""
    worst = 0.0
    for seed in seeds:
        way = SHAPES["winding"](np.random.default_rng(seed), 2000.0, False)
        lengths = []
        for degrees, globe in (
            (0.0, Globe(lon_deg=-84.0, lat_deg=75.2)),
            (77.0, Globe(lon_deg=179.99, lat_deg=75.2)),
        ):
            turn = np.radians(degrees)
            spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
            world = simulate(way, seed=seed, rides=5, lights=0)
            moved = []
            for w, r in zip(as_witnesses(world), world.recordings, strict=True):
                xy = np.stack(world.globe.to_plane(r.lon_deg, r.lat_deg), axis=1) @ spin.T
                lon, lat = globe.to_lonlat(xy[:, 0], xy[:, 1])
                moved.append(replace(w, trace=replace(w.trace, lon_deg=lon, lat_deg=lat)))
            lengths.append(analyse(moved, Options()).routes[0].length_m)
        worst = max(worst, abs(lengths[1] - lengths[0]))
    yield Row(
        "turned by 77° and moved across the antimeridian", "change of length, m, largest", worst, high=0.01
    )


def copies(seeds: range) -> Iterator[Row]:
    """A recording exported twice, its clock shifted, is one witness; a clock 1,024 weeks back is named."""
    for name, shift in (("an hour", 3600.0), ("1,024 weeks", -ROLLOVER_S)):
        one = []
        for seed in seeds:
            way = SHAPES["winding"](np.random.default_rng(seed), 2000.0, False)
            every = rides_on([way] * 4, seed)
            t = every[0].trace
            copy = replace(every[0], ride="9", trace=replace(t, file="copy.gpx", time_s=t.time_s + shift))
            inputs = analyse([*every, copy], Options()).inputs
            one.append(sum(i.reason.code == "same_recording" for i in inputs) == 1)
        yield hits(f"a copy with its clock shifted by {name}", "set aside as the same recording", one)


def one_stray(seeds: range) -> Iterator[Row]:
    """One ride of five to 143 that strays by 20 m over 300 m: the rule by shares, whatever the number."""
    for rides in (5, 10, 12, 38, 143):
        verdicts = []
        for seed in seeds if rides < 38 else seeds[: 190 // rides]:
            fault = Fault(kind="stretch", ride=1, receiver="alder", from_m=1000.0, to_m=1300.0, offset_m=20.0)
            world = simulate("straight", seed=seed, rides=rides, length_m=2000, faults=[fault], lights=0)
            route = analyse(as_witnesses(world), Options(steady_m=4.0, torn_m=8.0)).routes[0]
            (segment,) = [s for s in route.segments if s.from_m <= 1145 < s.to_m]
            verdicts.append(segment.verdict)
        expected = "torn" if 1 / rides >= 0.2 else "wavering" if 1 / rides > 0.05 else "steady"
        yield hits(
            f"one ride of {rides} astray", f"{expected}, as its share says", [v == expected for v in verdicts]
        )


def kept_points(witness: Witness, keep: np.ndarray) -> Witness:
    """Return a recording with some of its points."""
    t = witness.trace
    names = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")
    return replace(witness, trace=replace(t, **{name: getattr(t, name)[keep] for name in names}))


def left_running(seeds: range) -> Iterator[Row]:
    """A recording left on over two rides an hour apart; and rides of a point a minute beside one a second."""
    whole, quiet = [], []
    for seed in seeds:
        way = SHAPES["winding"](np.random.default_rng(seed), 3000.0, False)
        every = rides_on([way] * 6, seed, lights=0)
        one, other = every[4].trace, every[5].trace
        time_s = np.concatenate([one.time_s, other.time_s - other.time_s[0] + one.time_s[-1] + 3600.0])
        names = ("lon_deg", "lat_deg", "elevation_m", "break_before")
        both = {name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in names}
        left_on = replace(every[4], trace=replace(one, time_s=time_s, **both))
        route = analyse([*every[:4], left_on], Options()).routes[0]
        whole.append(len(route.traces) == 6 and min(t.coverage for t in route.traces) > 0.95)
        seldom = [kept_points(w, np.arange(len(w.trace.time_s)) % 60 == 0) for w in every[3:]]
        route = analyse([*every[:3], *seldom], Options()).routes[0]
        thin = {w.trace.file for w in seldom}
        whole_way = len(route.traces) == 6 and min(t.coverage for t in route.traces) > 0.7  # but gaps
        quiet.append(whole_way and not route.variants and not any(s.file in thin for s in route.stretches))
    yield hits("one recording of two rides", "both count whole", whole)
    yield hits("3 of 6 rides log a point a minute", "one route, no stretch and no variant of theirs", quiet)


def there_and_back(way: Route) -> Route:
    """Return a way ridden out and home again, on the right side of the street each time."""
    sides = [points_of(one) + 3.0 * one.right(one.station_m) for one in (way, way.reversed())]
    return route_along(np.concatenate(sides))


def never_stopped(witness: Witness, share: float, hours: float, rng: np.random.Generator) -> Witness:
    """Return a recording that goes on in one place, a point every 5 s, wandering by 15 m over 300 s."""
    t, n, keep = witness.trace, round(720 * hours), float(np.exp(-5.0 / 300.0))
    at = max(1, round(share * (len(t.time_s) - 1)))
    push, wander = rng.normal(0.0, 15.0 * np.sqrt(1.0 - keep**2), (n, 2)), np.zeros((n, 2))
    for k in range(1, n):
        wander[k] = keep * wander[k - 1] + push[k]
    east, north = wander.T / 111_195.0
    lon, lat = t.lon_deg[at] + east / np.cos(np.radians(t.lat_deg[at])), t.lat_deg[at] + north
    grown = {
        "time_s": np.concatenate([t.time_s[:at], t.time_s[at] + 5.0 * np.arange(n), t.time_s[at:] + 5.0 * n]),
        "lon_deg": np.concatenate([t.lon_deg[:at], lon, t.lon_deg[at:]]),
        "lat_deg": np.concatenate([t.lat_deg[:at], lat, t.lat_deg[at:]]),
        "elevation_m": np.full(len(t.time_s) + n, np.nan),
        "break_before": np.zeros(len(t.time_s) + n, dtype=bool),
    }
    return replace(witness, trace=replace(t, **grown))


def whole_days(seeds: range) -> Iterator[Row]:
    """Watches that nobody stopped: at the far end, at a rest, and beyond the end of the route."""
    cut, joined, loops, rested, longer = [], [], [], [], []
    for seed in seeds:
        rng, way = np.random.default_rng(seed), SHAPES["winding"](np.random.default_rng(seed), 3000.0, False)
        both = there_and_back(way)
        day = [never_stopped(w, 0.5, 2.0, rng) for w in rides_on([both] * 4, seed, lights=0)]
        cut.append(is_out_and_home(analyse(day, Options()), 4, way.length_m))
        mixed = found([way] * 3 + [way.reversed()] * 3 + [both], seed, lights=0)
        joined.append(is_out_and_home(mixed, 4, way.length_m))
        stem = points_of(way)
        turn = np.linspace(0.0, 2.0 * np.pi, 600)[:, None]
        ahead, right = (each(np.array([way.length_m])) for each in (way.direction, way.right))
        loop = stem[-1] + 250.0 * ((1.0 - np.cos(turn)) * right + np.sin(turn) * ahead)
        around_it = route_along(np.concatenate([stem, loop, stem[::-1] + 3.0]))
        loops.append([len(r.traces) for r in found([around_it] * 4, seed, lights=0).routes] == [4])
        rides = rides_on([way] * 5, seed, lights=0)
        for k, share_of_way in enumerate((0.0, 0.5, 1.0)):
            rides[k] = never_stopped(rides[k], share_of_way, 3.0, rng)
        rested.append(is_one_way(analyse(rides, Options()), 5, way.length_m))
        on = stem[-1] + np.arange(1.0, 3000.0)[:, None] * ahead
        further = found([way] * 4 + [route_along(np.concatenate([stem, on]))], seed, lights=0)
        longer.append(is_one_way(further, 5, way.length_m))
    yield hits("out and home in one file, 2 h between", "two routes with all rides", cut)
    yield hits("one such file beside 3 rides of either way", "counts on both", joined)
    yield hits("a loop of 1.6 km behind a stem of 3 km", "stays one ride", loops)
    yield hits("3 of 5 watches go on for 3 h in one place", "all count whole", rested)
    yield hits("one ride goes on for another 3 km", "counts by its part", longer)


def is_one_way(analysis: Analysis, rides: int, length_m: float) -> bool:
    """Return whether there is one route with all rides, whole, as long as the way."""
    return [is_whole(route, rides, length_m) for route in analysis.routes] == [True]


def is_out_and_home(analysis: Analysis, rides: int, length_m: float) -> bool:
    """Return whether there are two routes, there and back, each with so many whole rides."""
    titles = {route.title for route in analysis.routes}
    whole = [is_whole(route, rides, length_m) for route in analysis.routes]
    return titles == {"Outward", "Homeward"} and whole == [True, True]


def is_whole(route: RouteResult, rides: int, length_m: float) -> bool:
    least = min(trace.coverage for trace in route.traces)
    return len(route.traces) == rides and least > 0.95 and abs(route.length_m / length_m - 1.0) < 0.03


def sparse_sets(seeds: range) -> Iterator[Row]:
    """Sparse lines without times: mean distance to the truth over that of the pointwise mean, and stubs."""
    for scale in (100.0, 300.0, 1000.0):
        for count in (3, 5, 10, 30, 100):
            ours, plain, stubs = [], [], 0
            for seed in seeds if count < 30 else seeds[:5]:
                lines, truth = drawn(np.random.default_rng([seed, int(scale), count]), scale, count)
                line = line_of_points(aligned(lines), scale)
                stubs += np.hypot(np.diff(line[0]), np.diff(line[1])).sum() < 0.7 * scale
                ours.append(distance_m(line, truth))
                plain.append(distance_m(mean_line(aligned(lines)), truth))
            ratio = np.array(ours) / np.array(plain)
            yield Row(
                f"{count} lines over {scale:.0f} m", "mean distance / that of the pointwise mean",
                float(np.mean(ours) / np.mean(plain)), float(np.std(ratio) / np.sqrt(len(ratio))), high=1.0,
                note=f"{stubs} stubs",
            )  # fmt: skip


KINDS: dict[str, Callable[[range], Iterator[Row]]] = {
    kind.__name__: kind
    for kind in (
        circuits, both_ways, laps, variants, two_loops, approaches, shapes, rides_not_traces, motions, copies,
        one_stray, left_running, whole_days, sparse_sets,
    )
}  # fmt: skip

if __name__ == "__main__":
    seeds = range(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
    print(HEAD)
    for kind in sys.argv[2:] or KINDS:
        for row in KINDS[kind](seeds):
            print(row.markdown(), flush=True)
