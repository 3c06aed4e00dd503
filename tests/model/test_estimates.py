"""Estimates format themselves: value and interval, a question mark for what is unknown."""

from __future__ import annotations

import math

import pytest

from trackspread.model import Estimate, MedianEstimate

NAN = math.nan


@pytest.mark.parametrize(
    ("figure", "shown"),
    [
        (Estimate(value=3.04, low=2.41, high=4.0), "3.0 (2.4–4.0)"),
        (Estimate(value=3.04), "3.0"),
        (Estimate(), "?"),
        (Estimate(value=3.04, low=2.41), "3.0 (2.4–?)"),
        (MedianEstimate(median=11.0, low=8.0, high=17.0, n=6), "11.0 (8.0–17.0)"),
        (MedianEstimate(median=11.0, high=math.inf), "11.0"),
    ],
)
def test_a_figure_is_shown_with_its_interval(figure: Estimate | MedianEstimate, shown: str) -> None:
    assert f"{figure:.1f}" == shown


def test_without_a_format_three_digits_are_shown() -> None:
    assert f"{Estimate(value=1234.5678, low=1000.04, high=NAN)}" == "1.23e+03 (1e+03–?)"
