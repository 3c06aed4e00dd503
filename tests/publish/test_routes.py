"""Fixes of a published trace tell no place; the rest of cutting a route stands in test_publish_blind.py."""

from __future__ import annotations

import math

from trackspread.model import FirstFix, Reason, SettledFix
from trackspread.publish.routes import _cut_first, _cut_settled
from trackspread.results.words.reasons import said

MET = Reason("no_start") + Reason.of("came_another_way", met_m=620.4)


def test_where_a_trace_met_the_route_is_left_out() -> None:
    """It counts from the start of the route: beside the new stations it would tell the length of the cut."""
    cut = _cut_first(FirstFix(value_s=math.nan, source="none", at_station_m=3.0, reason=MET, missing_m=3.0))
    assert cut.reason.codes == ("no_start", "came_another_way", "withheld_start")
    assert "620" not in said(cut.reason)
    assert math.isnan(cut.at_station_m)
    assert math.isnan(cut.missing_m)


def test_a_settled_fix_in_view_tells_neither_place_nor_seconds() -> None:
    fix = SettledFix(
        value_s=40.0, at_station_m=300.0, censored=False, band_m=5.0, hold_s=30.0,
        reason=Reason.of("met_the_others", met_m=300.0),
    )  # fmt: skip
    seen, hidden = _cut_settled(fix, 200.0), _cut_settled(fix, 400.0)
    assert math.isnan(seen.value_s)
    assert hidden.value_s == 40.0
    assert "300" not in said(seen.reason) + said(hidden.reason)
