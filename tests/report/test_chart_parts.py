"""A line of many points is drawn by what can be seen of it."""

from __future__ import annotations

import numpy as np

from trackspread.report.chart_parts import seen


def test_every_column_keeps_its_lowest_and_its_highest_point() -> None:
    x = np.linspace(0.0, 1000.0, 20_001)
    y = np.sin(x) + 0.001 * x
    few_x, few_y = seen(x, y, 100)
    assert len(few_x) <= 2 * 100 + 201  # the rest that fills no column stays
    assert (few_y.min(), few_y.max()) == (y.min(), y.max())
    assert (np.diff(few_x) >= 0).all()


def test_a_short_line_stays_as_it_is() -> None:
    x, y = np.arange(5.0), np.array([1.0, 3.0, 2.0, 5.0, 4.0])
    assert np.array_equal(seen(x, y, 400)[1], y)
