"""Offsets as lines, or of many traces as a band and what strays."""

from __future__ import annotations

import numpy as np
import pytest

from records import make_analysis
from trackspread.report.charts.axes import Axes
from trackspread.report.charts.offsets import _seen, draw_traces
from trackspread.report.watches import watches_of


class Noted(Axes):
    """Axes that note what is drawn on them."""

    def __init__(self) -> None:
        self.lines: list[np.ndarray] = []
        self.bands: list[tuple[np.ndarray, np.ndarray]] = []

    def line(self, x, y, *look, **more):
        self.lines.append(np.asarray(y))

    def band(self, x, low, high, *look, **more):
        self.bands.append((np.asarray(low), np.asarray(high)))


@pytest.mark.parametrize(("traces", "banded"), [(6, False), (60, True)])
def test_many_traces_are_a_band_a_watch_and_a_line_for_what_strays(traces: int, banded: bool) -> None:
    analysis = make_analysis(routes=1, traces=traces)
    route, watches, axes = analysis.routes[0], watches_of(analysis), Noted()
    draw_traces(axes, route, watches, route.station_m, 10_000)
    strays = int(route.in_stretch.any(axis=1).sum())
    assert len(axes.bands) == (len(watches) if banded else 0)
    assert len(axes.lines) == strays + (len(watches) if banded else traces)
    for low, high in axes.bands:
        known = np.isfinite(low)
        assert (low[known] <= high[known]).all()


def test_every_column_keeps_its_lowest_and_its_highest_point() -> None:
    x = np.linspace(0.0, 1000.0, 20_001)
    y = np.sin(x) + 0.001 * x
    few_x, few_y = _seen(x, y, 100)
    assert len(few_x) <= 2 * 100 + 201  # the rest that fills no column stays
    assert (few_y.min(), few_y.max()) == (y.min(), y.max())
    assert (np.diff(few_x) >= 0).all()


def test_a_short_line_stays_as_it_is() -> None:
    x, y = np.arange(5.0), np.array([1.0, 3.0, 2.0, 5.0, 4.0])
    assert np.array_equal(_seen(x, y, 400)[1], y)
