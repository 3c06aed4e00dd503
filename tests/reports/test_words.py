"""The sentences of the report say what the document says, and say it when nothing is known."""

import dataclasses
import math

import pytest

from records import make_analysis
from trackspread import model as m
from trackspread.reports import words
from trackspread.reports.headlines import route_headlines
from trackspread.reports.result import result_document


def test_opening_holds_the_figures_of_the_document():
    document = result_document(make_analysis())
    told = " ".join(words.opening(document))
    spread = document["routes"][0]["spread"]
    assert told.startswith("12 traces by 2 receivers on 2 routes.")
    assert (
        f"a spread of {spread['value_m']} m (95 % interval {spread['low_m']} to {spread['high_m']} m)" in told
    )
    assert "0.90 to 1.08 km (Alder, ride 2, up to 21.4 m to the right)" in told
    assert "First fix, median over rides: Alder after 11 s (75 % interval 8 to 17 s)" in told
    assert len(words.opening(result_document(make_analysis(routes=1)))) == 1
    assert "With 3 rides the spread of a whole route is known to a factor of about" in told


def test_lead_tells_fixes_and_what_pairs_can_tell():
    document = result_document(make_analysis())
    lead = words.route_lead(document["routes"][0])
    assert lead.startswith("6 traces from 3 rides over 3.2 km.")
    assert "Alder after 24 s (75 % interval at least 19 s, no upper bound)" in lead
    assert "cannot tell the two receivers apart" in lead
    timeless = words.route_lead(document["routes"][1])
    assert "Settled fix: not measurable: the traces have no times." in timeless


# Bounds a and b around sqrt(ab): the factor is sqrt(b / a); 2 to 8 around 4 is a factor of two.
def test_factor_is_geometric():
    known = {"value_m": 4.0, "low_m": 2.0, "high_m": 8.0}
    assert words.factor([known]) == pytest.approx(2.0)
    assert words.factor([{"value_m": None, "low_m": None, "high_m": None}]) is None
    assert words.factor([{**known, "low_m": 0.0}]) is None


def test_too_few_traces_are_not_said_to_be_unsteady():
    analysis = make_analysis(routes=1)
    (route,) = analysis.routes
    thin = [dataclasses.replace(segment, verdict="thin") for segment in route.segments]
    for segments, few in ((route.segments, False), ((*thin[1:], route.segments[0]), False), (thin, True)):
        shown = dataclasses.replace(route, segments=tuple(segments))
        document = result_document(dataclasses.replace(analysis, routes=(shown,)))
        told = " ".join(words.opening(document))
        assert ("too few to call any of the way steady or torn" in told) == few
        assert ("% of the way is steady" in told) != few
        (card,) = [c for c in route_headlines(document["routes"][0]) if c.label == "Steady, fit to show"]
        assert (card.value == "not known") == few


def test_nothing_known_is_said():
    analysis = make_analysis(routes=1)
    bare = dataclasses.replace(
        analysis.routes[0],
        spread=m.Estimate(reason="no two traces run together"),
        p95_m=math.nan,
        segments=(),
        stretches=(),
        receivers=(),
        pairs=(),
        film=(),
    )
    document = result_document(dataclasses.replace(analysis, routes=(bare,)))
    told = " ".join(words.opening(document))
    assert "no spread could be formed: no two traces run together." in told
    assert "No trace leaves the others by more than chance allows." in told
    assert "nan" not in told + words.route_lead(document["routes"][0])


def test_many_routes_are_not_all_told():
    told = " ".join(words.opening(result_document(make_analysis(routes=5))))
    assert told.count("lie on each other") == 3
    assert "2 more routes below." in told


def test_hostile_names_stay_on_one_line_and_short():
    document = result_document(make_analysis(hostile=True))
    for text in (*words.opening(document), *(words.route_lead(r) for r in document["routes"])):
        assert text.isprintable()
        assert len(text) < 3000
