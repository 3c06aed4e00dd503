"""One row of the chart of fixes: a ring for the first fix, a disc for the settled one, an arrow for never."""

from __future__ import annotations

import numpy as np

from trackspread import model as m
from trackspread.report import style
from trackspread.report.drawing import Axes


def fix_row(axes: Axes, row: int, trace: m.TraceResult, colour: str, reach: float) -> None:
    """Draw the fixes of a trace in its row; ``reach`` is the end of the scale, seconds."""
    first, settled = trace.first_fix.value_s, trace.settled_fix.value_s
    if np.isfinite(first) and np.isfinite(settled):
        axes.plot([first, settled], [row, row], color=colour, linewidth=2, alpha=0.5)
    if np.isfinite(first):
        axes.plot(
            [first],
            [row],
            "o",
            color=style.COLOURS["panel"][0],
            markeredgecolor=colour,
            markeredgewidth=1.8,
            markersize=11,
        )
    if np.isfinite(settled):
        axes.plot([settled], [row], "o", color=colour, markersize=6.5)
    if trace.settled_fix.censored and np.isfinite(first):
        axes.plot(
            [first + 0.02 * reach, 0.985 * reach],
            [row, row],
            color=colour,
            linewidth=2,
            linestyle=(0, (1, 2)),
        )
        axes.plot([0.985 * reach], [row], ">", color=colour, markersize=8)
    if not np.isfinite(first):
        words = "first fix unknown" if np.isfinite(settled) else "unknown"
        axes.annotate(
            words, (settled if np.isfinite(settled) else 0, row), xytext=(9, 0), textcoords="offset points",
            va="center", color=style.COLOURS["muted"][0], fontsize=10,
        )  # fmt: skip
