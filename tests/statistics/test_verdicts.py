"""The verdict of a segment, at its thresholds and just beyond them."""

from __future__ import annotations

import pytest

from trackspread.model import Estimate
from trackspread.options import Options
from trackspread.statistics.verdicts import verdict_of

LIMITS = Options(steady_m=3.0, torn_m=6.0, min_traces=3)


def spread(value: float) -> Estimate:
    return Estimate(value=value, low=value / 2, high=2 * value)


@pytest.mark.parametrize(
    ("value", "verdict", "why"),
    [
        (2.0, "steady", "spread 2.0 m, at most 3 m"),
        (3.0, "steady", "spread 3.0 m, at most 3 m"),
        (3.06, "wavering", "spread 3.1 m, above 3 m"),
        (6.0, "wavering", "spread 6.0 m, above 3 m"),
        (6.06, "torn", "spread 6.1 m, above 6 m"),
    ],
)
def test_a_spread_counts_up_to_its_threshold_and_with_it(value: float, verdict: str, why: str) -> None:
    assert verdict_of(3, spread(value), (), LIMITS) == (verdict, (why,))


def test_too_few_traces_or_no_spread_are_thin_whatever_else_is_there() -> None:
    assert verdict_of(2, spread(9.0), ("a.gpx",), LIMITS) == ("thin", ("2 traces, at least 3 are needed",))
    assert verdict_of(4, Estimate(reason="none"), (), LIMITS)[0] == "thin"
    assert verdict_of(2, spread(1.0), (), Options(min_traces=2))[0] == "steady"


def test_a_trace_that_leaves_the_others_is_named_once_and_tears_from_a_tenth_of_them_on() -> None:
    leaves = "a.gpx leaves the others here"
    assert verdict_of(10, spread(1.0), ("a.gpx", "a.gpx"), LIMITS) == ("torn", (leaves,))
    assert verdict_of(11, spread(1.0), ("a.gpx", "a.gpx"), LIMITS) == ("wavering", (leaves,))
    assert verdict_of(11, spread(4.0), ("a.gpx",), LIMITS) == ("wavering", (leaves,))
    both = (leaves, "b.gpx leaves the others here")
    assert verdict_of(20, spread(1.0), ("a.gpx", "b.gpx"), LIMITS) == ("torn", both)
    assert verdict_of(40, spread(7.0), ("a.gpx",), LIMITS) == ("torn", (leaves, "spread 7.0 m, above 6 m"))
