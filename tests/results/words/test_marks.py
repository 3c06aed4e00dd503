"""The words of the marks of a map are those of the document, one line each."""

from __future__ import annotations

from dataclasses import replace

from records import PAYLOADS, make_analysis
from trackspread import model as m
from trackspread.results.document import result_document
from trackspread.results.words.marks import LONGEST_LINE, MapWords


def words_of(analysis: m.Analysis) -> tuple[MapWords, m.RouteResult]:
    return MapWords(analysis, result_document(analysis)), analysis.routes[0]


def test_a_segment_tells_span_spread_and_the_rule_of_its_verdict() -> None:
    words, route = words_of(make_analysis())
    shown = result_document(make_analysis())["routes"][0]["segments"][0]
    where, spread, verdict, traces = words.segment(route, 0)
    assert where == "0 to 100 m"
    assert f"spread {shown['spread']['value_m']}" in spread
    assert f" {shown['verdict']}: " in verdict
    assert traces == f"{shown['traces']} traces"


def test_a_stretch_tells_who_strayed_where_how_far_and_why() -> None:
    words, route = words_of(make_analysis())
    whose, where, far, cause, *_ = words.stretch(route, 0)
    assert whose == "Stretch: Alder, ride 2"
    assert (where, far, cause) == ("0.90 to 1.08 km", "up to 21.4 m to the right", "cause: receiver")


def test_a_fix_without_a_time_tells_why() -> None:
    analysis = make_analysis()
    route = analysis.routes[0]
    fix = replace(route.traces[0].first_fix, value_s=float("nan"), source="none", reason=m.Reason("no_start"))
    traces = (replace(route.traces[0], first_fix=fix), *route.traces[1:])
    words, route = words_of(replace(analysis, routes=(replace(route, traces=traces), *analysis.routes[1:])))
    head, why = words.fix(route, route.traces[0], "first")
    assert head == "First fix: Alder, ride 1"
    assert "start" in why


def test_names_from_files_stay_short_and_on_one_line() -> None:
    words, route = words_of(make_analysis(hostile=True))
    lines = [line for trace in route.traces for line in words.trace(route, trace)]
    assert all(line.isprintable() and len(line) <= 2 * LONGEST_LINE for line in lines)
    assert not any(payload in lines for payload in PAYLOADS if "\x1b" in payload)


def test_the_ends_of_a_published_copy_are_cuts() -> None:
    analysis = make_analysis()
    assert words_of(analysis)[0].ends == ("start", "end")
    assert words_of(replace(analysis, published=True))[0].ends == ("cut", "cut")
