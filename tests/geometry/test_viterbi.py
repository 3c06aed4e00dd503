"""The cheapest sequence: against a slow search of all sequences, and the cutting of the lattice against none."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from polylines import SHAPES, along, bundle_of, line_of
from trackspread.geometry import viterbi
from trackspread.geometry.matching import Line, best_stations, candidates
from trackspread.geometry.polyline import tangents
from trackspread.geometry.samples import Samples, sample
from trackspread.geometry.viterbi import Lattice

REACH_M = 60.0


def way_cost(ahead_m: float, way_m: float) -> float:
    """The cost of the docstring, written anew: L1 of the two ways, and a toll on going backward."""
    return abs(ahead_m - way_m) / 8.0 + max(-ahead_m - 8.0, 0.0) / 2.0


def distance_cost(distance_m: float) -> float:
    """Huber's loss with its knee at 12 m and a scale of 8 m (Huber 1964, Ann. Math. Stat. 35:73)."""
    if distance_m <= 12.0:
        return 0.5 * (distance_m / 8.0) ** 2
    return 12.0 * (distance_m - 6.0) / 64.0


def test_the_cost_of_a_way_is_that_of_the_docstring() -> None:
    nothing: Any = np.empty(0)
    lattice = Lattice(
        station_m=nothing, emission=nothing, travel_m=nothing, bent_m=nothing, first=nothing, wide=1.0
    )
    ahead, way = (grid.ravel() for grid in np.meshgrid(np.linspace(-60, 60, 25), np.linspace(0, 40, 9)))
    expected = [way_cost(a, w) for a, w in zip(ahead, way, strict=True)]
    np.testing.assert_allclose(lattice.way_cost(ahead, way), expected)


def all_sequences(samples: Samples, line: Line) -> list[tuple[float, tuple[float, ...]]]:
    """Return cost and stations of every possible sequence of a trace, the cheapest first."""
    tx, ty = tangents(line.x, line.y)
    states = []
    for i in range(len(samples.index)):
        point, at, far = candidates(samples.x[i : i + 1], samples.y[i : i + 1], line, REACH_M)
        options = [(np.nan, 6.0)]
        for station, distance in zip(at, far, strict=True):
            here = (float(np.interp(station, line.station_m, t)) for t in (tx, ty))
            agreement = np.dot([samples.heading_x[i], samples.heading_y[i]], list(here))
            options.append((float(station), distance_cost(distance) + 6.0 * (1.0 - agreement)))
        states.append(options)
        assert len(point) == len(options) - 1
    found = []
    for path in itertools.product(*states):
        found.append((sequence_cost(path, samples.travel_m), tuple(s for s, _ in path)))
    return sorted(found, key=lambda pair: pair[0])


def sequence_cost(path: tuple[tuple[float, float], ...], travel_m: np.ndarray) -> float:
    """Return the cost of one sequence of (station, own cost); away remembers where the line was left."""
    total, left = path[0][1], None
    for i in range(1, len(path)):
        (before, _), (here, own) = path[i - 1], path[i]
        total += own
        if np.isfinite(before) and np.isfinite(here):
            total += min(way_cost(here - before, travel_m[i] - travel_m[i - 1]), 80.0)
        elif np.isfinite(before):
            left = (before, travel_m[i - 1])
        elif np.isfinite(here) and left is not None:
            total += min(way_cost(here - left[0], travel_m[i] - left[1]), 40.0)
    return total


TINY = {
    "hairpin": ([(0, 0), (60, 0), (60, 18), (0, 18)], 1.5),
    "out and back": ([(0, 0), (50, 0), (50, 3), (0, 3)], 1.5),
    "crossing": ([(0, 0), (60, 0), (60, 30), (30, 30), (30, -30)], 2.5),
    "loop": ([(0, 0), (30, 0), (30, 30), (0, 30), (0, 0)], 2.5),
}


@pytest.mark.parametrize("shape", sorted(TINY))
@pytest.mark.parametrize("seed", range(6))
def test_the_sequence_taken_is_the_cheapest_of_all(shape: str, seed: int) -> None:
    """Every sequence of candidates of a trace of up to eight samples is costed one by one."""
    corners, noise_m = TINY[shape]
    rng = np.random.default_rng(seed)
    line = line_of(along(corners, 1.0))
    way = along(corners, 4.0)
    first = int(rng.integers(0, 6))
    trace = way[first : first + 21] + rng.normal(0, noise_m, (len(way[first : first + 21]), 2))
    samples = sample(bundle_of([trace[::3]]))
    found = best_stations(samples, line, REACH_M)
    every = all_sequences(samples, line)
    assert len(every) > 200
    costs = {stations: cost for cost, stations in every}
    key = next(s for s in costs if np.allclose(s, found, atol=1e-6, equal_nan=True))
    assert costs[key] == pytest.approx(every[0][0], abs=1e-9)


def rough_traces(shape: str, rng: np.random.Generator) -> list[np.ndarray]:
    """Traces of a shape with errors, of which one goes off, one begins and ends off, one is torn and one turns."""
    points = along(SHAPES[shape], 4.0)
    traces = [points + rng.normal(0, 4.0, points.shape) for _ in range(5)]
    third = len(points) // 3
    traces[1][third : 2 * third] += [0.0, 150.0]
    traces[2][: third // 2] += [200.0, 0.0]
    traces[2][-third // 2 :] += [200.0, 0.0]
    traces[3] = np.delete(traces[3], slice(third, 2 * third), axis=0)
    traces[4] = np.concatenate(
        [traces[4][: 2 * third], traces[4][third : 2 * third][::-1], traces[4][third:]]
    )
    return traces


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_cut_at_what_is_certain_the_lattice_gives_the_same(
    shape: str, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    traces = rough_traces(shape, np.random.default_rng(seed))
    samples, line = sample(bundle_of(traces)), line_of(along(SHAPES[shape]))
    cut = best_stations(samples, line, REACH_M)
    monkeypatch.setattr(viterbi, "_certain", lambda lattice, edge: np.zeros(len(edge) - 1, dtype=bool))
    np.testing.assert_array_equal(cut, best_stations(samples, line, REACH_M))


def test_a_plain_road_leaves_nothing_to_search(monkeypatch: pytest.MonkeyPatch) -> None:
    line = line_of(along([(0, 0), (2000, 0)]))
    samples = sample(bundle_of([along([(0, 0), (2000, 0)], 5.0, side) for side in (-4.0, 3.0)]))
    lengths: list[int] = []
    searched = viterbi._searched

    def watched(lattice: Lattice, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        lengths.extend((end - begin).tolist())
        return searched(lattice, begin, end)

    monkeypatch.setattr(viterbi, "_searched", watched)
    found = best_stations(samples, line, REACH_M)
    np.testing.assert_allclose(found, samples.x)
    assert lengths == []
