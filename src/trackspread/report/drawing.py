"""All that is taken from matplotlib, an optional library: its objects, and settings that hold while it draws.

Without it this module cannot be loaded, and says what to install.
"""

from __future__ import annotations

import unicodedata
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from threading import RLock
from typing import Any

from trackspread.errors import BadOption
from trackspread.system.extras import how_to_get

try:
    from matplotlib import rc_context
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.collections import LineCollection
    from matplotlib.figure import Figure
    from matplotlib.font_manager import findfont, get_font
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle
    from matplotlib.patheffects import AbstractPathEffect, withStroke
    from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator
    from matplotlib.transforms import Affine2D
except ImportError as error:
    raise BadOption(
        "stills and pictures", f"one more library is needed; {how_to_get('matplotlib')}"
    ) from error

__all__ = [
    "AbstractPathEffect",
    "Affine2D",
    "Axes",
    "Figure",
    "FigureCanvasAgg",
    "FixedLocator",
    "FuncFormatter",
    "Line2D",
    "LineCollection",
    "MaxNLocator",
    "NullLocator",
    "Rectangle",
    "drawable",
    "drawing",
    "new_axes",
    "withStroke",
]

SIGNS = frozenset({"So", "Sk", "Mn", "Cf"})
"""Unicode's categories of symbols, and of marks that change the sign before them (UAX 44, table 12)."""
SELECTORS = range(0xFE00, 0xFE10)
"""Variation selectors: how the sign before is drawn (UAX 44)."""
_ONE_AT_A_TIME = RLock()
"""Settings and warnings are one for all threads."""


@contextmanager
def drawing(settings: Mapping[str, Any]) -> Iterator[None]:
    """Let settings of matplotlib hold for a while.

    Names may have letters that the font lacks: they become boxes, without a warning.

    Parameters
    ----------
    settings : mapping
        Names and values of matplotlib's ``rcParams``.
    """
    wanted: Any = dict(settings)
    with _ONE_AT_A_TIME, warnings.catch_warnings(), rc_context(wanted):
        warnings.filterwarnings("ignore", "Glyph .* missing", UserWarning)
        yield


def drawable(text: str, family: str) -> str:
    """Return a text without the signs, such as emoji, that a font lacks; a text of nothing else stays.

    Parameters
    ----------
    text : str
    family : str
        Name of the font.

    Returns
    -------
    str
    """
    known = _letters_of(family)
    lacked = {c for c in text if ord(c) not in known and unicodedata.category(c) in SIGNS}
    lacked |= set(map(chr, SELECTORS)) if lacked else set()
    kept = "".join(c for c in text if c not in lacked)
    return " ".join(kept.split()) or text


@cache
def _letters_of(family: str) -> frozenset[int]:
    return frozenset(get_font(findfont(family)).get_charmap())


def new_axes() -> Axes:
    """Return the axes of a new figure that a notebook shows by itself.

    Returns
    -------
    Axes
    """
    from matplotlib import pyplot

    return pyplot.subplots(layout="constrained")[1]
