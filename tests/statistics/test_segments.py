"""Segments tile the line, and stretches are astray where they are and as far as they are."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.model import Cause, Stretch
from trackspread.options import Options
from trackspread.statistics.segments import astray_masks, astray_of, edges_of

STATION = np.arange(0.0, 1001.0, 5.0)
OPTIONS = Options(steady_m=3.0, torn_m=6.0)


def stretch(number: int, from_m: float, to_m: float, mean_m: float, cause: Cause = "unknown") -> Stretch:
    return Stretch(
        number=number, file="f", receiver="r", ride="1", from_m=from_m, to_m=to_m, peak_m=mean_m,
        mean_m=mean_m, side="left", seconds=1.0, start_time_s=0.0, cause=cause,
    )  # fmt: skip


@pytest.mark.parametrize("segment_m", [50.0, 130.0, 330.0, 5000.0])
def test_segments_tile_the_line(segment_m: float) -> None:
    bounds, edges = edges_of(STATION, segment_m)
    assert (bounds[0], bounds[-1]) == (0.0, 1000.0)
    assert (edges[0], edges[-1]) == (0, len(STATION))
    assert np.all(np.diff(edges) > 0)
    assert bounds[-1] - bounds[-2] >= 0.5 * min(segment_m, 1000.0)
    np.testing.assert_allclose(STATION[edges[1:-1]], bounds[1:-1], atol=5.0)


def test_a_stretch_is_astray_where_it_lies_by_how_far_it_lies_and_settling_never_is() -> None:
    found = [
        stretch(0, 100, 200, 3.1), stretch(1, 100, 200, 8.0), stretch(2, 100, 200, 2.0),
        stretch(3, 0, 300, 40.0, "settling"),
    ]  # fmt: skip
    some, far = astray_masks(found, STATION, 4, OPTIONS)
    assert some.any(axis=1).tolist() == [True, True, False, False]
    assert far.any(axis=1).tolist() == [False, True, False, False]
    assert STATION[some[0]][[0, -1]].tolist() == [100.0, 200.0]
    part = slice(20, 40)
    told = astray_of(some[:, part], far[:, part], np.ones((4, 20), bool), np.arange(4), list("abcd"))
    assert told.names == ("a", "b")
    assert told.some == pytest.approx(0.5)
    assert told.far == pytest.approx(0.25)
