"""The comparison over all routes, on recordings with known truth."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import trackspread as ts
from records import make_analysis
from trackspread.pipeline.comparison import comparison
from world import Receiver, simulate


@pytest.fixture(scope="module")
def analysis(tmp_path_factory: pytest.TempPathFactory) -> ts.model.Analysis:
    folder: Path = tmp_path_factory.mktemp("rides")
    watches = (Receiver(name="sedge", sigma_m=2.0), Receiver(name="fern", sigma_m=6.0))
    simulate("winding", seed=5, rides=8, receivers=watches).write_gpx(folder)
    return ts.analyse(folder)


@pytest.fixture(scope="module")
def compared(analysis: ts.model.Analysis) -> ts.model.Comparison:
    assert analysis.comparison is not None
    return analysis.comparison


def test_on_one_route_the_spread_is_that_of_all_errors_there(analysis: ts.model.Analysis) -> None:
    assert analysis.comparison is not None
    told = {one.receiver: one.spread for one in analysis.comparison.receivers}
    assert told == {one.receiver: one.spread_all for one in analysis.routes[0].receivers}


def test_one_line_a_receiver_in_the_order_of_spread(compared: ts.model.Comparison) -> None:
    assert [(one.receiver, one.rides, one.group) for one in compared.receivers] == [
        ("sedge", 8, "a"), ("fern", 8, "b")
    ]  # fmt: skip
    for one, true in zip(compared.receivers, (2.0, 6.0), strict=True):
        assert one.spread.low < one.spread.value < one.spread.high
        assert one.spread.low < (true**2 + 0.6**2) ** 0.5 < one.spread.high
        assert one.own_sd.low < true < one.own_sd.high
        assert one.first_fix_s.n == 8
        assert 0.0 <= one.stray_share.low <= one.stray_share.value <= one.stray_share.high <= 1.0


def test_the_pair_is_told_apart_with_the_true_difference_in_its_interval(
    compared: ts.model.Comparison,
) -> None:
    (pair,) = compared.differences
    assert (pair.a, pair.b, pair.rides, pair.basis, pair.told_apart) == ("sedge", "fern", 8, "together", True)
    assert pair.difference.low < -4.0 < pair.difference.high < 0.0
    spread = {one.receiver: one.spread.value for one in compared.receivers}
    assert pair.difference.value == spread["sedge"] - spread["fern"]
    assert pair.ratio.low < 1.0 / 3.0 < pair.ratio.high < 1.0
    assert pair.p_adjusted < 0.05


def test_a_ride_of_its_own_over_two_routes_counts_once() -> None:
    """Four rides of each watch, out and back under one name: four mean squares of each, not eight."""
    made = make_analysis(routes=2, traces=8)
    routes = [
        replace(
            route,
            traces=tuple(
                replace(t, receiver="sedge" if k % 2 else "fern", ride=f"{k}")
                for k, t in enumerate(route.traces)
            ),
        )
        for route in made.routes
    ]
    found = comparison(routes, ts.Options())
    assert found is not None
    (pair,) = found.differences
    assert (pair.basis, pair.rides) == ("apart", 4)
    assert max(one.rides for one in found.by_ride) == 4
