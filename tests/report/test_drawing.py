"""Drawing leaves no setting behind, and takes letters that the font lacks."""

from __future__ import annotations

import warnings

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from trackspread.report.drawing import drawable, drawing


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


def test_signs_that_the_font_lacks_are_left_out_and_letters_never() -> None:
    """U+231A and U+FE0F are emoji and variation selector (UTS 51); Arabic and CJK letters are no signs."""
    assert drawable("\u231a\ufe0f Alpine", "DejaVu Sans") == "Alpine"
    assert drawable("ساعة 表 №7 °", "DejaVu Sans") == "ساعة 表 №7 °"
    assert drawable("\u231a", "DejaVu Sans") == "\u231a", "a name does not vanish"
