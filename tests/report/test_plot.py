"""A route as a picture for notebooks."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
import pytest

from records import make_analysis

mpl.use("agg")


def test_the_line_drawn_is_the_spread() -> None:
    from matplotlib import pyplot

    route = make_analysis(routes=1, traces=4).routes[0]
    axes = route.plot()
    drawn = axes.lines[0].get_xydata()
    assert np.array_equal(drawn[:, 0], route.station_m)
    assert np.array_equal(drawn[:, 1], route.station_spread_m, equal_nan=True)
    pyplot.close("all")


def test_offsets_have_one_name_a_watch_and_take_given_axes() -> None:
    from matplotlib.figure import Figure

    route = make_analysis(routes=1, traces=4).routes[0]
    axes = Figure().subplots()
    assert route.plot("offsets", axes=axes) is axes
    names = [text.get_text() for text in axes.get_legend().get_texts()]
    assert sorted(names) == sorted({trace.receiver for trace in route.traces})


def test_an_unknown_picture_names_those_there_are() -> None:
    with pytest.raises(ValueError, match="the pictures are spread, offsets"):
        make_analysis(routes=1, traces=2).routes[0].plot("nothing")
