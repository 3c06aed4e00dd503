"""The verdict of a segment, from its traces, its spread and who leaves the others there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackspread.model import Estimate, Verdict
from trackspread.options import Options

TORN_SHARE = 0.25
"""A stretch tears a segment when it takes up this share of it."""


def verdict_of(
    traces: int, spread: Estimate, torn_by: Sequence[str], options: Options
) -> tuple[Verdict, tuple[str, ...]]:
    """Return the verdict of a segment and why: thresholds first, then stretches.

    ``torn_by`` names the traces that leave the others over at least `TORN_SHARE` of the segment.
    """
    if traces < options.min_traces or not np.isfinite(spread.value):
        return "thin", (f"{traces} traces, at least {options.min_traces} are needed",)
    reasons = [f"{name} leaves the others here" for name in dict.fromkeys(torn_by)]
    if spread.value > options.torn_m:
        reasons.append(f"spread {spread.value:.1f} m, above {options.torn_m:g} m")
    if reasons:
        return "torn", tuple(reasons)
    if spread.value > options.steady_m:
        return "wavering", (f"spread {spread.value:.1f} m, above {options.steady_m:g} m",)
    return "steady", (f"spread {spread.value:.1f} m, at most {options.steady_m:g} m",)
