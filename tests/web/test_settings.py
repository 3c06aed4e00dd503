"""What the page asks for is taken as it is meant, or refused: never taken for something else."""

from __future__ import annotations

import pytest

from trackspread.errors import BadOption
from trackspread.options import Options
from trackspread.web.outcome import Wanted
from trackspread.web.settings import offered, wanted


def test_nothing_said_means_the_defaults():
    assert wanted({}) == Wanted(options=Options(), publish=False, hide_dates=False, film=False)


def test_what_the_page_sends_is_taken():
    values = {field["name"]: field["value"] for field in offered()}
    found = wanted({**values, "segment_m": 50, "publish": True, "hide_dates": True, "film": True})
    assert found == Wanted(options=Options(segment_m=50), publish=True, hide_dates=True, film=True)


@pytest.mark.parametrize("name", ["publish", "hide_dates", "film", "laps"])
@pytest.mark.parametrize("value", ["yes", 1, None, [True], "true"])
def test_a_tick_is_yes_or_no(name, value):
    """A wish to cut that was not understood must not become a private result."""
    with pytest.raises(BadOption, match=f"{name}: yes or no is needed"):
        wanted({name: value})


@pytest.mark.parametrize(
    "values", [{"seed": 1}, {"keep": True}, {"steady_m": "3"}, {"segment_m": None}, {"min_traces": 2.5}]
)
def test_what_is_not_offered_or_of_another_kind_is_refused(values):
    with pytest.raises(BadOption, match=next(iter(values))):
        wanted(values)
