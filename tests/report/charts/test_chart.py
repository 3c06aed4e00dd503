"""A chart comes in two sizes, and what stands under it keeps to its plotted area."""

from __future__ import annotations

import base64
import re

import pytest

from trackspread.report.charts.chart import NARROW, SIDES_PX, WIDE, drawn, figure_of, plot_sides


def _chart(**more):
    sizes = []
    made = drawn("fixes", "Fixes", "no fix", lambda axes, narrow: sizes.append((axes.size, narrow)), **more)
    assert [narrow for _, narrow in sizes] == [False, True]
    return made, [size for size, _ in sizes]


def test_a_chart_is_drawn_in_both_sizes():
    made, sizes = _chart(along=True)
    assert sizes == [WIDE, NARROW] == [made.wide_size, made.narrow_size]
    for (width, _), shares in zip(sizes, made.sides, strict=True):
        assert [share * width for share in shares] == pytest.approx(SIDES_PX[width])


def test_names_on_the_left_have_the_room_that_they_ask_for_and_less_on_a_phone():
    made, sizes = _chart(along=False, height=400, left_px=170)
    assert [height for _, height in sizes] == [400, 400]
    assert [share[0] * size[0] for share, size in zip(made.sides, sizes, strict=True)] == pytest.approx(
        [170, 132]
    )


def test_the_page_gets_the_picture_itself():
    made, _ = _chart(along=True)
    shown = figure_of(made)
    kind, _, data = shown["wide"].partition(",")
    assert kind == "data:image/svg+xml;base64"
    assert base64.b64decode(data) == made.wide
    assert shown["about"]
    assert not shown["reach"]


def test_the_plotted_area_in_the_style_sheet_is_that_of_the_charts():
    found = re.findall(r"--plot-left:([\d.]+)%;--plot-width:([\d.]+)%", plot_sides())
    for (left, width), (whole, _) in zip(found, (WIDE, NARROW), strict=True):
        assert float(left) / 100 * whole == pytest.approx(SIDES_PX[whole][0], abs=0.01)
        assert float(width) / 100 * whole == pytest.approx(whole - sum(SIDES_PX[whole]), abs=0.01)
