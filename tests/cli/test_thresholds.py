"""Thresholds as flags: what is refused is told by the flag, not by the name in the code."""

from __future__ import annotations

import click
import pytest

from trackspread.cli.thresholds import FiniteRange, options_of
from trackspread.errors import BadOption


def test_a_value_out_of_range_is_told_by_its_flag() -> None:
    with pytest.raises(BadOption) as told:
        options_of({"torn_m": 2.0})
    assert str(told.value).startswith("--torn")
    assert "--steady" in str(told.value)
    assert "torn_m" not in str(told.value)


def test_what_is_given_is_taken_and_what_is_not_a_threshold_is_left() -> None:
    options = options_of({"segment_m": 50.0, "quiet": True})
    assert (options.segment_m, options.steady_m) == (50.0, 3.0)


@pytest.mark.parametrize("text", ["nan", "inf", "-inf"])
def test_numbers_that_are_none_lie_in_no_range(text: str) -> None:
    with pytest.raises(click.BadParameter):
        FiniteRange(0.0).convert(text, None, None)
