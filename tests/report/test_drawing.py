"""Drawing leaves no setting behind, and takes letters that the font lacks."""

from __future__ import annotations

import warnings

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from trackspread.report.drawing import drawing


def test_settings_hold_inside_and_not_afterwards() -> None:
    before = mpl.rcParams["font.size"]
    with drawing({"font.size": 33.0}):
        assert mpl.rcParams["font.size"] == 33.0
    assert mpl.rcParams["font.size"] == before


def test_letters_that_the_font_lacks_are_no_warning() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with drawing({}):
            figure = Figure()
            figure.text(0.5, 0.5, "🚲")
            FigureCanvasAgg(figure).draw()
