"""The ground of charts: ticks against the locator of a plotting library, lines against what was given."""

import re

import numpy as np
import pytest
from defusedxml import ElementTree
from matplotlib.ticker import MaxNLocator

from trackspread.report.charts.axes import FINEST_PX, STEPS_X, STEPS_Y, Axes, _ticks


@pytest.mark.parametrize(("most", "steps"), [(9, STEPS_X), (4, STEPS_X), (7, STEPS_Y)])
def test_ticks_are_those_of_matplotlib(most, steps):
    random = np.random.default_rng(most)
    for _ in range(200):
        low = float(random.choice([0.0, random.normal(0, 50)]))
        high = low + float(10 ** random.uniform(-1, 5))
        seen = np.array(MaxNLocator(most, steps=list(steps)).tick_values(low, high))
        slack = 1e-9 * (high - low)
        seen = seen[(seen >= low - slack) & (seen <= high + slack)]
        values, words = _ticks(low, high, most, steps)
        np.testing.assert_allclose(values, seen, atol=slack)
        told = [float(word.replace("−", "-")) for word in words]
        np.testing.assert_allclose(told, values, atol=1e-6 * (high - low))


def drawn(axes):
    root = ElementTree.fromstring(axes.svg(), forbid_dtd=False)
    group = root.find("{http://www.w3.org/2000/svg}g")
    return [element.get("d") for element in group]


def test_a_line_is_where_it_was_given_and_broken_where_nothing_is_known():
    axes = Axes(size=(960, 280), sides=(56.0, 14.0), most_ticks=9, x=(0.0, 4.0), y=(-10.0, 10.0))
    x = np.linspace(0.0, 4.0, 2001)
    y = 8 * np.sin(x)
    y[900:1000] = np.nan
    axes.line(x, y, "accent", 1.0)
    parts = [
        np.array(re.findall(r"([\d.-]+) ([\d.-]+)", part), dtype=float)
        for part in drawn(axes)[0].split("M")[1:]
    ]
    assert len(parts) == 2
    assert sum(map(len, parts)) < 200
    for part, there in zip(parts, (slice(0, 900), slice(1000, 2001)), strict=True):
        px = 56.0 + x[there] / 4.0 * 890.0
        py = 12.0 + (10.0 - y[there]) / 20.0 * 226.0
        np.testing.assert_allclose(np.interp(px, *part.T), py, atol=2 * FINEST_PX + 0.1)


def test_a_band_has_the_area_between_its_edges():
    axes = Axes(size=(960, 280), sides=(56.0, 14.0), most_ticks=9, x=(0.0, 1.0), y=(0.0, 10.0))
    axes.band(np.array([0.0, 0.5, 1.0]), np.array([1.0, 2.0, 1.0]), np.array([3.0, 6.0, 3.0]), "accent", 0.2)
    at = np.array(re.findall(r"([\d.]+) ([\d.]+)", drawn(axes)[0]), dtype=float)
    area = 0.5 * abs(np.dot(at[:, 0], np.roll(at[:, 1], 1)) - np.dot(at[:, 1], np.roll(at[:, 0], 1)))
    assert area == pytest.approx(3.0 / 10.0 * 226.0 * 890.0, rel=0.01)  # mean height 3 of 10


def test_words_are_no_markup():
    axes = Axes(size=(360, 100), sides=(48.0, 8.0), most_ticks=4, rows=["<b>&amp;", "]]>"])
    axes.words("<script>&", 0.5, 0.5, "muted", (0, 0))
    texts = [element.text for element in ElementTree.fromstring(axes.svg(), forbid_dtd=False).iter()]
    assert {"<b>&amp;", "]]>", "<script>&"} <= set(texts)
