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
