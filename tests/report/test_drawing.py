"""Drawing leaves no setting behind, and takes letters that the font lacks."""

from __future__ import annotations

import warnings

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from trackspread.report.drawing import drawable, drawing, fonts_for, letters_in_no_font


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


def test_letters_that_the_font_lacks_are_drawn_by_another() -> None:
    """The font for displayed equations, part of matplotlib, has no Latin letters; DejaVu Sans has."""
    assert fonts_for("Alpine", "DejaVu Sans") == ["DejaVu Sans"]
    first, *others = fonts_for("Alpine", "DejaVu Sans Display")
    assert first == "DejaVu Sans Display"
    assert others
    assert letters_in_no_font("Alpine", "DejaVu Sans Display") == ""
    assert letters_in_no_font("A\U00012000", "DejaVu Sans") in ("", "\U00012000"), "cuneiform: seldom there"
