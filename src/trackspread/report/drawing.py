"""All that is taken from matplotlib, an optional library: its objects, and settings that hold while it draws.

Without it this module cannot be loaded, and says what to install.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
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
    "drawing",
    "new_axes",
    "withStroke",
]

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


def new_axes() -> Axes:
    """Return the axes of a new figure that a notebook shows by itself.

    Returns
    -------
    Axes
    """
    from matplotlib import pyplot

    return pyplot.subplots(layout="constrained")[1]
