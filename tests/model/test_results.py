"""Small figures that records give themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from records import make_analysis
from trackspread import model as m

ROUTE = make_analysis(routes=1).routes[0]


@pytest.mark.parametrize(("all_m", "told_m"), [(4.9, 4.9), (float("nan"), ROUTE.spread.value)])
def test_the_spread_that_is_told_is_that_of_all_errors_where_it_is_known(all_m: float, told_m: float) -> None:
    assert replace(ROUTE, spread_all=m.Estimate(value=all_m)).told_spread.value == told_m


def test_offsets_that_are_kept_are_those_outside_of_stretches() -> None:
    kept = ROUTE.kept_offset_m()
    assert np.isnan(kept[ROUTE.in_stretch]).all()
    assert np.array_equal(kept[~ROUTE.in_stretch], ROUTE.offset_m[~ROUTE.in_stretch], equal_nan=True)


def test_a_route_is_judged_where_a_trace_could_be_held_against_others() -> None:
    blind = tuple(
        replace(trace, settled_fix=replace(trace.settled_fix, band_m=float("nan"))) for trace in ROUTE.traces
    )
    assert ROUTE.is_judged
    assert not replace(ROUTE, traces=blind).is_judged
