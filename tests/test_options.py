"""Options: defaults that are allowed, limits that hold, texts that name value and limit."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError, fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackspread import options as module
from trackspread.errors import BadOption, TrackspreadError
from trackspread.options import Options

RANGES = module._RANGES
NUMBERS = [f.name for f in fields(Options) if isinstance(f.default, float) or (type(f.default) is int)]


def test_every_number_has_its_range_and_the_defaults_lie_inside() -> None:
    assert set(NUMBERS) == set(RANGES)
    for name in NUMBERS:
        low, high = RANGES[name]
        assert low <= getattr(Options(), name) <= high


@pytest.mark.parametrize("name", NUMBERS)
def test_both_ends_of_a_range_are_in_and_what_is_beyond_is_out(name: str) -> None:
    low, high = RANGES[name]
    # what else must give way for one option to stand at its limit
    room = {
        "segment_m": {"station_step_m": 1.0},
        "station_step_m": {"segment_m": 1000.0},
        "steady_m": {"torn_m": 1000.0},
        "torn_m": {"steady_m": 0.01},
        "steady_share": {"torn_share": 1.0},
        "torn_share": {"steady_share": 0.0},
        "stretch_enter": {"stretch_leave": 0.5},
        "stretch_leave": {"stretch_enter": 20.0},
    }.get(name, {})
    for value in (low, high):
        assert getattr(Options(**{**room, name: value}), name) == value
    for value in (low - 1e-3, high + 1, math.nan, math.inf, -math.inf, "7"):
        with pytest.raises(BadOption, match=rf"^{name}: from {low:g} to .* is allowed \(found"):
            Options(**{**room, name: value})


@pytest.mark.parametrize(
    ("wrong", "text"),
    [
        ({"grid": "mercator"}, "grid: 'local' or 'utm' is allowed (found 'mercator')"),
        ({"torn_m": 2.0}, "torn_m: at least steady_m, 3, is needed (found 2)"),
        ({"stretch_leave": 4.5}, "stretch_leave: at most stretch_enter, 3, is allowed (found 4.5)"),
        (
            {"segment_m": 19.0, "station_step_m": 10.0},
            "segment_m: at least two stations, 20 m, are needed (found 19)",
        ),
        ({"confidence": 95}, "confidence: from 0.5 to 0.999 is allowed (found 95)"),
    ],
)
def test_the_text_names_the_option_the_limit_and_what_was_found(wrong: dict[str, object], text: str) -> None:
    with pytest.raises(BadOption) as told:
        Options(**wrong)
    assert str(told.value) == text
    assert isinstance(told.value, TrackspreadError)


def test_equal_thresholds_are_allowed() -> None:
    assert Options(steady_m=4.0, torn_m=4.0).torn_m == 4.0
    assert Options(stretch_enter=2.0, stretch_leave=2.0).stretch_leave == 2.0
    assert Options(segment_m=20.0, station_step_m=10.0).segment_m == 20.0
    assert Options(grid="utm").grid == "utm"


def test_options_are_frozen_and_told_in_order() -> None:
    options = Options(min_traces=4)
    with pytest.raises(FrozenInstanceError):
        options.min_traces = 5  # type: ignore[misc]
    told = options.as_dict()
    assert list(told) == [f.name for f in fields(Options)]
    assert told["min_traces"] == 4
    assert Options(**told) == options


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    st.sampled_from(NUMBERS),
    st.one_of(st.floats(), st.integers(), st.text(max_size=3), st.none(), st.booleans()),
)
def test_whatever_is_given_it_is_an_option_or_an_error_of_ours(name: str, value: object) -> None:
    low, high = RANGES[name]
    try:
        made = Options(**{name: value})
    except BadOption:
        return
    assert low <= getattr(made, name) <= high
