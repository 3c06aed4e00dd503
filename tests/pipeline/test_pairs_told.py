"""What a route says of two receivers never contradicts what all rides say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from records import make_analysis
from trackspread.model import Comparison, Difference, Estimate, Reason, RouteResult
from trackspread.pipeline.pairs_told import pairs_told
from trackspread.results.words.reasons import said


def route(told_apart: bool) -> RouteResult:
    """A route whose first pair, a steadier by 1 m, is told apart or not."""
    first = next(r for r in make_analysis().routes if r.pairs)
    pair = first.pairs[0]
    told = (
        Reason.of("pair_apart", better="Alder", worse="Birch", rides=4, by_m=(1.0, 0.2, 1.8), confidence=0.95)
        if told_apart
        else Reason.of("pair_not_apart", a="Alder", b="Birch", rides=4)
    )
    made = replace(
        pair, a="Alder", b="Birch", told_apart=told_apart, outcome=told + Reason.of("pair_many_rides", most=200),
        difference=Estimate(value=-1.0, low=-1.8, high=-0.2),
    )  # fmt: skip
    return replace(first, pairs=(made,))


def over_all(told_apart: bool, difference_m: float, *, turned: bool = False) -> Comparison:
    a, b = ("Birch", "Alder") if turned else ("Alder", "Birch")
    value = -difference_m if turned else difference_m
    one = Difference(
        a=a, b=b, rides=8, basis="together", ratio=Estimate(value=1.0), difference=Estimate(value=value),
        told_apart=told_apart, p_adjusted=0.01 if told_apart else 0.5,
    )  # fmt: skip
    return Comparison(receivers=(), differences=(one,))


@pytest.mark.parametrize("turned", [False, True])
def test_what_both_say_stays(turned: bool) -> None:
    for told, way in ((True, -1.0), (False, -1.0)):
        before = route(told)
        (found,) = pairs_told([before], over_all(told, way, turned=turned))
        assert found.pairs[0] is before.pairs[0]


@pytest.mark.parametrize("compared", [over_all(False, -1.0), over_all(True, 1.0)])
def test_what_all_rides_do_not_bear_out_is_not_told(compared: Comparison) -> None:
    """Not told apart over all, or the other way round."""
    (found,) = pairs_told([route(True)], compared)
    assert not found.pairs[0].told_apart
    assert said(found.pairs[0].outcome) == (
        "After 4 shared rides, no detectable difference between Alder and Birch. "
        "More than 200 further shared rides would be needed to settle it."
    )


def test_what_only_all_rides_show_is_said_beside_a_route_that_does_not() -> None:
    (found,) = pairs_told([route(False)], over_all(True, -1.0, turned=True))
    assert not found.pairs[0].told_apart
    assert said(found.pairs[0].outcome) == (
        "Over all its rides Alder was more consistent than Birch; the 4 shared rides on this route alone show "
        "no detectable difference."
    )


def test_without_a_comparison_a_route_stands() -> None:
    before = route(True)
    assert pairs_told([before], None) == (before,)
