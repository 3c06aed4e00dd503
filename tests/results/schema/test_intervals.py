"""Estimates and medians in documents: every null has its reason, full figures come back."""

from __future__ import annotations

import math

import pytest

from trackspread.model import Estimate, MedianEstimate, Reason
from trackspread.results.schema.intervals import Interval, Median, Middle
from trackspread.results.schema.kinds import Check

FULL = Check(refuse=lambda place, value, rule: ValueError(f"{place}: {rule}"), full=True)
FIGURES = [
    Estimate(value=3.04, low=2.41, high=4.0),
    Estimate(value=3.04, low=2.41),
    Estimate(reason=Reason("one_ride_here")),
    Estimate(value=1.0, low=0.0, high=math.inf, reason=Reason("few_rides")),
]


@pytest.mark.parametrize("figure", FIGURES)
def test_full_figures_come_back(figure: Estimate) -> None:
    document = Interval().written(figure, full=True)
    Interval().check(document, "spread", FULL)
    assert str(Interval().read(document)) == str(figure)
    assert Interval().read(document).reason == figure.reason


@pytest.mark.parametrize("figure", FIGURES)
def test_a_null_has_its_reason_beside_it(figure: Estimate) -> None:
    document = Interval().written(figure, full=False)
    unknown = None in [document[name] for name in Interval().names()]
    assert unknown == bool(document.get("reason")) == bool(document.get("reason_code"))


def test_the_value_alone_is_rounded_as_its_interval_allows() -> None:
    assert Middle().written(Estimate(value=9.2, low=2.1, high=95.3), full=False) == 9.0


def test_a_median_of_too_few_rides_says_so() -> None:
    document = Median().written(MedianEstimate(median=5.0, n=1), full=False)
    assert (document["median"], document["low"], document["reason_code"]) == (
        5.0,
        None,
        "few_rides_for_interval",
    )
    back = Median().read(
        Median().written(MedianEstimate(median=5.5, low=3.0, high=9.0, n=4, censored=1), full=True)
    )
    assert (back.median, back.low, back.high, back.n, back.censored) == (5.5, 3.0, 9.0, 4, 1)
