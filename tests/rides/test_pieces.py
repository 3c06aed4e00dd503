"""A recording in pieces: laps, and rides it was left on over."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trackspread.model import Witness
from trackspread.rides.laps import LATER_LAP, with_laps
from trackspread.rides.pieces import piece, with_pieces
from trackspread.rides.resumed import LATER_RIDE
from world import simulate
from world.routes import SHAPES, route_along
from world.witnesses import as_witnesses


def three_laps() -> Witness:
    """Return a recording of three laps whose start is known."""
    one = SHAPES["loop"](np.random.default_rng(4), 900.0, False)
    points = np.stack([one.east_m, one.north_m], axis=1)
    way = route_along(points[np.arange(3 * 900) % (len(points) - 1)])
    return as_witnesses(simulate(way, seed=4, rides=1, lights=0))[0]


def test_every_point_is_in_one_piece_and_the_first_one_keeps_start_and_findings() -> None:
    whole = three_laps()
    parts = [piece(whole.trace, a, b, n) for n, (a, b) in enumerate([(0, 50), (50, len(whole.trace.time_s))])]
    first, later = with_pieces(whole, parts, ["a", "b"], LATER_RIDE)
    np.testing.assert_array_equal(
        np.concatenate([first.trace.time_s, later.trace.time_s]), whole.trace.time_s
    )
    assert (first.ride, first.start_s, first.start_source) == ("a", whole.start_s, whole.start_source)
    assert (later.ride, later.start_source, later.start_reason) == ("b", "none", LATER_RIDE)
    assert np.isnan(later.start_s)
    assert np.isnan(later.trace.start_s)


def test_the_first_lap_of_a_later_ride_has_no_start_and_says_why() -> None:
    """The reason was lost where a recording was cut twice."""
    later = replace(three_laps(), start_s=float("nan"), start_source="none", start_reason=LATER_RIDE)
    first, *others = with_laps([later], 25.0)
    assert len(others) >= 2
    assert first.start_reason == LATER_RIDE
    assert {lap.start_reason for lap in others} == {LATER_LAP}
