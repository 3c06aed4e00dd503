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
    from matplotlib.font_manager import findfont, fontManager, get_font
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
    "fonts_for",
    "letters_in_no_font",
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


def fonts_for(text: str, family: str) -> list[str]:
    """Return a font, and behind it those of this machine that have letters of the text which it lacks.

    Parameters
    ----------
    text : str
    family : str
        Name of the font.

    Returns
    -------
    list of str
        Names of fonts; the font alone for every text that it has all letters of.
    """
    return [family, *_others(_lacked(text, family))[0]]


def letters_in_no_font(text: str, family: str) -> str:
    """Return the letters that become boxes: neither the font nor any other of this machine has them.

    Parameters
    ----------
    text : str
    family : str
        Name of the font that is tried first.

    Returns
    -------
    str
        Each once, in order of their numbers; "" where there is none.
    """
    return "".join(map(chr, sorted(_others(_lacked(text, family))[1])))


def _lacked(text: str, family: str) -> frozenset[int]:
    return frozenset(map(ord, drawable(text, family))) - _letters_of(family)


@cache
def _others(letters: frozenset[int]) -> tuple[tuple[str, ...], frozenset[int]]:
    """Return fonts that have some of the letters, in the order of the alphabet, and the letters of none."""
    found: list[str] = []
    for font in sorted(fontManager.ttflist, key=lambda font: (font.name, font.fname)):
        if not letters:
            break
        if font.name.startswith("Last Resort"):  # has every letter, each drawn as a box (Unicode, Inc.)
            continue
        try:
            known = letters & get_font(font.fname).get_charmap().keys()
        except (OSError, RuntimeError):  # a font that cannot be read is none
            continue
        if known:
            found.append(font.name)
            letters -= known
    return tuple(found), letters


def new_axes() -> Axes:
    """Return the axes of a new figure that a notebook shows by itself.

    Returns
    -------
    Axes
    """
    from matplotlib import pyplot

    return pyplot.subplots(layout="constrained")[1]
