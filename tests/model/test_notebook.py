"""Records in a notebook: representations that fit a screen, routes by name."""

from __future__ import annotations

from dataclasses import replace

import pytest

from records import make_analysis
from trackspread import model as m


def test_the_representation_of_an_analysis_fits_a_screen() -> None:
    analysis = make_analysis(routes=2, traces=4)
    lines = repr(analysis).splitlines()
    assert len(lines) == 3
    assert max(map(len, lines)) <= 120
    assert analysis.routes[0].name in lines[1]
    assert "4 traces" in lines[1]


def test_many_routes_are_cut_with_their_number() -> None:
    analysis = make_analysis(routes=1, traces=2)
    many = replace(analysis, routes=analysis.routes * 30)
    assert len(repr(many).splitlines()) == 22
    assert repr(many).endswith("… and 10 more")


def test_html_of_a_notebook_escapes_names() -> None:
    analysis = make_analysis(routes=1, traces=2)
    hostile = replace(analysis, routes=(replace(analysis.routes[0], title="<script>alert(1)</script>"),))
    assert "<script>" not in hostile._repr_html_()
    assert "&lt;script&gt;" in hostile._repr_html_()


@pytest.mark.parametrize("record", ["route", "trace", "pair"])
def test_records_with_arrays_are_short(record: str) -> None:
    route = make_analysis(routes=1, traces=4).routes[0]
    told = {
        "route": route,
        "trace": route.traces[0],
        "pair": route.pairs[0] if route.pairs else route.traces[1],
    }
    assert len(repr(told[record])) < 1500


def test_a_route_is_found_by_name_and_by_title_and_an_unknown_one_is_a_key_error() -> None:
    analysis = make_analysis(routes=2, traces=2)
    titled = replace(analysis, routes=(replace(analysis.routes[0], title="Outward"), *analysis.routes[1:]))
    assert titled[titled.routes[0].name] is titled["Outward"] is titled.routes[0]
    with pytest.raises(
        KeyError, match=f"the routes are {analysis.routes[0].name}, {analysis.routes[1].name}"
    ):
        analysis["Nowhere"]


def test_an_estimate_formats_value_and_interval() -> None:
    spread = m.Estimate(value=2.96, low=2.41, high=4.04)
    assert f"{spread:.1f}" == "3.0 (2.4–4.0)"
    assert f"{m.Estimate():.1f}" == "?"
    assert f"{m.MedianEstimate(median=5.0, low=4.0, high=9.0, n=6):.0f}" == "5 (4–9)"
