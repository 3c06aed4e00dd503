"""Places in documents: RFC 7946 wants longitudes within ±180 and boxes that may cross the antimeridian."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.results.schema.kinds import Check
from trackspread.results.schema.positions import Bounds, Position, wrapped_lon_deg

CHECK = Check(refuse=lambda place, value, rule: ValueError(f"{place}: {rule}"))


def test_longitudes_are_wrapped() -> None:
    found = wrapped_lon_deg(np.array([-180.0, 180.0, 181.5, -540.0, 0.0]))
    assert found.tolist() == [-180.0, -180.0, -178.5, -180.0, 0.0]


@pytest.mark.parametrize(
    ("value", "good"), [([180, -90], True), ([180.1, 0], False), ([0, 90.5], False), ([0], False)]
)
def test_a_position_lies_on_the_earth(value: list[float], good: bool) -> None:
    assert Position().fits(value, CHECK) == good


def test_a_box_across_the_antimeridian_has_its_west_east_of_its_east() -> None:
    """RFC 7946, section 5.2."""
    west, south, east, north = Bounds().written((179.5, -1.0, 180.5, 1.0), full=False)
    assert (west, south, east, north) == (179.5, -1.0, -179.5, 1.0)
    Bounds().check([west, south, east, north], "bounds", CHECK)
    with pytest.raises(ValueError, match="bounds"):
        Bounds().check([0.0, 0.0, 0.0], "bounds", CHECK)
