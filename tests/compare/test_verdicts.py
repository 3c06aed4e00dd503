"""What a report says of two watches is what a ranking must not contradict."""

from __future__ import annotations

import dataclasses

from records import fuller, make_analysis
from trackspread.compare.verdicts import of_pairs, of_report
from trackspread.results.document import result_document


def test_the_one_with_the_smaller_spread_is_the_better_one() -> None:
    analysis = fuller(make_analysis())
    compared = analysis.comparison
    assert compared is not None
    (pair,) = compared.differences  # its ratio, a to b, is 0.6
    assert of_report(result_document(analysis)) == {("spread", pair.a, pair.b)}
    turned = dataclasses.replace(pair, a=pair.b, b=pair.a)
    other = dataclasses.replace(analysis, comparison=dataclasses.replace(compared, differences=(turned,)))
    assert of_report(result_document(other)) == {("spread", pair.b, pair.a)}


def test_what_is_not_told_apart_says_nothing_and_no_comparison_is_none() -> None:
    analysis = fuller(make_analysis())
    compared = analysis.comparison
    assert compared is not None
    alike = tuple(dataclasses.replace(pair, told_apart=False) for pair in compared.differences)
    same = dataclasses.replace(analysis, comparison=dataclasses.replace(compared, differences=alike))
    assert of_report(result_document(same)) == frozenset()
    assert of_report({"comparison": None}) is None


def test_pairs_of_a_route_say_it_where_nothing_was_compared_over_all() -> None:
    route = result_document(make_analysis())["routes"][0]
    told = [pair for pair in route["pairs"] if pair["told_apart"]]
    assert len(of_pairs(route)) == len(told)
    for figure, better, worse in of_pairs(route):
        assert figure == "spread"
        assert better != worse
