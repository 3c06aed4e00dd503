"""Lines with even stations."""

from __future__ import annotations

import numpy as np
import pytest

from polylines import along, bundle_of
from trackspread.geometry.consensus.lines import NoLine, half_of, line_through
from trackspread.results.words.reasons import said


@pytest.mark.parametrize(
    ("length_m", "words"),
    [(20.0, ""), (500_000.0, ""), (19.9, "it and the traces near it have no common line"),
     (500_001.0, "its route has over 100000 stations, 5 m apart; choose a larger step")],
)  # fmt: skip
def test_a_line_has_five_stations_to_a_hundred_thousand(length_m: float, words: str) -> None:
    ends = np.array([0.0, length_m]), np.zeros(2)
    if not words:
        assert len(line_through(*ends, 5.0).x) == round(length_m / 5.0) + 1
    else:
        with pytest.raises(NoLine) as refused:
            line_through(*ends, 5.0)
        assert said(refused.value.reason) == words


def test_half_of_the_traces_are_two_at_least() -> None:
    way = along([(0, 0), (100, 0)], 5.0)
    assert [half_of(bundle_of([way] * traces)) for traces in (1, 2, 3, 4, 5)] == [2, 2, 2, 2, 3]
