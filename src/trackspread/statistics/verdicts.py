"""The verdict of a segment, from its traces, its spread and who leaves the others there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackspread.model import Estimate, Verdict
from trackspread.options import Options

TORN_SHARE = 0.25
"""A stretch counts for a segment when it takes up this share of it."""
TORN_TRACES = 0.1
"""A segment is torn when this share of its traces leave the others there."""


def verdict_of(
    traces: int, spread: Estimate, torn_by: Sequence[str], options: Options
) -> tuple[Verdict, tuple[str, ...]]:
    """Return the verdict of a segment and why: thresholds first, then stretches.

    ``torn_by`` names the traces that leave the others over at least `TORN_SHARE` of the segment.
    """
    if traces < options.min_traces or not np.isfinite(spread.value):
        return "thin", (f"{traces} traces, at least {options.min_traces} are needed",)
    leaving = [f"{name} leaves the others here" for name in dict.fromkeys(torn_by)]
    if spread.value > options.torn_m:
        return "torn", (*leaving, f"spread {spread.value:.1f} m, above {options.torn_m:g} m")
    if leaving:
        return "torn" if len(leaving) >= TORN_TRACES * traces else "wavering", tuple(leaving)
    if spread.value > options.steady_m:
        return "wavering", (f"spread {spread.value:.1f} m, above {options.steady_m:g} m",)
    return "steady", (f"spread {spread.value:.1f} m, at most {options.steady_m:g} m",)
