"""Records of watches over all routes are frozen, and need their names."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields

import pytest

from records import fuller, make_analysis
from trackspread import model as m


def test_records_are_frozen_and_take_names_only() -> None:
    comparison = fuller(make_analysis()).comparison
    assert comparison is not None
    with pytest.raises(FrozenInstanceError):
        comparison.receivers[0].rides = 3  # type: ignore[misc]
    with pytest.raises(TypeError):
        m.Difference("a", "b")  # type: ignore[call-arg, misc]


@pytest.mark.parametrize("record", [m.Change, m.Comparison, m.Difference, m.ReceiverSummary])
def test_figures_with_a_unit_say_it_in_their_name_or_are_estimates(record: type) -> None:
    for field in fields(record):
        if field.type == "float":
            assert field.name.endswith(("_m", "_s", "_adjusted", "confidence")), field.name
