"""One row of the chart of fixes: a ring for the first fix, a disc for the settled one, an arrow for never."""

from __future__ import annotations

import numpy as np

from trackspread import model as m
from trackspread.report.axes import Axes


def fix_row(axes: Axes, row: int, trace: m.TraceResult, colour: str, reach: float) -> None:
    """Draw the fixes of a trace in its row; ``reach`` is the end of the scale, seconds."""
    first, settled = trace.first_fix.value_s, trace.settled_fix.value_s
    level = np.array([row, row], dtype=float)
    if np.isfinite(first) and np.isfinite(settled):
        axes.line(np.array([first, settled]), level, colour, 2.0, 0.5)
    if np.isfinite(first):
        axes.disc(first, row, "panel", 5.5, colour, 1.8)
    if np.isfinite(settled):
        axes.disc(settled, row, colour, 3.3)
    if trace.settled_fix.censored and np.isfinite(first):
        axes.line(np.array([first + 0.02 * reach, 0.985 * reach]), level, colour, 2.0, dash="1 2")
        axes.arrow(0.985 * reach, row, colour)
    if not np.isfinite(first):
        words = "first fix unknown" if np.isfinite(settled) else "unknown"
        axes.words(words, settled if np.isfinite(settled) else 0.0, row, "muted", (9, 4))
