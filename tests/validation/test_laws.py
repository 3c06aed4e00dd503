"""Laws that hold whatever the data: where, which way round and in which order the rides are told.

No figure may depend on them. Tolerances leave room for the grid of stations falling elsewhere on the line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rows import only_route

from trackspread.model import RouteResult, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from world import Globe, Receiver, World, simulate
from world.witnesses import as_witnesses

few = settings(max_examples=8, deadline=None, derandomize=True)
seeds = st.integers(0, 10_000)
shapes = st.sampled_from(["winding", "city", "straight", "loop"])


WHOLE = Options(stretch_enter=20, stretch_leave=20, settle_band=20)
"""Nothing is left out: settling belongs to the start, so what is left out depends on the direction."""


def result(witnesses: Sequence[Witness], options: Options = Options()) -> RouteResult:  # noqa: B008
    return only_route(analyse(witnesses, options))


def world(shape: str, seed: int, globe: Globe = Globe(lon_deg=-84.0, lat_deg=75.2)) -> World:  # noqa: B008
    return simulate(shape, seed=seed, rides=5, length_m=1500, globe=globe)


def backwards(witness: Witness) -> Witness:
    """Return the trace ridden the other way: the same points, last first, at mirrored times."""
    trace = witness.trace
    turned = replace(
        trace, lon_deg=trace.lon_deg[::-1].copy(), lat_deg=trace.lat_deg[::-1].copy(),
        time_s=trace.time_s[0] + trace.time_s[-1] - trace.time_s[::-1],
    )  # fmt: skip
    return replace(witness, trace=turned)


@few
@given(shapes, seeds, st.floats(-180, 179.999), st.floats(-85, 85), st.floats(0, 360))
def test_place_and_direction_do_not_matter(
    shape: str, seed: int, lon: float, lat: float, turn: float
) -> None:
    here = result(as_witnesses(world(shape, seed)))
    there = result(as_witnesses(world(shape, seed, Globe(lon_deg=lon, lat_deg=lat, turn_deg=turn))))
    assert there.spread.value == pytest.approx(here.spread.value, rel=0.01)
    assert there.length_m == pytest.approx(here.length_m, rel=1e-3)
    assert len(there.stretches) == len(here.stretches)


@few
@given(shapes, seeds)
def test_riding_the_other_way_keeps_the_spread(shape: str, seed: int) -> None:
    witnesses = as_witnesses(world(shape, seed))
    there, back = result(witnesses, WHOLE), result([backwards(w) for w in witnesses], WHOLE)
    assert back.spread.value == pytest.approx(there.spread.value, rel=0.02)
    assert back.length_m == pytest.approx(there.length_m, abs=30)


@few
@given(shapes, seeds, st.permutations(range(5)))
def test_order_of_the_files_does_not_matter(shape: str, seed: int, order: list[int]) -> None:
    witnesses = as_witnesses(world(shape, seed))
    given_order, shuffled = result(witnesses), result([witnesses[k] for k in order])
    assert shuffled.spread.value == pytest.approx(given_order.spread.value, rel=1e-3)
    assert {t.file: t.bias_m for t in shuffled.traces} == pytest.approx(
        {t.file: t.bias_m for t in given_order.traces}, abs=0.02
    )


@few
@given(seeds, st.floats(0.4, 2.5))
def test_spread_scales_with_the_offsets(seed: int, factor: float) -> None:
    def ridden(scale: float) -> RouteResult:
        receiver = Receiver(sigma_m=2.0 * scale, white_m=0.3 * scale)
        drawn = simulate(
            "straight", seed=seed, rides=5, length_m=1500, receivers=[receiver], line_sd_m=0.5 * scale
        )
        return result(as_witnesses(drawn), WHOLE)

    plain, scaled = ridden(1.0), ridden(factor)
    assert scaled.spread.value == pytest.approx(factor * plain.spread.value, rel=0.02)


@few
@given(shapes, seeds, st.floats(-1e7, 1e7))
def test_the_day_does_not_matter(shape: str, seed: int, later_s: float) -> None:
    witnesses = as_witnesses(world(shape, seed))
    moved = [
        replace(
            w,
            trace=replace(w.trace, time_s=w.trace.time_s + round(later_s)),
            start_s=w.start_s + round(later_s),
        )
        for w in witnesses
    ]
    before, after = result(witnesses), result(moved)
    assert after.spread == before.spread
    np.testing.assert_array_equal(after.lon_deg, before.lon_deg)
    assert [t.first_fix.value_s for t in after.traces] == [t.first_fix.value_s for t in before.traces]
