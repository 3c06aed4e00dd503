"""The chart of a plan: what each number of rides is worth, as SVG."""

from __future__ import annotations

import io
from typing import Any

from trackspread.errors import printable
from trackspread.planning.table import RidePlan
from trackspread.report.drawing import Figure, FixedLocator, FuncFormatter, NullLocator, drawing
from trackspread.report.style import COLOURS

MOST_RATIO = 5.0  # upper end of the axis


def plan_chart(plan: RidePlan) -> bytes:
    """Return the SVG: how well the spread is known, and which ratio is seen, by number of rides.

    Parameters
    ----------
    plan : RidePlan
        With one row at least.

    Returns
    -------
    bytes
        UTF-8; the same plan gives the same bytes.
    """
    settings: Any = {"svg.hashsalt": "trackspread", "svg.fonttype": "none", "text.parse_math": False}
    with drawing(settings):
        figure = Figure(figsize=(9.0, 3.8), layout="constrained")
        left, right = figure.subplots(1, 2)
        rides = [row.rides for row in plan.rows]
        ink = COLOURS["accent"][0]
        left.plot(rides, [100.0 * row.within for row in plan.rows], color=ink, marker="o", markersize=3)
        left.axhline(100.0 * plan.within, color=COLOURS["muted"][0], linewidth=1, linestyle="--")
        _finish(left, rides, "spread known to, ± per cent", 0.0)
        for name, words, dash in (
            ("ratio_together", "ridden together", "-"),
            ("ratio_apart", "on different rides", ":"),
        ):
            shown = [(row.rides, getattr(row, name)) for row in plan.rows]
            shown = [(n, ratio) for n, ratio in shown if ratio <= MOST_RATIO]
            right.plot(*zip(*shown, strict=True) if shown else ((), ()), dash, color=ink, label=words)
        right.axhline(plan.ratio, color=COLOURS["muted"][0], linewidth=1, linestyle="--")
        _finish(right, rides, f"smallest ratio told apart ({plan.power:.0%} power)", 1.0)
        right.legend(frameon=False)
        figure.suptitle(printable(plan.title, 90), x=0.01, ha="left")
        buffer = io.BytesIO()
        nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
        figure.savefig(buffer, format="svg", metadata=nothing)
    return buffer.getvalue()


def _finish(axes: Any, rides: list[int], label: str, lowest: float) -> None:
    axes.set_xscale("log")
    ticks = [n for n in (2, 3, 5, 10, 20, 50, 100, 200, 500) if rides[0] <= n <= rides[-1]]
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.set_xlabel("rides")
    axes.set_ylabel(label)
    axes.set_ylim(bottom=lowest)
    axes.spines[["top", "right"]].set_visible(False)
