"""Offsets as lines, or of many traces as a band and what strays."""

from __future__ import annotations

import numpy as np
import pytest

from records import make_analysis
from trackspread.report.axes import Axes
from trackspread.report.offset_lines import draw_traces
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
