"""The medoid: the trace in the middle, whatever the order, and wherever points lie on their way."""

from __future__ import annotations

import itertools
import time

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from polylines import SHAPES, along, bundle_of
from trackspread.geometry.consensus.medoid import medoid
from trackspread.geometry.points import Bundle
from trackspread.numeric.runs import evenly

few = settings(max_examples=12, deadline=None, derandomize=True)


def cut_and_noisy(seed: int, count: int) -> list[np.ndarray]:
    """Return traces of one way, each a piece of it, each aside by a few metres."""
    rng = np.random.default_rng(seed)
    whole = along(SHAPES["corner"])
    aside = [whole + rng.normal(0, 5.0, 2) + rng.normal(0, 0.5, whole.shape) for _ in range(count)]
    return [t[rng.integers(0, 30) : 80 - rng.integers(0, 30)] for t in aside]


def brute_medoid(bundle: Bundle) -> int:
    """All distances of all points to all ways, capped at 60 m, both ways; the median over the others."""
    ways, points = [], []
    for t in range(bundle.traces):
        way = shapely.LineString(np.stack([bundle.x[bundle.of(t)], bundle.y[bundle.of(t)]], axis=1))
        points.append(way.interpolate(np.linspace(0, 1, max(1, round(way.length / 20)) + 1), normalized=True))
        ways.append(shapely.LineString(points[-1]))

    def aside(way: int, other: int) -> float:
        return float(np.minimum(shapely.distance(ways[way], points[other]), 60.0).mean())

    def cost(t: int) -> tuple[float, float]:
        others = [k for k in range(len(ways)) if k != t]
        median = np.median([aside(t, k) + aside(k, t) for k in others])
        return round(float(median), 9), sum(aside(t, k) for k in others)

    return min(range(len(ways)), key=cost)


@few
@given(st.integers(0, 1000), st.integers(2, 8))
def test_the_medoid_is_that_of_all_pairs(seed: int, count: int) -> None:
    bundle = bundle_of(cut_and_noisy(seed, count))
    assert medoid(bundle) == brute_medoid(bundle)


@few
@given(st.integers(0, 1000), st.integers(2, 4))
def test_the_order_of_the_traces_does_not_decide(seed: int, count: int) -> None:
    traces = cut_and_noisy(seed, count)
    chosen = {
        order[medoid(bundle_of([traces[k] for k in order]))] for order in itertools.permutations(range(count))
    }
    assert len(chosen) == 1


@few
@given(st.lists(st.floats(0.0, 20.0), min_size=4, max_size=4))
def test_where_the_points_lie_on_a_way_does_not_decide(begin_m: list[float]) -> None:
    aside = (-8.0, 0.0, 3.0, 9.0)
    traces = [along([(x, y), (1500, y)]) for x, y in zip(begin_m, aside, strict=True)]
    assert medoid(bundle_of(traces)) == 2


def test_the_medoid_is_in_the_middle_and_whole() -> None:
    whole = [along(SHAPES["corner"], 5.0, d) for d in (7.0, 0.5, -7.0, 0.0)]
    traces = [*whole, along(SHAPES["corner"], 5.0, 0.2)[:30]]
    assert medoid(bundle_of(traces)) in (1, 3)


def test_of_two_traces_the_one_that_covers_the_other_is_taken() -> None:
    whole = along(SHAPES["corner"])
    assert medoid(bundle_of([whole[:60], whole])) == 1
    assert medoid(bundle_of([whole, whole[:60]])) == 0


def test_the_medoid_of_many_traces_is_sought_among_some() -> None:
    traces = [along([(0, 0), (300, 0)], 10.0, d) for d in np.linspace(-20, 20, 70)]
    assert 20 <= medoid(bundle_of(traces)) <= 50
    assert medoid(bundle_of(traces[:1])) == 0


def test_a_trace_elsewhere_counts_no_more_than_one_60_m_away() -> None:
    """Were it not so, the trace on the side of the one far off would be the nearest to all."""
    near = [along([(0, y), (600, y)]) for y in (-3.0, 0.0, 3.0)]
    for far_m in (100.0, 5000.0):
        assert medoid(bundle_of([*near, along([(0, far_m), (600, far_m)])])) == 1


@pytest.mark.parametrize(
    ("count", "most"), [(0, 5), (1, 5), (2, 5), (60, 5), (60, 59), (60, 60), (60, 90), (2000, 300)]
)
def test_some_are_chosen_evenly_from_first_to_last(count: int, most: int) -> None:
    chosen = evenly(count, most)
    assert len(chosen) == min(count, most)
    assert chosen[:1] == [0][:count]
    assert chosen[-1:] == [count - 1][:count]
    steps = np.diff(chosen)
    assert steps.size == 0 or 1 <= steps.min() >= steps.max() - 1


def test_points_thrown_far_off_by_damage_cost_no_time() -> None:
    """One changed byte of a file throws a point to another part of the world: ten such, beside four whole."""
    traces = cut_and_noisy(1, 14)
    for number, trace in enumerate(traces[4:]):
        trace[len(trace) // 2] += 2.0e6 * np.array([np.cos(number), np.sin(number)])
    began_s = time.process_time()
    assert medoid(bundle_of(traces)) < 4
    assert time.process_time() - began_s < 20.0
