"""Rounding against the examples of the Particle Data Group, and words of figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackspread.results.rounding import (
    alike,
    counted,
    decimals,
    kilometres,
    plain,
    rounded,
    rounded_interval,
    share,
    span,
    utc,
    with_interval,
)

NAN = math.nan


@pytest.mark.parametrize(
    ("value", "half", "wanted"),
    [(0.827, 0.119, 0.83), (0.827, 0.367, 0.8), (1234.0, 210.0, 1230.0), (1234.0, 400.0, 1200.0)],
)
def test_rounding_of_the_particle_data_group(value, half, wanted):
    assert rounded_interval(value, value - half, value + half)[0] == wanted


@given(st.floats(0.1, 500.0), st.floats(0.05, 0.95), st.floats(1.05, 40.0))
def test_a_value_is_not_rounded_onto_the_end_of_its_interval(value: float, low: float, high: float) -> None:
    """Hundredths are the most: ends that lie apart by more stay apart."""
    shown, least, most = rounded_interval(value, value * low, value * high)
    assert least < shown or value - value * low < 0.01
    assert shown < most or value * high - value < 0.01


def test_far_bound_does_not_round_the_near_one_away():
    assert rounded_interval(9.2, 2.1, 95.3) == (9.0, 2.0, 95.0)
    assert rounded_interval(4.0, 4.0, 31.2) == (4.0, 4.0, 31.0)


def test_no_interval_ends_are_invented():
    assert rounded_interval(5.0, 2.0, math.nan) == (5.0, 2.0, None)
    assert rounded_interval(math.nan, math.nan, math.nan) == (None, None, None)
    assert rounded(-0.04, 1) == 0.0
    assert math.copysign(1, rounded(-0.04, 1)) == 1


def test_words_of_figures():
    assert with_interval(2.3, 1.7, 3.9, "m") == "2.3 m (1.7 to 3.9 m)"
    assert with_interval(24.0, 19.0, None, "s") == "24 s (at least 19 s, no upper bound)"
    assert with_interval(None, None, None, "m") == "not known"
    assert kilometres(1250.0) == "1.25 km"
    assert utc(math.nan) is None
    assert utc(1e300) is None


@given(st.floats(-1e6, 1e6), st.floats(0.001, 1e5))
def test_a_rounded_value_stays_within_half_a_unit_of_what_was_kept(value: float, half: float) -> None:
    places = decimals(value - half, value + half)
    shown, _, _ = rounded_interval(value, value - half, value + half)
    assert shown is not None
    assert abs(shown - value) <= 0.5 * 10.0 ** -min(places, 2) * (1 + 1e-9) + 1e-9


@pytest.mark.parametrize("value", [NAN, math.inf, -math.inf])
def test_what_is_no_figure_has_no_digits(value: float) -> None:
    assert rounded(value) is None
    assert utc(value) is None
    assert rounded_interval(value, value, value) == (None, None, None)


def test_ends_that_are_open_are_said_in_words() -> None:
    assert with_interval(2.3, 1.7, None, "m") == "2.3 m (at least 1.7 m, no upper bound)"
    assert with_interval(2.3, None, 3.9, "m") == "2.3 m (at most 3.9 m, no lower bound)"
    assert with_interval(2.0, 1.4, 3.25, "m", "95 % interval ") == "2.00 m (95 % interval 1.40 to 3.25 m)"
    assert (
        with_interval(None, 1.0, 2.0, "m")
        == plain(None)
        == kilometres(None)
        == span(None, 3.0)
        == share(None)
    )


def test_lengths_shares_and_counts_as_read_aloud() -> None:
    assert (kilometres(999.4), kilometres(1000.0)) == ("999 m", "1 km")
    assert (share(0.704), counted(1, "watch", "watches"), counted(1200, "point")) == (
        "70 %", "1 watch", "1,200 points",
    )  # fmt: skip
    assert alike(-2.0, 1.45) == ["−2.00", "1.45"]
