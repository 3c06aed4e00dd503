"""The types of arrays, and the words that records may hold."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

Verdict = Literal["steady", "wavering", "torn", "thin"]
Cause = Literal["line", "receiver", "settling", "after a gap", "unknown"]
Side = Literal["left", "right"]
FixSource = Literal["declared", "timer", "file", "none"]


def first_known(values: Floats) -> float:
    """Return the first value that is not NaN; NaN where there is none.

    Examples
    --------
    >>> first_known(np.array([np.nan, 4.0, 5.0]))
    4.0
    """
    known = values[np.isfinite(values)]
    return float(known[0]) if len(known) else float("nan")
