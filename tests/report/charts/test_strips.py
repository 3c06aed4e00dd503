"""Strips of verdicts: one of all traces, one a watch where it has figures of its own, all over the same stations."""

import dataclasses

import pytest

from records import make_analysis
from trackspread import model as m
from trackspread.report.charts.strips import strips_of
from trackspread.report.watches import watches_of
from trackspread.results.document import result_document

ANALYSIS = make_analysis(routes=1)
ROUTE = ANALYSIS.routes[0]
SHOWN = result_document(ANALYSIS)["routes"][0]
NAMES = list(watches_of(ANALYSIS))


def rated(verdict):
    own = m.SegmentReceiver(
        receiver="Birch", spread=m.Estimate(value=5.0, low=3.0, high=9.0), verdict=verdict
    )
    return dataclasses.replace(
        ROUTE, segments=tuple(dataclasses.replace(s, receivers=(own,)) for s in ROUTE.segments)
    )


def test_without_figures_a_watch_there_is_one_strip():
    (strip,) = strips_of(0, ROUTE, SHOWN, NAMES)
    assert strip["name"] == "All watches"
    assert [piece["verdict"] for piece in strip["pieces"]] == [s.verdict for s in ROUTE.segments]
    assert sum(float(piece["width"]) for piece in strip["pieces"]) == pytest.approx(ROUTE.length_m, abs=1)


@pytest.mark.parametrize(("verdict", "fit"), [("steady", "100 % fit to show"), ("torn", "0 % fit to show")])
def test_a_watch_with_figures_has_a_strip_of_its_own(verdict, fit):
    strips = strips_of(0, rated(verdict), SHOWN, NAMES)
    assert [strip["name"] for strip in strips] == ["All watches", "Birch"]
    assert strips[1]["fit"] == fit
    assert {piece["verdict"] for piece in strips[1]["pieces"]} == {verdict}
    assert strips[0]["box"] == strips[1]["box"]
