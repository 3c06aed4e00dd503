"""The picture of a ranking: one scale for all, and an arrow where an interval goes beyond it."""

from __future__ import annotations

import pytest

from trackspread.compare.picture import drawn, scale_end
from trackspread.compare.standings import Standing
from trackspread.model import Estimate, MedianEstimate


def row(value: float, low: float, high: float) -> Standing:
    spread, none = Estimate(value=value, low=low, high=high), MedianEstimate()
    return Standing(
        receiver="sedge", analysis="May", route="Outward", rides=4, spread=spread, first_fix=none, settled_fix=none,
        stretch_share=none, restricted=False,
    )  # fmt: skip


@pytest.mark.parametrize(("high", "end"), [(0.9, 1.0), (1.7, 2.0), (4.1, 5.0), (7.3, 10.0), (13.0, 20.0)])
def test_the_scale_ends_at_one_two_or_five_times_a_power_of_ten(high: float, end: float) -> None:
    assert scale_end([row(0.8 * high, 0.5 * high, high)]) == pytest.approx(end)


def test_an_end_beyond_the_scale_is_an_arrow_and_the_text_says_how_far() -> None:
    inside, beyond = drawn(row(2.0, 1.5, 3.0), 5.0), drawn(row(2.0, 1.5, 30.0), 5.0)
    assert "<path" not in inside
    assert "<path" in beyond
    assert "sedge, May: 2.0 m (1.5 to 30.0 m)" in beyond
