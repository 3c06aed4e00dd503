"""Pieces of a line that curl where nobody rode are replaced by the ways of the traces."""

from __future__ import annotations

import numpy as np
import pytest

from polylines import SHAPES, along, bundle_of, line_of, sharpest_turn, with_knot
from trackspread.geometry.consensus import line_repair
from trackspread.geometry.consensus.line_repair import uncurled
from trackspread.geometry.consensus.lines import line_through
from trackspread.geometry.matching import match


@pytest.mark.parametrize("radius_m", [8.0, 12.0, 20.0])
def test_a_line_that_curls_where_nobody_did_is_put_straight(radius_m: float) -> None:
    straight = along([(0, 0), (1000, 0)], 5.0)
    bundle = bundle_of([straight + np.array([0.0, d]) for d in (-4.0, 0.0, 4.0)])
    line = line_through(*with_knot(straight, 100, radius_m).T, 5.0)
    better = uncurled(bundle, line, match(bundle, line, 60.0), 5.0)
    assert line.length_m > 1045.0
    assert sharpest_turn(line) > 2.3
    assert sharpest_turn(better) < 1.6
    assert better.length_m == pytest.approx(1000.0, abs=25.0)


def test_a_loop_that_everybody_rode_stays() -> None:
    """Once around a roundabout of 25 m radius, and a line with bends and no loop."""
    round_about = with_knot(along([(0, 0), (1000, 0)], 5.0), 100, 25.0)
    for way in (round_about, along(SHAPES["corner"], 5.0)):
        bundle = bundle_of([way + np.array([0.0, d]) for d in (-4.0, 0.0, 4.0)])
        line = line_of(way)
        assert uncurled(bundle, line, match(bundle, line, 60.0), 5.0) is line


def test_behind_a_loop_that_everybody_rode_a_curl_is_put_straight() -> None:
    round_about = with_knot(along([(0, 0), (1000, 0)], 5.0), 60, 25.0)
    bundle = bundle_of([round_about + np.array([0.0, d]) for d in (-4.0, 0.0, 4.0)])
    line = line_through(*with_knot(round_about, 180, 12.0).T, 5.0)
    better = uncurled(bundle, line, match(bundle, line, 60.0), 5.0)
    assert better.y[better.x < 600.0].max() == pytest.approx(50.0, abs=4.0)
    assert np.abs(better.y[better.x > 600.0]).max() < 3.0


def test_a_way_is_cut_where_it_passes_the_ends_of_a_piece() -> None:
    values, at = np.array([0.0, 10.0, 20.0, 40.0]), np.array([100.0, 110.0, 120.0, 140.0])
    np.testing.assert_allclose(line_repair._cut(values, at, 104.0, 130.0), [4.0, 10.0, 20.0, 30.0])
    np.testing.assert_allclose(line_repair._cut(values[:2], at[:2], 102.0, 108.0), [2.0, 8.0])
    lost = np.array([100.0, np.nan, 120.0, 140.0])
    np.testing.assert_allclose(line_repair._cut(values, lost, 104.0, 140.0), values)
